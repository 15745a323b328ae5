"""Sheet of the worksheet functions, generated from the registry."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVE_SETTINGS, DRIVES, PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import NETWORK_SETTINGS, PLANT_SETTINGS
from xlcalc.schema.inputs.site import SITE
from xlcalc.workbooks.kit import page
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.registry import WorksheetFunction

COLUMNS = 3
WIDTHS = (26, 76, 34)
LINE_HEIGHT = 11.5
CHARACTERS = {2: 94, 3: 40}
SIGNATURE_CHARACTERS = 66


def build(sheet: Worksheet, functions: Mapping[str, WorksheetFunction] = FUNCTIONS) -> None:
    """Fill the sheet."""
    page.widths(sheet, *WIDTHS)
    page.heading(
        sheet, "Function reference", "Arguments in brackets may be left out. Examples hold as written."
    )
    row = 4
    for category, group in groupby(functions.values(), key=lambda function: function.category):
        page.section(sheet, row, category, COLUMNS)
        row += 1
        for function in group:
            row = _function(sheet, row, function) + 1
    for title, fields in (
        ("Names of the range: site", SITE.fields),
        ("Columns of the table: drives", DRIVES.fields),
        ("Names of the range: settings of plant functions (with the settings of drives)", _plant_only()),
        ("Names of the range: settings of drive functions", DRIVE_SETTINGS.fields),
        *(
            (f"Range network, columns of the table: {section.title}", section.records.fields)
            for section in NETWORK.sections
        ),
        ("Columns of the table: drives of a network (further columns as in drives)", _network_drives()),
        ("Names of the range: settings of network functions (with the settings of drives)", _network_only()),
    ):
        row = _fields(sheet, row, title, fields) + 1
    page.set_up(sheet, area=names.area(1, 1, row - 2, COLUMNS), title_rows="1:2")
    sheet.freeze_panes = "A4"


def _plant_only() -> tuple[Field, ...]:
    of_drives = {field.name for field in DRIVE_SETTINGS.fields}
    return tuple(field for field in PLANT_SETTINGS.fields if field.name not in of_drives)


def _network_drives() -> tuple[Field, ...]:
    return tuple(field for field in PLANT_DRIVES.fields if field not in DRIVES.fields)


def _network_only() -> tuple[Field, ...]:
    of_drives = {field.name for field in DRIVE_SETTINGS.fields}
    return tuple(field for field in NETWORK_SETTINGS.fields if field.name not in of_drives)


def _function(sheet: Worksheet, row: int, function: WorksheetFunction) -> int:
    """One function; returns the row after it."""
    page.put(sheet, row, 1, function.name, style.HEADING_LEFT)
    page.put(sheet, row, 2, function.signature, style.HEADING_LEFT)
    page.put(sheet, row, 3, None, style.HEADING_LEFT)
    lines = math.ceil(len(function.signature) / SIGNATURE_CHARACTERS)
    sheet.row_dimensions[row].height = LINE_HEIGHT * lines + 5
    row = _line(sheet, row + 1, "", function.summary, f"gives {function.gives}")
    if function.shape:
        row = _line(sheet, row, "columns", ", ".join(function.shape.columns), _rows_text(function.shape.rows))
    if function.notes:
        row = _line(sheet, row, "note", function.notes, "")
    for argument in function.arguments:
        row = _line(
            sheet, row, argument.name, argument.help, "required" if argument.required else "may be left out"
        )
    for example in function.examples:
        result = f"{example.result:g}" if isinstance(example.result, float) else str(example.result)
        row = _line(sheet, row, "example", example.formula, f"gives {result}")
    return row


def _rows_text(rows: int | None) -> str:
    return "one row per row of the input" if rows is None else f"array of {rows} rows"


def _fields(sheet: Worksheet, row: int, title: str, fields: Sequence[Field]) -> int:
    page.section(sheet, row, title, COLUMNS)
    row += 1
    for field in fields:
        row = _line(sheet, row, field.name, field.help, "required" if field.required else "may be left out")
    return row


def _line(sheet: Worksheet, row: int, name: str, text: str, remark: str) -> int:
    for column, content in enumerate((name, text, remark), start=1):
        page.put_text(sheet, row, column, content, style.HELP)
    _fit(sheet, row)
    return row + 1


def _fit(sheet: Worksheet, row: int) -> None:
    """Height for the longest wrapped text of the row."""
    lines = max(
        math.ceil(len(str(sheet.cell(row, column).value or "")) / width)
        for column, width in CHARACTERS.items()
    )
    sheet.row_dimensions[row].height = LINE_HEIGHT * max(1, lines) + 3
