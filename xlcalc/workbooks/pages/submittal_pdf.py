"""The pages of a workbook as PDF, by LibreOffice with a profile of its own."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.files.ownership import BLANK_SEAL, sealed
from xlcalc.files.writing import claim, write_in_place
from xlcalc.hosts.libreoffice.programs.office import Office, find_office, run_office


def office_for_pdf() -> Office:
    """The LibreOffice of this machine.

    Raises
    ------
    InputError
        There is none.
    """
    return find_office()


def write_pdf(book: Path, target: Path, office: Office) -> None:
    """Export all visible sheets; the file appears complete or not at all.

    Raises
    ------
    InputError
        LibreOffice wrote nothing; says what it printed.
    WorkbookFileError
        The target cannot be written.
    """
    with tempfile.TemporaryDirectory() as scratch, claim(target) as held:
        folder = Path(scratch)
        own = replace(office, profile=folder / "profile")
        command = [str(own.soffice), "--headless", "--norestore", *own.arguments]
        command += ["--convert-to", "pdf", "--outdir", str(folder), str(book.resolve())]
        done = run_office(command)
        made = folder / f"{book.stem}.pdf"
        if not made.is_file():
            said = (done.stderr or done.stdout).strip() or "nothing"
            raise InputError("LibreOffice", f"without a PDF of {book.name}; it printed: {said}", "a PDF")
        write_in_place(held, sealed([made.read_bytes(), f"%xlcalc{BLANK_SEAL}".encode()]))
