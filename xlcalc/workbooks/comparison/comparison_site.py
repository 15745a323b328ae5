"""Inputs of the comparison: supply, drive, limit and terms of cost, and what follows from them."""

from __future__ import annotations

import math
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc import plausible
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import CAPACITOR_RESISTANCE, EFFICIENCY_DOC
from xlcalc.schema.inputs.quantities import ANGLE, EDITIONS, EFFICIENCY_PCT, IMPEDANCE, LOAD_PCT, X_OVER_R
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.standards.iec61000_3_12 import Equipment
from xlcalc.workbooks.comparison import comparison_examples as examples
from xlcalc.workbooks.comparison import comparison_names as here
from xlcalc.workbooks.comparison.comparison_data import ComparisonData
from xlcalc.workbooks.drive import schedule, site_sheet
from xlcalc.workbooks.kit import marks, names, outside, page, style

IEEE_519: Final = "IEEE 519"
IEC_61000_3_12: Final = "IEC 61000-3-12"
OWN: Final = "own limits"

PERCENT = Number(0, 30, "%", usual=plausible.BACKGROUND_PCT)
VOLTS = Number(50, 1000, "V", usual=plausible.VOLTS)
RATE = Number(0, 50, "%", usual=plausible.SHARE_PCT)
UNBALANCE = Number(0, 20, "%", usual=plausible.UNBALANCE_PCT)
MVA = Number(0, 1e6, "MVA", above=True)
AMPS = Number(0, 1e6, "A", above=True)

BLOCKS: Final[dict[str, tuple[str, tuple[Field, ...]]]] = {
    "study": (
        "Study",
        (
            Field("title", Text(), "Title of the study", default=None),
            Field("prepared by", Text(), "Who answers for it", default=None),
            Field("date", Text(), "Date of the study", default=None),
            Field("remark", Text(), "Anything a reader should know", default=None),
        ),
    ),
    "supply": (
        "Supply at the drive",
        (
            Field("nominal volts", VOLTS, "Line to line, at the drive"),
            Field("frequency hz", Number(40, 70, "Hz"), "Only named on the page; percent values hold"),
            Field("transformer kva", Number(0, 1e6, "kVA", above=True), "Transformer that feeds the drive"),
            Field("transformer z pct", IMPEDANCE, "Its impedance"),
            Field("utility mva", MVA, "Short-circuit level ahead of the transformer", default=None),
            Field(
                "fault level mva",
                MVA,
                "Short-circuit level at the drive, where it is known: replaces the three lines above",
                default=None,
            ),
            Field("source x/r", X_OVER_R, "X/R of the supply at the drive", default=10.0),
            Field("unbalance pct", UNBALANCE, "Negative-sequence voltage", default=0.0),
            Field("unbalance deg", ANGLE, "Its angle", default=0.0),
            Field("background 5th pct", PERCENT, "5th harmonic of the supply voltage", default=0.0),
            Field("background 5th deg", ANGLE, "Its angle, cosine reference", default=0.0),
            Field("background 7th pct", PERCENT, "7th harmonic of the supply voltage", default=0.0),
            Field("background 7th deg", ANGLE, "Its angle, cosine reference", default=0.0),
        ),
    ),
    "drive": (
        "Drive",
        (
            Field("rating", Number(0, 1e5, above=True), "Rated shaft output"),
            Field("unit", Choice(("kW", "hp")), "Unit of the rating"),
            Field("efficiency pct", EFFICIENCY_PCT, EFFICIENCY_DOC, default=None),
            Field("load pct", LOAD_PCT, "Of the rated DC-link power", default=100.0),
            Field("dc capacitance pu", Number(0.001, 1000), "w C Zb of the DC link", default=5.0),
            CAPACITOR_RESISTANCE,
        ),
    ),
    "limit": (
        "Limit to be met",
        (
            Field(
                "limit",
                Choice((IEEE_519, IEC_61000_3_12, OWN)),
                "Whose limits: at the PCC, of one item of equipment, or the table below",
                default=IEEE_519,
            ),
            Field("edition", EDITIONS, "Edition of IEEE 519", default=2022),
            Field(
                "demand amps",
                AMPS,
                "IEEE 519: maximum demand current IL at the PCC, which is taken at the drive's bus "
                "(blank: rated current of the drive alone)",
                default=None,
            ),
            Field(
                "reference amps",
                AMPS,
                "IEC 61000-3-12: reference current, above 16 to 75 A (blank: rated current of the drive)",
                default=None,
            ),
            Field("iec table", Choice(tuple(Equipment)), "Table of IEC 61000-3-12", default="Table 3"),
            Field("own thd pct", Number(0, 1000, "%", above=True), "Own limit of the THD", default=10.0),
            Field("own document", Text(), "Where your own limits come from", default="own table"),
        ),
    ),
    "cost": (
        "Terms of cost",
        (
            Field("currency", Text(), "Its name", default="USD"),
            Field("price per kwh", Number(0, 1e6), "Energy", default=0.1),
            Field("hours per year", Number(0, 8784, "h"), "Of operation at the load above", default=6000),
            Field("years", Number(0, 60), "Over which losses count", default=10),
            Field(
                "discount pct",
                RATE,
                "Yearly rate on later costs",
                default=0.0,
            ),
        ),
    ),
}
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
