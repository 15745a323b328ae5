"""The workbook of a choice: outcome, mix, verdicts, cost against TDD, runners-up, options and cautions."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import pandas as pd
from openpyxl import Workbook
from openpyxl.chart import Reference
from openpyxl.styles import PatternFill
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc import __version__
from xlcalc.core.errors import InputError
from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.files.ownership import sealed_book
from xlcalc.files.writing import check_target as check_place
from xlcalc.files.writing import write_file
from xlcalc.mitigation.choice import ChosenMix
from xlcalc.mitigation.offer.curves import CostFormula
from xlcalc.recalc.loaded import saved
from xlcalc.studies.pcc import TDD
from xlcalc.workbooks.choice import choice_pcc_sheet, robustness_sheet
from xlcalc.workbooks.drive.notes_text import CAUTIONS
from xlcalc.workbooks.kit import page

METHOD: Final = (
    "Every option of every drive is solved in every case; the currents add up as phasors by order, so that"
    " the distortion of a mix is known for all mixes at once. An integer programme (HiGHS) finds the mix of"
    " least cost; the limits enter it through tangents, which are added until the limits themselves hold.",
    "The mix is then studied again from the start: drives one by one on their bus, and coupled, where every"
    " drive sees the voltage that all of them distort and linear loads are resistance and inductance side by"
    " side. Where the study differs from what the search assumed, it is repeated with that correction,"
    " until no cheaper mix passes coupled.",
    "The proof gap is that of the search with its last correction: no mix that passes there costs less"
    " than the bound. A mix that the model refuses and the coupled study would let pass is not covered.",
    "All units of a line of the schedule get the same front end. An active filter leaves of each order the"
    " stated part, as long as its rated current suffices. Currents of unknown angle add in magnitude.",
)
TEXT_COLUMNS: Final = 6
LINE_HEIGHT: Final = 12.0
MONEY: Final = ("cost", "purchase", "losses", "more than chosen", "no mix below", "extra cost", "price")
UNITS: Final = {"%": "%", "kW": "kW", "m2": "m2", "A": "A"}


def check_target(path: Path) -> None:
    """Refuse a workbook that could not be written, before anything is computed.

    Raises
    ------
    InputError
        Another ending than .xlsx.
    WorkbookFileError
        The file cannot be written.
    """
    if path.suffix.lower() != ".xlsx":
        raise InputError("-o", str(path), "a file name that ends in .xlsx")
    check_place(path)


def write_choice(choice: ChosenMix, path: Path) -> None:
    """Write the workbook, all of it or none of it.

    Raises
    ------
    InputError, WorkbookFileError
        As `check_target`.
    """
    check_target(path)
    stamp = f"xlcalc {__version__} {datetime.datetime.now(datetime.UTC):%Y-%m-%dT%H:%M:%SZ}"
    write_file(path, sealed_book(saved(choice_book(choice)), stamp))


def choice_book(choice: ChosenMix) -> Workbook:
    """The workbook with its sheets and charts."""
    book = Workbook()
    style.register(book)
    first = book.active
    assert isinstance(first, Worksheet)
    first.title = "Choice"
    currency = choice.problem.economics.currency
    _outcome(first, choice)
    choice_pcc_sheet.build(book, first, choice, TEXT_COLUMNS)
    _table_sheet(
        book,
        "Mix",
        "What every drive gets",
        "Purchase, yearly losses and area per line.",
        choice.mix_table(),
        currency,
    )
    _table_sheet(
        book, "Verdicts", "Verdicts", "The exact studies of the mix, case by case.", choice.verdict_table()
    )
    exceeded = choice.exceeded_table()
    if not choice.passes and len(exceeded):
        _table_sheet(
            book,
            "Exceeded",
            "What the nearest mix exceeds",
            "The worst first: these orders bind. No mix of the options brings all below their limits.",
            exceeded,
        )
    if choice.front:
        _front(book, choice)
    if choice.assessment.banks:
        _table_sheet(
            book,
            "Banks",
            "Capacitors of the bought banks",
            "Stress in every case, coupled where there is a coupled study.",
            choice.bank_table(),
        )
    if choice.robust is not None:
        robustness_sheet.build(book, choice.robust, _table_sheet)
    if choice.runners:
        _table_sheet(
            book,
            "Runners-up",
            "The next cheapest mixes",
            "They pass as well.",
            choice.runner_table(),
            currency,
        )
    if choice.savings:
        title, text = "What the money buys", "The outcome if alike drives had their cheapest option instead."
        _table_sheet(book, "Savings", title, text, choice.savings_table(), currency)
    _table_sheet(
        book,
        "Options",
        "Options offered",
        "As the tables of the user describe them.",
        _options(choice),
        currency,
    )
    _notes(book, choice)
    return book


def _outcome(sheet: Worksheet, choice: ChosenMix) -> None:
    page.widths(sheet, 34, 16, 16, 16, 16, 26)
    page.heading(sheet, "Choice of mitigation", "The mix of least cost that meets the limits in every case.")
    page.put(sheet, 4, 1, choice.word, style.VERDICT)
    colour = style.GOOD if choice.passes else style.BAD
    sheet.cell(4, 1).fill = PatternFill("solid", start_color=colour[0], end_color=colour[0])
    page.put_text(sheet, 4, 2, choice.assessment.text, style.BODY)
    sheet.merge_cells(start_row=4, start_column=2, end_row=4, end_column=TEXT_COLUMNS)
    sheet.row_dimensions[4].height = 28
    mix, money = choice.mix, choice.problem.economics
    unit = money.currency
    gap = choice.proof.gap_pct
    margin = choice.problem.margin_pct
    margins = "; ".join(f"{bus}: {pct:g}" for bus, pct in choice.problem.margins_pct.items())
    rows: list[tuple[str, object, str, str]] = [
        ("Purchase", mix.purchase, "#,##0", f"{unit}: the price of the changes"),
        ("With losses", mix.cost, "#,##0", f"{unit}; purchase and losses of {money.years:g} years"),
        (
            "Losses",
            mix.loss_cost,
            "#,##0",
            f"{unit}; {money.price_per_kwh:g} per kWh, {money.hours_per_year:g} h a year",
        ),
        ("Added losses", mix.kwh_per_year, "#,##0", "kWh a year"),
        ("Added area", mix.footprint_m2, "0.0", "m2"),
        (
            "Proof gap",
            gap if math.isfinite(gap) else "none",
            "0.00",
            "percent of the cost: no passing mix is cheaper by more",
        ),
        (
            "No mix below",
            choice.proof.bound if math.isfinite(choice.proof.bound) else "none passes",
            "#,##0",
            unit,
        ),
        (
            "Margin asked for",
            margin,
            "0.0",
            "percent of every limit" + (f"; at {margins}" if margins else ""),
        ),
        ("Margin left", choice.assessment.margin_left_pct, "0.0", "percent of the binding limit"),
        ("Largest TDD, one by one", choice.alone.tdd_pct, "0.00", "percent of the demand current"),
    ]
    if choice.coupled is not None:
        rows.append(("Largest TDD, coupled", choice.coupled.tdd_pct, "0.00", "percent of the demand current"))
    if choice.as_is_text:
        page.put_text(sheet, 5, 1, choice.as_is_text, style.BODY)
        sheet.merge_cells(start_row=5, start_column=1, end_row=5, end_column=TEXT_COLUMNS)
        sheet.row_dimensions[5].height = 28
    row = 6
    page.section(sheet, row, "In figures", TEXT_COLUMNS)
    for label, value, number_format, note in rows:
        row += 1
        page.put(sheet, row, 1, label, style.LABEL)
        page.put(sheet, row, 2, value, style.RESULT, number_format)
        page.put_text(sheet, row, 3, note, style.BODY)
        sheet.merge_cells(start_row=row, start_column=3, end_row=row, end_column=TEXT_COLUMNS)
    row += 2
    page.section(sheet, row, "The mix", TEXT_COLUMNS)
    row += 1
    page.headings(sheet, row, ("Option", "Lines"))
    for name, count in mix.counts.items():
        row += 1
        page.put_text(sheet, row, 1, name, style.LABEL)
        page.put(sheet, row, 2, count, style.RESULT, "0")
    if choice.last_step:
        row = _text(sheet, row + 2, choice.last_step)
    if choice.robust is not None:
        row = _text(sheet, row + 2, choice.robust.text)
    row = _texts(sheet, row + 2, "Cautions", choice.cautions or ("none of this choice; see the sheet Notes",))
    page.set_up(sheet, area=names.area(1, 1, row, TEXT_COLUMNS))


def _with_unit(heading: str, currency: str) -> str:
    """A heading with its unit in brackets."""
    if heading in MONEY:
        return f"{heading} ({currency})" if currency else heading
    name, _, unit = heading.rpartition(" ")
    return f"{name} ({UNITS[unit]})" if name and unit in UNITS else heading


def _table_sheet(
    book: Workbook, name: str, title: str, subtitle: str, table: pd.DataFrame, currency: str = ""
) -> Worksheet:
    sheet: Worksheet = book.create_sheet(name)
    page.heading(sheet, title, subtitle)
    columns = [_with_unit(str(column), currency) for column in table.columns]
    page.headings(sheet, 4, tuple(columns))
    sheet.row_dimensions[4].height = 38
    values = [table.iloc[:, k].tolist() for k in range(len(columns))]
    widths = [_width(heading, column) for heading, column in zip(columns, values, strict=True)]
    for c, column in enumerate(values, start=1):
        number_format = _format(column)
        for r, value in enumerate(column, start=5):
            _put(sheet, r, c, value, number_format)
    for r, record in enumerate(zip(*values, strict=True), start=5):
        lines = max(_lines(value, width) for value, width in zip(record, widths, strict=True))
        sheet.row_dimensions[r].height = LINE_HEIGHT * lines + 3.0
    page.widths(sheet, *widths)
    sheet.freeze_panes = "A5"
    last = 4 + max(len(table), 1)
    page.set_up(
        sheet, area=names.area(1, 1, last, max(len(columns), 1)), orientation="landscape", title_rows="4:4"
    )
    return sheet


def _front(book: Workbook, choice: ChosenMix) -> None:
    table = choice.front_table()
    currency = choice.problem.economics.currency
    sheet = _table_sheet(
        book,
        "Front",
        "Cost against TDD",
        "The cheapest mix for every TDD, no other limit asked for.",
        table,
        currency,
    )
    first, last = 5, 4 + len(table)
    chosen = last + 2
    page.put_text(sheet, chosen, 1, "chosen mix", style.LABEL)
    page.put(sheet, chosen, 2, choice.mix.tdd_pct, style.RESULT)
    page.put(sheet, chosen, 3, choice.mix.cost, style.RESULT, "#,##0")

    def column(number: int, top: int, bottom: int) -> Reference:
        return Reference(sheet, min_col=number, min_row=top, max_row=bottom)

    judged = (v for point in choice.assessment.points for v in point.result.judgement.verdicts)
    limit = min(verdict.limit for verdict in judged if verdict.quantity == TDD)
    for row, cost in ((chosen + 1, 0.0), (chosen + 2, float(table["cost"].max()))):
        page.put_text(sheet, row, 1, "TDD limit", style.LABEL)
        page.put(sheet, row, 2, limit, style.RESULT)
        page.put(sheet, row, 3, cost, style.RESULT, "#,##0")
    chart = charts.scatter(
        (
            (column(2, first, last), column(3, first, last), "cheapest for its TDD", charts.BAR, True),
            (column(2, chosen, chosen), column(3, chosen, chosen), "chosen mix", charts.LIMIT, False),
            (
                column(2, chosen + 1, chosen + 2),
                column(3, chosen + 1, chosen + 2),
                "lowest limit of the TDD",
                charts.VOLTAGE,
                True,
            ),
        ),
        "Cost against TDD",
        "largest TDD of all PCCs and cases, % of demand current",
        f"cost, {currency}" if currency else "cost",
    )
    for series in chart.series[:2]:
        series.dLbls = charts.values_shown("#,##0")
    page.break_before(sheet, chosen + 3)
    charts.place(sheet, chart, chosen + 4, 24, len(table.columns))
    page.set_up(
        sheet,
        area=names.area(1, 1, chosen + 28, len(table.columns)),
        orientation="landscape",
        title_rows="4:4",
    )


def _options(choice: ChosenMix) -> pd.DataFrame:
    rows = []
    for option in choice.problem.options:
        price = option.price
        text = (
            f"{price.a:g} + {price.b:g} kW^{price.c:g}"
            if isinstance(price, CostFormula)
            else "; ".join(f"{kw:g} kW: {value:g}" for kw, value in price.points)
        )
        rows.append(
            {
                "option": option.name,
                "price": text,
                "fixed loss %": option.losses.fixed_pct,
                "load loss %": option.losses.load_pct,
                "from kW": option.min_kw,
                "to kW": option.max_kw,
                "basis of its spectrum": getattr(option.physics, "basis", "solved by the rectifier engine"),
                "remark": option.remark,
            }
        )
    for place in choice.problem.filter_places:
        for bought in place.choices:
            rows.append(
                {
                    "option": f"{bought.name} on {place.bus}",
                    "price": f"{bought.price:g}",
                    "basis of its spectrum": bought.basis,
                    "remark": bought.remark,
                }
            )
    return pd.DataFrame(rows)


def _notes(book: Workbook, choice: ChosenMix) -> None:
    sheet: Worksheet = book.create_sheet("Notes")
    page.widths(sheet, *[20.0] * TEXT_COLUMNS)
    page.heading(sheet, "Notes", "Read the cautions before using a result.")
    row = _texts(sheet, 4, "Cautions", CAUTIONS)
    row = _texts(sheet, row + 2, "Method", METHOD)
    sources = dict.fromkeys(
        f"{v.origin.text}: {v.verified}"
        for point in choice.alone.points
        for v in point.result.judgement.verdicts
    )
    row = _texts(sheet, row + 2, "Limits used", tuple(sources))
    made = f"xlcalc {__version__}, {datetime.date.today().isoformat()}"
    row = _texts(sheet, row + 2, "Computed by", (made,))
    page.set_up(sheet, area=names.area(1, 1, row, TEXT_COLUMNS))


def _texts(sheet: Worksheet, row: int, title: str, texts: Sequence[str]) -> int:
    page.section(sheet, row, title, TEXT_COLUMNS)
    for text in texts:
        row = _text(sheet, row + 1, text)
    return row


def _text(sheet: Worksheet, row: int, text: str) -> int:
    page.put_text(sheet, row, 1, text, style.BODY)
    sheet.merge_cells(start_row=row, start_column=1, end_row=row, end_column=TEXT_COLUMNS)
    sheet.row_dimensions[row].height = 13.0 * max(1, math.ceil(len(text) / 115))
    return row


def _put(sheet: Worksheet, row: int, column: int, value: Any, number_format: str) -> None:
    if isinstance(value, str):
        page.put_text(sheet, row, column, value, style.RESULT_TEXT)
    elif value is None or (isinstance(value, float) and not math.isfinite(value)):
        page.put(sheet, row, column, None, style.RESULT)
    else:
        page.put(sheet, row, column, value, style.RESULT, number_format)


def _format(values: list[Any]) -> str:
    """One number format for a whole column."""
    numbers = [value for value in values if isinstance(value, int | float) and math.isfinite(value)]
    if all(isinstance(value, int) for value in numbers):
        return "0"
    return "#,##0" if max(map(abs, numbers), default=0.0) >= 1000.0 else "0.00"


def _lines(value: Any, width: float) -> int:
    return math.ceil(len(value) * 1.1 / max(width - 2.0, 1.0)) if isinstance(value, str) and value else 1


def _width(heading: str, values: list[Any]) -> float:
    longest = max((len(value) for value in values if isinstance(value, str)), default=0)
    return float(min(max(11, 0.6 * len(heading), longest + 2), 48))
