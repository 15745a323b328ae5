"""Sheets of front ends, prices and the residual spectrum, and the settings of each front end."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import comparison_names as here
from xlcalc.files.books import names, outside
from xlcalc.schema.inputs.comparison import FILTER, FRONT_END_FIELDS, PRICE_FIELDS
from xlcalc.schema.kinds import Text
from xlcalc.workbooks.comparison.comparison_data import ComparisonData
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.kit.labels import label
from xlcalc.worksheet.functions.standards.verdict_rows import ORDERS_NOT_LISTED

FIRST_ROW: Final = 5
LAST_ROW: Final = FIRST_ROW + here.COLUMNS - 1
WIDTHS: Final = (32, 9, 10, 10, 13, 12, 12, 12, 12, 52)
SUPPLY_FIELDS: Final = (
    "source x/r",
    "dc capacitance pu",
    "capacitor resistance pct",
    "unbalance pct",
    "unbalance deg",
    "background 5th pct",
    "background 5th deg",
    "background 7th pct",
    "background 7th deg",
)
PRICE_HEADINGS: Final = (
    "front end",
    "price a",
    "price b",
    "price c",
    "fixed loss (%)",
    "load loss (%)",
    "remark",
)
MARK: Final = "indicative (invented)"
RESIDUAL_ROWS: Final = 24
RESIDUAL_FIRST: Final = 12
LOADS: Final = 4
NOT_LISTED: Final = "residual_not_listed"
LOAD_ROW: Final = RESIDUAL_FIRST - 1
AT_LOAD: Final = LOADS + 3


def place(field: str, number: int) -> str:
    """Reference to a field of a front end, from 1."""
    column = [argument.name for argument in FRONT_END_FIELDS].index(field) + 1
    return here.cell(here.FRONT_ENDS, FIRST_ROW + number - 1, column)


def price(column: str, number: int) -> str:
    """Reference to a column of the prices of a front end."""
    return here.cell(here.PRICES, FIRST_ROW + number - 1, PRICE_HEADINGS.index(column) + 1)


def residual_columns() -> tuple[str, str, str]:
    """Order, percent of the rated fundamental at the load, and angle of the residual spectrum."""
    last = RESIDUAL_FIRST + RESIDUAL_ROWS - 1
    return tuple(  # type: ignore[return-value]
        here.cells(here.RESIDUAL, RESIDUAL_FIRST, column, last, column) for column in (1, AT_LOAD, LOADS + 2)
    )


def residual_percents() -> str:
    """Percent of the residual spectrum at all loads."""
    return here.cells(here.RESIDUAL, RESIDUAL_FIRST, 2, RESIDUAL_FIRST + RESIDUAL_ROWS - 1, LOADS + 1)


def _around(book: Workbook, sheet: Worksheet, inputs: str, last_row: int, width: int) -> None:
    """Watch what stands around a table of front ends, above and below the notes under it."""
    outside.frame(book, sheet, inputs, bottom=last_row, width=width, above=names.area(1, 2, 3, width))
    below = names.area(LAST_ROW + 1, 1, LAST_ROW + 1, width)
    outside.watch(book, sheet, inputs, "below_1", below)


def build_front_ends(book: Workbook, sheet: Worksheet, data: ComparisonData) -> None:
    """Sheet of the front ends: eight circuits and the residual spectrum."""
    page.widths(sheet, *WIDTHS)
    page.heading(
        sheet,
        "Front ends",
        "Sand-coloured cells are inputs. The first eight are solved as circuits; blank is zero.",
    )
    page.headings(sheet, FIRST_ROW - 1, tuple(label(field.name) for field in FRONT_END_FIELDS))
    sheet.row_dimensions[FIRST_ROW - 1].height = 40
    for number, values in enumerate(data.front_ends, start=1):
        row = FIRST_ROW + number - 1
        for column, field in enumerate(FRONT_END_FIELDS, start=1):
            text = isinstance(field.kind, Text)
            circuit = number <= here.BRIDGES
            name = (style.INPUT_TEXT if text else style.INPUT) if circuit or text else style.LABEL
            page.put(sheet, row, column, values.get(field.name), name)
            if circuit:
                validation.add(sheet, f"{names.area(row, column, row, column).split(':')[0]}", field)
        sheet.row_dimensions[row].height = 26
        sheet.cell(row, len(FRONT_END_FIELDS)).alignment = _wrapped()
    page.notes(
        sheet,
        LAST_ROW + 2,
        (
            "Percent values refer to the rated DC-link power of the drive. Line reactor and DC choke of "
            "a multi-pulse front end and the leakage of its transformer are on each bridge's share.",
            "Passive filter: series reactor, then a shunt branch of capacitor and reactor, ahead of the "
            "drive; the capacitor in percent of the rating at rated voltage, the reactor by the order "
            "to which it tunes the branch. It is solved together with the bridge. No capacitor: no "
            "filter.",
            "The last one is not solved: its spectrum stands on the sheet Residual, with its basis.",
        ),
        len(FRONT_END_FIELDS),
    )
    names.define(
        book, here.FRONT_END_INPUTS, sheet, names.area(FIRST_ROW, 1, LAST_ROW, len(FRONT_END_FIELDS))
    )
    _around(book, sheet, "front ends", LAST_ROW + 4, len(FRONT_END_FIELDS))
    last = names.area(1, 1, LAST_ROW + 4, len(FRONT_END_FIELDS))
    page.set_up(sheet, area=last, orientation="landscape", title_rows="1:2")


def build_prices(book: Workbook, sheet: Worksheet, data: ComparisonData) -> None:
    """Sheet of prices and losses."""
    page.widths(sheet, 34, 13, 13, 13, 15, 15, 40)
    page.heading(sheet, "Prices", "Your own values go here. Those that the template comes with are invented.")
    page.headings(sheet, FIRST_ROW - 1, PRICE_HEADINGS)
    sheet.row_dimensions[FIRST_ROW - 1].height = 24
    for number, values in enumerate(data.front_ends, start=1):
        row = FIRST_ROW + number - 1
        page.put(sheet, row, 1, f"={place('name', number)}", style.LABEL)
        for column, value in enumerate((*values["price"], *values["loss"]), start=2):
            page.put(sheet, row, column, value, style.INPUT)
        page.put(sheet, row, len(PRICE_HEADINGS), MARK, style.INPUT_TEXT)
    for letter, field in zip("BCDEF", PRICE_FIELDS, strict=True):
        validation.add(sheet, f"{letter}{FIRST_ROW}:{letter}{LAST_ROW}", field)
    page.notes(
        sheet,
        LAST_ROW + 2,
        (
            "Price = a + b x kW^c with the rated DC-link power in kW, on top of the plain drive. A "
            "fixed price: enter it as a, and zero as b.",
            "Losses in percent of the rated DC-link power, on top of those of the plain drive: fixed at "
            "any load, load losses with the square of the load. Currency, tariff, hours and years stand "
            "on the sheet Site.",
        ),
        len(PRICE_HEADINGS),
    )
    names.define(book, here.PRICE_INPUTS, sheet, names.area(FIRST_ROW, 2, LAST_ROW, len(PRICE_HEADINGS)))
    _around(book, sheet, "prices", LAST_ROW + 3, len(PRICE_HEADINGS))
    area = names.area(1, 1, LAST_ROW + 3, len(PRICE_HEADINGS))
    page.set_up(sheet, area=area, orientation="landscape", title_rows="1:2")


def build_residual(book: Workbook, sheet: Worksheet, data: ComparisonData) -> None:
    """Sheet of the residual spectrum against load."""
    page.widths(sheet, 12, *[15] * LOADS, 15, 22)
    page.heading(
        sheet, "Residual", "Spectrum of the front end that is not solved, percent of its rated fundamental."
    )
    page.section(sheet, 4, "Basis: where the figures come from and when they hold", AT_LOAD)
    for column in range(1, AT_LOAD + 1):
        sheet.cell(5, column).style = style.INPUT_TEXT
    sheet.cell(5, 1).value = data.basis
    sheet.cell(5, 1).alignment = _wrapped()
    sheet.merge_cells(start_row=5, end_row=5, start_column=1, end_column=AT_LOAD)
    sheet.row_dimensions[5].height = 40
    names.define(book, "residual_basis", sheet, "A5")
    loads = here.cells(here.RESIDUAL, LOAD_ROW, 2, LOAD_ROW, LOADS + 1)
    load = here.field("load pct")
    highest = here.cell(here.RESIDUAL, LOAD_ROW, LOADS + 1)
    for row, name, text, formula in (
        (
            7,
            "residual_step",
            "Load below",
            f"=IF({load}>{highest},NA(),MIN(MATCH({load},{loads},1),{LOADS - 1}))",
        ),
        (
            8,
            "residual_share",
            "Share above",
            f"=({load}-INDEX({loads},1,residual_step))"
            f"/(INDEX({loads},1,residual_step+1)-INDEX({loads},1,residual_step))",
        ),
    ):
        page.put(sheet, row, 1, text, style.LABEL)
        page.put(sheet, row, 2, formula, style.RESULT)
        names.define(book, name, sheet, f"B{row}")
    page.put(sheet, 9, 1, "Orders not listed", style.LABEL)
    page.put(sheet, 9, 2, data.orders_not_listed, style.INPUT)
    validation.add(sheet, "B9", ORDERS_NOT_LISTED)
    names.define(book, NOT_LISTED, sheet, "B9")
    page.put(sheet, 9, 3, "not given: no PASS without them; zero: only where that is known", style.SUBTITLE)
    page.put(sheet, 8, 3, "amperes are interpolated between two loads; none beyond the table", style.SUBTITLE)
    page.headings(sheet, LOAD_ROW - 1, ("order", *["load (%)"] * LOADS, "angle (deg)", "at the drive's load"))
    for column, given in enumerate(data.loads, start=2):
        page.put(sheet, LOAD_ROW, column, given, style.INPUT)
    page.put(sheet, LOAD_ROW, 1, "load (%)", style.LABEL)
    page.put(sheet, LOAD_ROW, AT_LOAD - 1, "blank: not known, 0", style.HELP)
    page.put(sheet, LOAD_ROW, AT_LOAD, f"={load}", style.RESULT, "0")
    rows = [*data.residual.items(), *[(None, ())] * RESIDUAL_ROWS][:RESIDUAL_ROWS]
    for row, (order, values) in enumerate(rows, start=RESIDUAL_FIRST):
        page.put(sheet, row, 1, order, style.INPUT)
        for offset in range(LOADS + 1):
            value = values[offset] if offset < len(values) else None
            page.put(sheet, row, 2 + offset, value, style.INPUT)
        line = here.cells(here.RESIDUAL, row, 2, row, LOADS + 1)
        low, high = (f"N(INDEX({line},1,residual_step{plus}))" for plus in ("", "+1"))
        both = "*".join(f"ISNUMBER(INDEX({line},1,residual_step{plus}))" for plus in ("", "+1"))
        between = f'IF({both},{low}+residual_share*({high}-{low}),"")'
        formula = f"=IF(ISERROR(residual_step),residual_step,{between})"
        page.put(sheet, row, AT_LOAD, formula, style.RESULT, "0.000")
    marks.errors(sheet, names.area(RESIDUAL_FIRST, AT_LOAD, RESIDUAL_FIRST + RESIDUAL_ROWS - 1, AT_LOAD))
    bottom = RESIDUAL_FIRST + RESIDUAL_ROWS - 1
    names.define(book, here.RESIDUAL_INPUTS, sheet, names.area(LOAD_ROW, 1, bottom, LOADS + 2))
    outside.frame(book, sheet, "residual", bottom=bottom, width=AT_LOAD, above=names.area(1, 2, 3, AT_LOAD))
    area = names.area(1, 1, bottom, AT_LOAD)
    page.set_up(sheet, area=area, title_rows="1:2")


def build_settings(book: Workbook, sheet: Worksheet) -> None:
    """Sheet of what the functions get for each circuit: the supply, and the fields of the front end."""
    page.heading(sheet, here.SUPPLY, "What the functions get for each front end. Nothing to enter here.")
    own = ("transformer pct", *(field.name for field in FILTER))
    for number in range(1, here.BRIDGES + 1):
        column = 3 * number - 2
        page.put(sheet, 4, column, f"={place('name', number)}", style.STRONG)
        page.headings(sheet, 5, ("name", "value"), column)
        row = 5
        for name in (*SUPPLY_FIELDS, *own):
            row += 1
            cell = place(name, number) if name in own else here.field(name)
            page.put(sheet, row, column, label(name), style.LABEL)
            page.put(sheet, row, column + 1, f'=IF({cell}="","",{cell})', style.RESULT, "General")
        names.define(book, here.settings(number), sheet, names.area(6, column, row, column + 1))
    page.widths(sheet, *[26, 10, 3] * here.BRIDGES)
    page.set_up(sheet, area="A1:H3")


def _wrapped() -> Alignment:
    return Alignment(horizontal="left", vertical="center", wrap_text=True, indent=1)
