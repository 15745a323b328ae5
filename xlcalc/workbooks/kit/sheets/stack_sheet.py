"""A sheet with tables below each other, as an argument of stacked tables takes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, outside
from xlcalc.schema.kinds import Choice, Text
from xlcalc.schema.tables import Section, StackedTables, normalised
from xlcalc.workbooks.drive.site_sheet import as_cell
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.kit.labels import label

FIRST_ROW = 4
WIDE = ("remark", "basis", "options", "offer", "out of service", "drives", "covers")
SPARE = 3


def build(
    book: Workbook,
    sheet: Worksheet,
    kind: StackedTables,
    rows: Mapping[str, Sequence[Mapping[str, object]]],
    *,
    name: str,
    heading: tuple[str, str],
    held: Mapping[str, int],
    lists: Mapping[str, str],
    wide: Mapping[int, float],
) -> None:
    """Fill the sheet and define `name` for its tables; it begins in A1, so that errors name cells.

    Parameters
    ----------
    kind : StackedTables
        Tables with their columns.
    rows : mapping
        What they hold, by title.
    name : str
        Of the range.
    heading : tuple of str
        Title and subtitle of the sheet.
    held : mapping of str to int
        Least rows of each table.
    lists : mapping of str to str
        Source of the drop-down of columns by name.
    wide : mapping of int to float
        Widths of columns that hold longer texts, by number from 1.
    """
    columns = max(len(section.records.fields) for section in kind.sections)
    page.widths(sheet, *(wide.get(column, 11.5) for column in range(1, columns + 1)))
    page.heading(sheet, *heading)
    page.study_title(sheet)
    row = FIRST_ROW
    for section in kind.sections:
        given = rows.get(section.title, ())
        count = max(held.get(section.title, 4), len(given) + SPARE * (held.get(section.title, 4) > 1))
        row = _table(sheet, row, section, given, count, columns, lists) + 1
    last = row - 2
    names.define(book, name, sheet, names.area(1, 1, last, columns))
    above = names.area(1, 2, FIRST_ROW - 1, columns)
    outside.frame(book, sheet, sheet.title.casefold(), bottom=last, width=columns, above=above)
    page.set_up(
        sheet,
        area=names.area(1, 1, last, columns),
        orientation="landscape",
        title_rows="1:3",
        protect=False,
    )
    sheet.freeze_panes = f"B{FIRST_ROW}"


def _table(
    sheet: Worksheet,
    row: int,
    section: Section,
    rows: Sequence[Mapping[str, object]],
    count: int,
    columns: int,
    lists: Mapping[str, str],
) -> int:
    """Title, headings, rows; returns the row after it."""
    fields = section.records.fields
    page.section(sheet, row, section.title[0].upper() + section.title[1:], columns)
    page.headings(sheet, row + 1, tuple(label(field.name) for field in fields))
    sheet.row_dimensions[row + 1].height = 38
    given = [{normalised(key): value for key, value in line.items()} for line in rows]
    first, last = row + 2, row + 1 + count
    for number in range(count):
        values = given[number] if number < len(given) else {}
        for column, field in enumerate(fields, start=1):
            text = isinstance(field.kind, Text | Choice)
            value = as_cell(values.get(normalised(field.name)))
            page.put(sheet, first + number, column, value, style.INPUT_TEXT if text else style.INPUT)
    for column, field in enumerate(fields, start=1):
        cells = names.area(first, column, last, column)
        if field.name in lists:
            validation.add_list(sheet, cells, lists[field.name], label(field.name), field.doc)
        elif field.name not in WIDE:
            validation.add(sheet, cells, field)
        if field.required and column > 1:
            cell = cells.split(":")[0]
            marks.formula(sheet, cells, f'AND($A{first}<>"",{cell}="")', style.BAD)
    if section.records.key:
        key = f"$A${first}:$A${last}"
        marks.formula(sheet, names.area(first, 1, last, 1), f"COUNTIF({key},$A{first})>1", style.BAD)
    return last + 1
