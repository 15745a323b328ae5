"""Workbooks through openpyxl, with errors in a user's words."""

from __future__ import annotations

import contextlib
import io
import tempfile
from collections.abc import Iterator
from pathlib import Path

from lxml import etree
from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.xlsx.package import WorkbookPackage


@contextlib.contextmanager
def reading(path: Path) -> Iterator[None]:
    """Turn what the library raises while it reads a file into the error to raise about the file."""
    try:
        yield
    except (InputError, WorkbookFileError, MemoryError):
        raise
    except Exception as problem:
        said = " ".join(str(problem).split())[:120] or type(problem).__name__
        raise WorkbookFileError(
            path, f"a part of it holds what no spreadsheet program writes ({said}); save it anew in one"
        ) from None


def loaded(package: WorkbookPackage, *, values: bool = False, read_only: bool = False) -> Workbook:
    """A verified workbook, with its formulas or with their values.

    Raises
    ------
    WorkbookFileError
        The library cannot read it. With `read_only` rows are read later; see `reading`.
    """
    with reading(package.path):
        content = io.BytesIO(package.content)
        return load_workbook(content, data_only=values, read_only=read_only)


def saved(book: Workbook) -> bytes:
    """The file of a workbook; its sheets are written into the folder for temporary files first.

    Raises
    ------
    WorkbookFileError
        There is no room for them.
    """
    buffer = io.BytesIO()
    try:
        book.save(buffer)
    except etree.SerialisationError as problem:
        said = f"the folder for temporary files cannot be written, its disk may be full ({problem})"
        raise WorkbookFileError(tempfile.gettempdir(), said) from None
    return buffer.getvalue()
