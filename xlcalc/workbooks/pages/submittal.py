"""Making a submittal: the computed workbook in, a print-ready workbook out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import xlcalc
from xlcalc.core.errors import InputError
from xlcalc.drawing.shapes import with_drawing
from xlcalc.files.ownership import sealed_book
from xlcalc.files.signing import signature_path, signature_text
from xlcalc.files.writing import check_target, write_files
from xlcalc.recalc.loaded import saved
from xlcalc.workbooks.pages.submittal_front import DIAGRAM, DIAGRAM_TOP
from xlcalc.workbooks.pages.submittal_pages import PAPERS, assemble
from xlcalc.workbooks.pages.submittal_source import Source, read_source

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


def write_submittal(
    book: Path,
    target: Path,
    paper: str = "a4",
    proof: bool = True,
    key: Ed25519PrivateKey | None = None,
) -> Source:
    """Write the submittal of a computed workbook, signed where a key is given; returns what it was made from.

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
    content = b"".join(pages_of(source, paper))
    files = {target: [content]}
    if key is not None:
        files[signature_path(target)] = [signature_text(content, target.name, key)]
    write_files(files)
    return source


def pages_of(source: Source, paper: str) -> Iterator[bytes]:
    """The file of a submittal in pieces; the same from the same workbook, but for the time of saving."""
    book = assemble(source, paper)
    content = saved(book)
    if source.drawing is not None:
        number = book.sheetnames.index(DIAGRAM) + 1
        content = with_drawing(content, f"xl/worksheets/sheet{number}.xml", source.drawing, DIAGRAM_TOP)
    return sealed_book(content, f"xlcalc {xlcalc.__version__} submittal")
