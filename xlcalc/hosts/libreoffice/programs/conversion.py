"""Workbooks in other formats than .xlsx, converted by LibreOffice."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs.calculator import Calculator

FORMATS: Final = {
    ".ods": "an OpenDocument spreadsheet",
    ".xlsb": "a binary workbook",
    ".xls": "an old binary workbook",
}
"""Endings of files that can be converted, and what they are."""


@contextmanager
def as_xlsx(source: Path, calculator: Calculator | None = None) -> Iterator[Path]:
    """A copy of a workbook as .xlsx in a folder of its own, for as long as it is needed.

    Parameters
    ----------
    source : Path
        A file with one of the endings in `FORMATS`; it is only read.
    calculator : Calculator, optional
        A running LibreOffice; one is started unless given.

    Raises
    ------
    InputError
        LibreOffice is not installed or cannot open the file.
    """
    if not source.is_file():
        raise InputError("BOOK.xlsx", str(source), "a workbook that exists")
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch, f"{source.stem}.xlsx")
        try:
            if calculator is not None:
                calculator.compute(source, copy)
            else:
                with Calculator() as started:
                    started.compute(source, copy)
        except InputError as problem:
            kind = FORMATS[source.suffix.lower()]
            sentence = f"{source} is {kind}; save it as .xlsx first. It was not converted here: {problem}"
            raise InputError("BOOK.xlsx", str(source), "", message=sentence) from None
        yield copy
