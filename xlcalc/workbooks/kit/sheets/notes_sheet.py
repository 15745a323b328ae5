"""Sheet of assumptions, cautions, sources and versions."""

from __future__ import annotations

import math
from collections.abc import Mapping

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.standards.loader import Origin, read_table
from xlcalc.workbooks.drive.notes_text import DRIVE_STUDY
from xlcalc.workbooks.kit import page

TEMPLATE_VERSION = "1"
COLUMNS = 4
WIDTHS = (30, 34, 38, 14)
CHARACTERS_PER_LINE = 122
LINE_HEIGHT = 12.5
LIMIT_TABLES = ("ieee519_current", "ieee519_even_orders", "ieee519_order_bands", "ieee519_voltage")


def build(
    sheet: Worksheet,
    texts: Mapping[str, tuple[str, ...]] | None = None,
    tables: tuple[str, ...] = LIMIT_TABLES,
) -> None:
    """Fill the sheet; `texts` holds the paragraphs by title, by default those of the drive study.

    `tables` are the tables of limits whose sources are told.
    """
    page.widths(sheet, *WIDTHS)
    page.heading(sheet, "Notes", "Read the cautions before using a result.")
    row = 4
    for title, paragraphs in (texts or DRIVE_STUDY).items():
        row = _texts(sheet, row, title, paragraphs)
    row = _sources(sheet, row, tables)
    row = _versions(sheet, row)
    page.set_up(sheet, area=names.area(1, 1, row - 1, COLUMNS), title_rows="1:2")


def _texts(sheet: Worksheet, row: int, title: str, texts: tuple[str, ...]) -> int:
    page.section(sheet, row, title, COLUMNS)
    for text in texts:
        row += 1
        page.put_text(sheet, row, 1, text, style.BODY)
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=COLUMNS)
        sheet.row_dimensions[row].height = LINE_HEIGHT * math.ceil(len(text) / CHARACTERS_PER_LINE) + 4
    return row + 2


def _sources(sheet: Worksheet, row: int, tables: tuple[str, ...]) -> int:
    page.break_before(sheet, row)
    page.section(sheet, row, "Limits: where the numbers come from", COLUMNS)
    row += 1
    page.headings(sheet, row, ("document and edition", "table or clause", "verification", "rows"))
    for (standard, edition, clause, verified, source), count in _origins(tables).items():
        row += 1
        page.put(sheet, row, 1, f"{standard}, edition {edition}", style.LABEL)
        page.put(sheet, row, 2, clause, style.HELP)
        page.put(sheet, row, 3, f"{verified}: {source}", style.HELP)
        page.put(sheet, row, 4, count, style.LABEL)
        longest = max(len(clause), len(verified) + len(source) + 2)
        sheet.row_dimensions[row].height = LINE_HEIGHT * max(1, math.ceil(longest / 40))
    return row + 2


def _origins(tables: tuple[str, ...]) -> dict[tuple[str, str, str, str, str], int]:
    counts: dict[tuple[str, str, str, str, str], int] = {}
    for table in tables:
        for line in read_table(table):
            origin = Origin.of_row(line)
            key = (origin.standard, origin.edition, origin.clause, origin.verified_text, origin.source)
            counts[key] = counts.get(key, 0) + 1
    return counts


def _versions(sheet: Worksheet, row: int) -> int:
    page.section(sheet, row, "Versions", COLUMNS)
    for text, value in (
        ("Version that calculated this book", "=HD_VERSION()"),
        ("Version of the template", TEMPLATE_VERSION),
    ):
        row += 1
        page.put(sheet, row, 1, text, style.LABEL)
        page.put(sheet, row, 2, value, style.RESULT, "General")
    return row + 1
