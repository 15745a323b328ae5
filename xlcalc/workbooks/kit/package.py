"""A new workbook with what all templates have in common, and how it is saved."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.workbook.properties import CalcProperties
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.workbooks.kit.sheets import notes_sheet

HIDDEN = (
    names.REFERENCE_SHEET,
    names.CHECKS_SHEET,
    names.ARRAYS_SHEET,
    names.CASE_SETTINGS_SHEET,
    names.SPECTRA_SHEET,
)
"""Sheets that are no part of a printed study; a right click on any tab shows them."""


def framed(title: str, sheet_titles: Sequence[str]) -> tuple[Workbook, dict[str, Worksheet]]:
    """A workbook with styles, settings of the calculation and properties, and its empty sheets by title."""
    book = Workbook()
    style.register(book)
    book.remove(book.worksheets[0])
    sheets: dict[str, Worksheet] = {name: book.create_sheet(name) for name in sheet_titles}
    for sheet in sheets.values():
        sheet.sheet_format.defaultRowHeight = 15
        sheet.sheet_format.customHeight = True
    for name in HIDDEN:
        if name in sheets:
            sheets[name].sheet_state = "hidden"
    book.calculation = CalcProperties(calcId=191029, fullCalcOnLoad=False)
    book.properties.title = title
    book.properties.creator = "xlcalc"
    book.properties.version = notes_sheet.TEMPLATE_VERSION
    return book, sheets


TEMPLATE_DATE = datetime(2026, 1, 1)
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")


def save(book: Workbook, path: Path) -> None:
    """Save with fixed times of creation and change."""
    book.properties.created = TEMPLATE_DATE
    buffer = io.BytesIO()
    book.save(buffer)
    path.write_bytes(settled(buffer.getvalue()))


def settled(package: bytes) -> bytes:
    """The same members in the same order, without any trace of the time of writing."""
    stamp = TEMPLATE_DATE.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    result = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(package)) as source,
        zipfile.ZipFile(result, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        target.comment = source.comment
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>" + stamp + rb"\g<2>", content)
            member = zipfile.ZipInfo(name, TEMPLATE_DATE.timetuple()[:6])
            member.compress_type = zipfile.ZIP_DEFLATED
            member.external_attr = 0o600 << 16
            member.create_system = 0
            target.writestr(member, content)
    return result.getvalue()
