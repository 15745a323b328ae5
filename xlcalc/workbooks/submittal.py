"""Making a submittal: the computed workbook in, a print-ready workbook out."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import xlcalc
from xlcalc.errors import InputError
from xlcalc.files.ownership import sealed_book
from xlcalc.files.writing import check_target, write_file
from xlcalc.workbooks.submittal_pages import PAPERS, assemble
from xlcalc.workbooks.submittal_source import Source, read_source


def write_submittal(book: Path, target: Path, paper: str = "a4", proof: bool = True) -> Source:
    """Write the submittal of a computed workbook; returns what it was made from.

    Raises
    ------
    InputError
        Another ending than .xlsx, the workbook itself as target, an unknown paper, or a workbook of no
        known kind.
    WorkbookFileError
        As `read_source`, or the target cannot be written.
    """
    if target.suffix.lower() != ".xlsx":
        raise InputError("-o", str(target), "a file name that ends in .xlsx")
    if target.resolve() == book.resolve():
        raise InputError("-o", str(target), "another file than the workbook")
    if paper not in PAPERS:
        raise InputError("--paper", paper, f"one of {', '.join(PAPERS)}")
    check_target(target)
    source = read_source(book, proof)
    write_file(target, pages_of(source, paper))
    return source


def pages_of(source: Source, paper: str) -> Iterator[bytes]:
    """The file of a submittal in pieces; the same from the same workbook, but for the time of saving."""
    buffer = io.BytesIO()
    assemble(source, paper).save(buffer)
    return sealed_book(buffer.getvalue(), f"xlcalc {xlcalc.__version__} submittal")
