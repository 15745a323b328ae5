"""First sheet of a field proof: what was recorded, verdict, agreement, trend and load."""

from __future__ import annotations

import math
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names, outside
from xlcalc.schema.inputs.proof import PROOF_FIELDS
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS
from xlcalc.workbooks.drive import site_sheet
from xlcalc.workbooks.kit import marks, page, verdict_cells
from xlcalc.workbooks.proof import doubts, percentiles_sheet, values_sheet
from xlcalc.workbooks.proof import proof_names as here
from xlcalc.workbooks.proof.proof_data import ProofData

COLUMNS: Final = site_sheet.COLUMNS
DAYS: Final = 21
VALUES_OF_DAY: Final = 28_800
CHART_ROWS: Final = 15


def build(book: Workbook, sheet: Worksheet, data: ProofData) -> None:
    """Fill the sheet."""
    page.widths(sheet, 30, 22, 24, 50)
    page.heading(sheet, "Field proof", "What was recorded on site, against the limits and the prediction.")
    row = site_sheet.inputs(book, sheet, 4, "Record", here.INPUTS, PROOF_FIELDS, data.inputs)
    first = row - len(PROOF_FIELDS)
    site_sheet.name_cell(book, sheet, first, PROOF_FIELDS, "title", names.TITLE)
    for name, cell in here.FIELD_NAMES.items():
        site_sheet.name_cell(book, sheet, first, PROOF_FIELDS, name, cell)
    row = _verdicts(book, sheet, row + 1)
    row = _facts(sheet, row + 1, data)
    row = _days(book, sheet, row + 1, data) + 2
    page.break_before(sheet, row)
    row = _charts(book, sheet, row, data)
    outside.frame(book, sheet, "proof inputs", bottom=row, width=COLUMNS, above=site_sheet.ABOVE)
    page.set_up(sheet, area=names.area(1, 1, row, COLUMNS), title_rows="1:2")


def _verdicts(book: Workbook, sheet: Worksheet, row: int) -> int:
    """10-minute values of the week, 3 s values of the days, and both together."""
    page.section(sheet, row, "Verdict, IEEE 519", COLUMNS)
    week, day, whole = row + 1, row + 2, row + 3
    lines = (
        (week, "10-minute values of a week", doubts.week(percentiles_sheet.words())),
        (day, "3 s values of days", doubts.days()),
        (whole, "Limits met?", verdict_cells.worst([f"$B${week}:$B${day}"])),
    )
    base = f'AND({here.BASE}<>"",{here.IL}="")'
    given = f"OR(COUNT({here.ISC_IL},{here.KV})<2,{base})"
    missing = f'IF({given},"demand current, Isc/IL or voltage is not given"'
    known = f'IFERROR({percentiles_sheet.first_reason()}&"","no values")'
    reasons = {
        week: f'{missing},IF({here.VALUE_DOUBT}<>"",{here.VALUE_DOUBT},{known}))',
        day: here.DAY_DOUBT,
        whole: f'IF($D${week}<>"",$D${week},$D${day})',
    }
    for line, text, formula in lines:
        page.put(sheet, line, 1, text, style.LABEL)
        page.put(sheet, line, 2, f"={verdict_cells.word(formula)}", style.VERDICT)
        page.put(sheet, line, 3, None, style.LABEL)
        fault = names.INPUT_FAULT
        said = f'IF(OR($B${line}="{PASS}",$B${line}="{FAIL}"),"",IF({fault}<>"",{fault},{reasons[line]}))'
        page.put(sheet, line, 4, f"={said}", style.RESULT_TEXT)
        sheet.row_dimensions[line].height = 26
        marks.verdict(sheet, f"B{line}")
    names.define(book, names.STUDY_VERDICT, sheet, f"B{whole}")
    names.define(book, names.STUDY_REASON, sheet, f"D{whole}")
    return whole + 1


def _facts(sheet: Worksheet, row: int, data: ProofData) -> int:
    page.section(sheet, row, "What was recorded, and how it compares", COLUMNS)
    for name, text in data.facts.items():
        row += 1
        page.put(sheet, row, 1, name, style.LABEL)
        page.put_text(sheet, row, 2, text, style.RESULT_TEXT)
        sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=COLUMNS)
        sheet.row_dimensions[row].height = 12.5 * math.ceil(len(text) / 95) + 4
    for text in data.sentences:
        row += 1
        page.put_text(sheet, row, 1, text, style.RESULT_TEXT)
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=COLUMNS)
        sheet.row_dimensions[row].height = 12.5 * math.ceil(len(text) / 120) + 4
    return row + 1


def _charts(book: Workbook, sheet: Worksheet, row: int, data: ProofData) -> int:
    trend = book[here.TREND]
    block = charts.ChartRows(trend, values_sheet.FIRST_ROW, values_sheet.trend_end(data), 1)
    hours = max(float(data.trend[-1, 0]) if data.trend.size else 1.0, 1e-6)
    axis = charts.Axis("hours", 0, hours, _step(hours / 8.0))
    curves = (
        charts.curves(
            block, ((2, "fundamental", charts.CURRENT),), "Trend of the fundamental current", "A", axis
        ),
        charts.curves(block, ((3, "THD", charts.LIMIT),), "Trend of the current THD", "%", axis),
    )
    duration = charts.ChartRows(trend, values_sheet.FIRST_ROW, values_sheet.FIRST_ROW + 100, 7)
    share = charts.Axis("% of the time that the load is at least so large", 0, 100, 10)
    load = charts.curves(duration, ((8, "fundamental", charts.CURRENT),), "Load duration", "A", share)
    for chart in (*curves, load):
        charts.place(sheet, chart, row, CHART_ROWS, COLUMNS)
        row += CHART_ROWS + 1
    return row


def _step(least: float) -> float:
    """A round number that is not less."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * digit for digit in (1.0, 2.0, 5.0, 10.0) if power * digit >= least)


def _days(book: Workbook, sheet: Worksheet, row: int, data: ProofData) -> int:
    """One row per day and phase: values known, largest share of a limit that 99 % of them keep, verdict."""
    page.section(sheet, row, "3 s values: 99 % of each day, largest share of a limit", COLUMNS)
    page.headings(sheet, row + 1, ("day and phase", "values known, of 28800", "% of the limit", "verdict"))
    first = row + 2
    listed = [*data.days, *[None] * DAYS][:DAYS]
    for row, one in enumerate(listed, start=first):
        name, known, share = (None, None, None) if one is None else (f"{one[0]}, {one[1]}", one[2], one[3])
        page.put(sheet, row, 1, name, style.INPUT_TEXT)
        page.put(sheet, row, 2, known, style.INPUT, "0")
        shown = share if share is not None and math.isfinite(share) else None
        page.put(sheet, row, 3, shown, style.INPUT, "0.0")
        known_all = f"IF(ISNUMBER($B{row}),AND($B{row}>={VALUES_OF_DAY},$B{row}<={doubts.MOST_KNOWN}),FALSE)"
        passed = f'IF({known_all},IF($C{row}>{doubts.FRACTION},"{PASS}","{NO_VERDICT}"),"{NO_VERDICT}")'
        word = f'IF(ISNUMBER($C{row}),IF($C{row}>100,"{FAIL}",{passed}),"{NO_VERDICT}")'
        page.put(sheet, row, 4, f'=IF($A{row}="","",{word})', style.RESULT_TEXT)
    names.define(book, here.DAY_INPUTS, sheet, names.area(first, 1, row, 3))
    names.define(book, here.DAY_WORDS, sheet, names.area(first, 4, row, 4))
    return row
