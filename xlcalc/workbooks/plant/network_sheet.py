"""Sheet of the network: the tables that the argument `network` holds, below each other, with spare rows."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, outside, plant_names
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.kinds import Choice, Text
from xlcalc.schema.tables import Section, normalised
from xlcalc.workbooks.drive.site_sheet import as_cell
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.kit.labels import label
from xlcalc.workbooks.plant.plant_data import PlantData

FIRST_ROW: Final = 4
COLUMNS: Final = max(len(section.records.fields) for section in NETWORK.sections)
HELD: Final = {
    "buses": 60,
    "utility": 1,
    "transformers": 40,
    "three-winding transformers": 8,
    "cables": 40,
    "capacitors": 24,
    "loads": 60,
    "generators": 8,
    "spectra": 120,
    "active front ends": 24,
    "inverters": 60,
}
"""Rows of each table."""
SHOWN: Final = {
    "buses": 10,
    "utility": 1,
    "transformers": 6,
    "three-winding transformers": 2,
    "cables": 4,
    "capacitors": 4,
    "loads": 8,
    "generators": 2,
    "spectra": 4,
    "active front ends": 2,
    "inverters": 2,
}
"""Rows of each table that are not folded away, or two more than the data have."""
BUS_COLUMNS: Final = ("bus", "from bus", "to bus", "primary bus", "secondary bus", "tertiary bus")
NAMED: Final = {
    "buses": ("name", "kv"),
    "utility": ("bus",),
    "transformers": ("name", "to bus", "kva", "z pct", "x/r", "secondary kv", "eddy pct"),
    "three-winding transformers": (
        "name",
        "primary bus",
        "secondary bus",
        "tertiary bus",
        "kva",
        "z ps pct",
        "z pt pct",
        "z st pct",
        "x/r",
        "primary kv",
        "secondary kv",
        "tertiary kv",
        "secondary kva",
        "tertiary kva",
        "eddy pct",
    ),
    "cables": ("name", "from bus", "length m", "r ohm per km", "parallel"),
    "capacitors": ("name", "bus", "kvar", "rated kv"),
    "generators": ("name", "bus", "kva", "rated kv"),
}


def build(book: Workbook, sheet: Worksheet, data: PlantData) -> None:
    """Fill the sheet; the name `network` begins in row 1, so that errors name rows of the sheet."""
    page.widths(sheet, 16, 13, 13, *[11.5] * (COLUMNS - 3))
    page.heading(
        sheet,
        "Network",
        "One table per kind of element. Blank rows are passed over; press + at the left for folded rows.",
    )
    page.study_title(sheet)
    row = FIRST_ROW
    places = {}
    for section in NETWORK.sections:
        places[section.title] = row + 2
        row = _table(sheet, row, section, data) + 1
        if section.title == "three-winding transformers":
            page.break_before(sheet, row)
    last = row - 2
    names.define(book, plant_names.NETWORK, sheet, names.area(1, 1, last, COLUMNS))
    for section in NETWORK.sections:
        _names_and_checks(book, sheet, section, places[section.title], held(section.title, data))
    above = names.area(1, 2, FIRST_ROW - 1, COLUMNS)
    outside.frame(book, sheet, "network", bottom=last, width=COLUMNS, above=above)
    page.set_up(
        sheet,
        area=names.area(1, 1, last, COLUMNS),
        orientation="landscape",
        title_rows="1:3",
        protect=False,
    )
    sheet.freeze_panes = f"B{FIRST_ROW}"


def held(table: str, data: PlantData) -> int:
    """Rows of a table of the network."""
    return max(HELD[table], len(data.tables[table]))


def shown(table: str, data: PlantData) -> int:
    """Rows of it that are in view, here and on the sheets that list its elements."""
    return min(HELD[table], max(SHOWN[table], len(data.tables[table]) + 2 * (HELD[table] > 1)))


def _table(sheet: Worksheet, row: int, section: Section, data: PlantData) -> int:
    """Title, headings, rows; returns the row after it."""
    fields = section.records.fields
    page.section(sheet, row, section.title.capitalize(), COLUMNS)
    page.headings(sheet, row + 1, tuple(label(field.name) for field in fields))
    sheet.row_dimensions[row + 1].height = 27
    given = [{normalised(k): v for k, v in line.items()} for line in data.tables[section.title]]
    first = row + 2
    for number in range(held(section.title, data)):
        values = given[number] if number < len(given) else {}
        for column, field in enumerate(fields, start=1):
            text = isinstance(field.kind, Text | Choice)
            value = as_cell(values.get(normalised(field.name)))
            name = style.INPUT_TEXT if text else style.INPUT
            page.put(sheet, first + number, column, value, name)
    page.fold(
        sheet, first + max(shown(section.title, data), len(given)), first + held(section.title, data) - 1
    )
    return first + held(section.title, data)


def _names_and_checks(book: Workbook, sheet: Worksheet, section: Section, first: int, rows: int) -> None:
    last = first + rows - 1
    key = f"$A${first}:$A${last}"
    for column, field in enumerate(section.records.fields, start=1):
        cells = names.area(first, column, last, column)
        if field.name in NAMED.get(section.title, ()):
            names.define(book, plant_names.column(section.title, field.name), sheet, cells)
        if field.name in BUS_COLUMNS:
            buses = plant_names.column("buses", "name")
            validation.add_list(
                sheet, cells, buses, label(field.name), f"{field.doc}: choose from the buses."
            )
        else:
            validation.add(sheet, cells, field)
        if field.required and column > 1:
            cell = cells.split(":")[0]
            marks.formula(sheet, cells, f'AND($A{first}<>"",{cell}="")', style.BAD)
    if section.records.key:
        marks.formula(sheet, names.area(first, 1, last, 1), f"COUNTIF({key},$A{first})>1", style.BAD)
