"""Inputs of the comparison: supply, drive, limit and terms of cost, and what follows from them."""

from __future__ import annotations

import math
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import comparison_names as here
from xlcalc.files.books import names, outside
from xlcalc.schema.inputs.comparison import BLOCKS
from xlcalc.workbooks.comparison import comparison_examples as examples
from xlcalc.workbooks.comparison.comparison_data import ComparisonData
from xlcalc.workbooks.drive import schedule, site_sheet
from xlcalc.workbooks.kit import marks, page

OWN_ROWS: Final = 8


def _or(name: str, other: str) -> str:
    cell = here.field(name)
    return f'=IF({cell}="",{other},{cell})'


_F = here.field
DERIVED: Final = (
    (
        "link_kw",
        "Rated DC-link power (kW)",
        f"={schedule.link_kw(_F('rating'), _F('unit'), _F('efficiency pct'))}",
        "0.00",
        "Base of all percent values",
    ),
    (
        "rated_amps",
        "Rated current (A)",
        f"=1000*link_kw/(SQRT(3)*{_F('nominal volts')})",
        "0.0",
        "Fundamental at rated DC-link power and unity displacement power factor",
    ),
    (
        "sc_mva",
        "Short-circuit level at the drive (MVA)",
        _or(
            "fault level mva",
            f'IF({_F("utility mva")}="",'
            f"HD_TRANSFORMER_MVA({_F('transformer kva')},{_F('transformer z pct')}),"
            f"HD_SERIES_MVA({_F('utility mva')},HD_TRANSFORMER_MVA({_F('transformer kva')},"
            f"{_F('transformer z pct')})))",
        ),
        "0.00",
        "Utility and transformer in series, one X/R",
    ),
    ("source_pct", "Source (%)", "=HD_SOURCE_PCT(sc_mva,link_kw)", "0.000", "On the rating of the drive"),
    (
        "sc_amps",
        "Short-circuit current (A)",
        f"=HD_SC_AMPS(sc_mva,{_F('nominal volts')}/1000)",
        "0",
        "Three-phase, at the drive",
    ),
    ("demand", "Demand current IL (A)", _or("demand amps", "rated_amps"), "0.0", "For IEEE 519"),
    ("isc_il", "Isc / IL", "=sc_amps/demand", "0.0", "Picks the row of IEEE 519"),
    ("reference", "Reference current (A)", _or("reference amps", "rated_amps"), "0.0", "For IEC 61000-3-12"),
    (
        "rsce",
        "Rsce",
        f"=1000000*sc_mva/(SQRT(3)*{_F('nominal volts')}*reference)",
        "0.0",
        "Short-circuit level over rated apparent power",
    ),
    (
        "worth_of_years",
        "Present value of one a year",
        f"=IF({_F('discount pct')}=0,{_F('years')},"
        f"(1-(1+{_F('discount pct')}/100)^-{_F('years')})/({_F('discount pct')}/100))",
        "0.000",
        "Factor on the yearly cost of losses",
    ),
)


def build(book: Workbook, sheet: Worksheet, data: ComparisonData) -> None:
    """Fill the sheet and define a name for every input."""
    page.widths(sheet, 32, 18, 30, 58)
    page.heading(sheet, "Site", "Sand-coloured cells are inputs; the sheets Front ends and Prices have more.")
    row = 4
    for key, (title, fields) in BLOCKS.items():
        first = row + 1
        block = block_name(key)
        row = site_sheet.inputs(book, sheet, row, title, block, fields, data.blocks[key]) + 1
        for argument in fields:
            name = here.TITLE if argument.name == "title" else here.field(argument.name)
            site_sheet.name_cell(book, sheet, first, fields, argument.name, name)
        for offset, argument in enumerate(fields):
            lines = max(math.ceil(len(argument.doc) / 62), math.ceil(len(argument.kind.valid) / 36))
            sheet.row_dimensions[first + offset].height = max(15, 11.5 * lines + 3)
    row = _own_limits(book, sheet, row, data)
    page.break_before(sheet, row)
    beside = names.area(row - OWN_ROWS - 1, 3, row - 1, site_sheet.COLUMNS)
    outside.watch(book, sheet, "own limits", "beside", beside)
    outside.watch(book, sheet, "own limits", "below", names.area(row - 1, 1, row - 1, 2))
    row = _derived(book, sheet, row, data)
    outside.frame(
        book, sheet, "site inputs", bottom=row - 1, width=site_sheet.COLUMNS, above=site_sheet.ABOVE
    )
    page.set_up(sheet, area=names.area(1, 1, row - 1, site_sheet.COLUMNS), title_rows="1:2")
    sheet.freeze_panes = "A4"


def block_name(key: str) -> str:
    """Name of a block of inputs."""
    return f"inputs_{key}"


def _own_limits(book: Workbook, sheet: Worksheet, row: int, data: ComparisonData) -> int:
    page.section(sheet, row, "Own limits by order (order, percent of the fundamental)", site_sheet.COLUMNS)
    rows = [*data.own_limits.items(), *[(None, None)] * OWN_ROWS][:OWN_ROWS]
    for offset, pair in enumerate(rows, start=1):
        for column, value in enumerate(pair, start=1):
            page.put(sheet, row + offset, column, value, style.INPUT)
    names.define(book, here.OWN_LIMITS, sheet, names.area(row + 1, 1, row + OWN_ROWS, 2))
    return row + OWN_ROWS + 2


def _examples(data: ComparisonData) -> tuple[tuple[str, str, str, str, str], ...]:
    """Texts that the page shows while supply or drive hold their example values."""
    return tuple(
        (name, f"Example {block}?", f'=IF({condition},"EXAMPLE {block.upper()}. ","")', "General", meaning)
        for name, block, condition, meaning in (
            (
                examples.EXAMPLE_DRIVE,
                "drive",
                examples.untouched_block(data.blocks["drive"]),
                "Shown until an input of the drive is changed",
            ),
            (
                examples.EXAMPLE_SUPPLY,
                "supply",
                examples.untouched_block(data.blocks["supply"]),
                "Shown until an input of the supply is changed",
            ),
        )
    )


def _derived(book: Workbook, sheet: Worksheet, row: int, data: ComparisonData) -> int:
    page.section(sheet, row, "What follows", site_sheet.COLUMNS)
    first = row + 1
    for name, text, formula, number_format, meaning in (*DERIVED, *_examples(data)):
        row += 1
        page.put(sheet, row, 1, text, style.LABEL)
        page.put(sheet, row, 2, formula, style.RESULT, number_format)
        page.put(sheet, row, 3, None, style.HELP)
        page.put(sheet, row, 4, meaning, style.HELP)
        names.define(book, name, sheet, f"B{row}")
    marks.errors(sheet, names.area(first, 2, row, 2))
    return row + 1
