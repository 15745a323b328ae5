"""Sheet of the workings: figures per front end, amperes, and the points of the charts."""

from __future__ import annotations

from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import comparison_names as here
from xlcalc.files.books import names
from xlcalc.schema.inputs.comparison import IEC_61000_3_12, IEEE_519
from xlcalc.standards.verdict import NO_VERDICT
from xlcalc.workbooks.comparison import comparison_arrays as arrays
from xlcalc.workbooks.comparison import comparison_examples as examples
from xlcalc.workbooks.comparison import comparison_front_ends as inputs
from xlcalc.workbooks.comparison.comparison_data import ComparisonData
from xlcalc.workbooks.kit import marks, page, verdict_cells

FIRST_ROW: Final = 6
ORDERS: Final = arrays.ORDERS
FIGURES: Final = (
    ("phase", "Phase with the largest rms current", "0"),
    ("cosine", "Fundamental, cosine part (pu)", "0.0000"),
    ("sine", "Fundamental, sine part (pu)", "0.0000"),
    ("fundamental", "Fundamental (A)", "0.00"),
    ("thd", "THD, orders to 50 (%)", "0.00"),
    ("fifth", "5th (%)", "0.00"),
    ("harmonics", "Harmonic current (A)", "0.00"),
    ("rms", "rms current (A)", "0.00"),
    ("pf", "True power factor", "0.000"),
    ("purchase", "Purchase", "#,##0"),
    ("loss_kw", "Added losses (kW)", "0.00"),
    ("loss_cost", "Cost of added losses a year", "#,##0"),
    ("total", "Purchase and losses", "#,##0"),
    ("base", "Base of the limit (A)", "0.0"),
    ("used", "Limit used (%)", "0.0"),
    ("verdict", "Verdict", "General"),
    ("binding", "Row of the binding limit", "0"),
    ("clause", "Clause", "General"),
    ("verified", "Verification of the limit", "General"),
    ("score", "Cost where the limit is met", "#,##0"),
    ("known_use", "Limit used, where known", "0.0"),
    ("example", "Price of the example? (1: yes)", "0"),
)
KEYS: Final = tuple(key for key, _, _ in FIGURES)
AMPS_FROM: Final = here.COLUMNS + 3
JUDGED_FROM: Final = AMPS_FROM + 2 * here.COLUMNS + 1
JUDGED_WIDTH: Final = 4
BARS_FROM: Final = JUDGED_FROM + JUDGED_WIDTH * here.COLUMNS + 1
WAVES_FROM: Final = BARS_FROM + 4
BAR_ORDERS: Final = (3, 5, 7, 11, 13, 17, 19, 23, 25)
PANEL: Final = ("", *map(str, BAR_ORDERS), "rest", "")
BARS: Final = len(PANEL) * here.COLUMNS
WAVE_STEP: Final = 2
POINTS: Final = arrays.STEPS // WAVE_STEP + 1
PANEL_DEGREES: Final = 400
PANEL_START: Final = 20
BEFORE_PEAK: Final = 270


def figure(key: str, number: int) -> str:
    """Reference to a figure of a front end."""
    return here.cell(here.WORKINGS, FIRST_ROW + KEYS.index(key), 1 + number)


def row_of(key: str) -> str:
    """Reference to a figure of all front ends."""
    row = FIRST_ROW + KEYS.index(key)
    return here.cells(here.WORKINGS, row, 2, row, 1 + here.COLUMNS)


def amps(number: int) -> str:
    """Range of order and amperes of a front end."""
    column = AMPS_FROM + 2 * (number - 1)
    return here.cells(here.WORKINGS, FIRST_ROW, column, FIRST_ROW + ORDERS - 1, column + 1)


def judged(number: int, column: int) -> str:
    """Column of the judged limits of a front end: order, limit, used, word."""
    where = JUDGED_FROM + JUDGED_WIDTH * (number - 1) + column - 1
    return here.cells(here.WORKINGS, FIRST_ROW, where, FIRST_ROW + ORDERS - 1, where)


def build(sheet: Worksheet, data: ComparisonData) -> None:
    """Fill the sheet; `data` holds the example values."""
    page.heading(sheet, here.WORKINGS, "How the figures of the comparison follow. Nothing to enter here.")
    page.put(sheet, FIRST_ROW - 1, 1, "figure", style.HEADING)
    for offset, (_, text, number_format) in enumerate(FIGURES):
        page.put(sheet, FIRST_ROW + offset, 1, text, style.LABEL)
        for number in range(1, here.COLUMNS + 1):
            formula = _formula(FIGURES[offset][0], number, data)
            page.put(sheet, FIRST_ROW + offset, 1 + number, f"={formula}", style.RESULT, number_format)
    for number in range(1, here.COLUMNS + 1):
        page.put(sheet, FIRST_ROW - 1, 1 + number, f"={inputs.place('name', number)}", style.HEADING)
        _amperes(sheet, number)
        _judged(sheet, number)
        _bars(sheet, number)
        _waves(sheet, number)
    page.headings(sheet, FIRST_ROW - 1, ("order", "current", "limit"), BARS_FROM)
    sheet.row_dimensions[FIRST_ROW - 1].height = 38
    marks.errors(sheet, names.area(FIRST_ROW, 2, FIRST_ROW + len(FIGURES) - 1, 1 + here.COLUMNS))
    page.widths(sheet, 36, *[13.0] * (WAVES_FROM + 3 * here.COLUMNS))
    sheet.freeze_panes = f"B{FIRST_ROW}"
    area = names.area(1, 1, FIRST_ROW + len(FIGURES) - 1, 1 + here.COLUMNS)
    page.set_up(sheet, area=area, orientation="landscape")


def _formula(key: str, number: int, data: ComparisonData) -> str:
    def own(name: str) -> str:
        return figure(name, number)

    circuit = number <= here.BRIDGES
    drive = arrays.arguments(number) if circuit else ""
    wave, spectrum, verdict = arrays.waveform(number), arrays.spectrum(number), arrays.verdicts(number)
    load = here.field("load pct")
    turn = f"RADIANS({wave.part(1)})"
    fixed, varying = inputs.price("fixed loss (%)", number), inputs.price("load loss (%)", number)
    a, b, c = (inputs.price(f"price {letter}", number) for letter in "abc")
    limit = here.field("limit")
    words = judged(number, 4)
    doubted = f"OR({examples.untouched_basis(data)},{examples.residual_in_fractions()})"
    unknown = "FALSE" if circuit else doubted
    priced = examples.is_priced(data, number)
    formulas = {
        "phase": f"INDEX(HD_DERATING({drive}),1,3)" if circuit else "1",
        "cosine": f"SUMPRODUCT({wave.part(2)},COS({turn}))/{arrays.STEPS // 2}",
        "sine": f"SUMPRODUCT({wave.part(2)},SIN({turn}))/{arrays.STEPS // 2}",
        "fundamental": f"SQRT({own('cosine')}^2+{own('sine')}^2)*rated_amps",
        "thd": f"HD_THD({spectrum.reference})",
        "fifth": spectrum.cell(5, 2),
        "harmonics": f"{own('thd')}/100*{own('fundamental')}",
        "rms": f"SQRT({own('fundamental')}^2+{own('harmonics')}^2)",
        "pf": f"HD_TRUE_PF({drive},{own('phase')})" if circuit else f"{own('fundamental')}/{own('rms')}",
        "purchase": f"{a}+{b}*link_kw^{c}",
        "loss_kw": f"link_kw*({fixed}+{varying}*({load}/100)^2)/100",
        "loss_cost": f"{own('loss_kw')}*{here.field('hours per year')}*{here.field('price per kwh')}",
        "total": f"{own('purchase')}+{own('loss_cost')}*worth_of_years",
        "base": f'IF({limit}="{IEEE_519}",demand,'
        f'IF({limit}="{IEC_61000_3_12}",reference,{own("fundamental")}))',
        "used": f"MAX({judged(number, 3)})+0*N({verdict.cell(1, 3)})",
        "verdict": verdict_cells.word(
            f'IF({unknown},"{NO_VERDICT}",IF(ISERROR({own("used")}),"{NO_VERDICT}",'
            f"{verdict_cells.worst([words])}))"
        ),
        "binding": f"MATCH({own('used')},{judged(number, 3)},0)",
        "clause": f'INDEX({verdict.part(7)},{own("binding")},1)&""',
        "verified": f'INDEX({verdict.part(9)},{own("binding")},1)&""',
        "score": f'IF({own("verdict")}="PASS",{own("total")},"")',
        "known_use": f'IF({unknown},"",IFERROR({own("used")},""))',
        "example": f"IF({examples.untouched_price(data, number)},1,0)" if priced else "0",
    }
    return formulas[key]


def _amperes(sheet: Worksheet, number: int) -> None:
    column = AMPS_FROM + 2 * (number - 1)
    page.put(sheet, FIRST_ROW - 2, column, f"={inputs.place('name', number)}", style.SUBTITLE)
    page.headings(sheet, FIRST_ROW - 1, ("order", "A"), column)
    for order in range(1, ORDERS + 1):
        row = FIRST_ROW + order - 1
        page.put(sheet, row, column, order, style.ARRAY, "0")
        percent = arrays.spectrum(number).cell(order, 2)
        current = f"{percent}/100*{figure('fundamental', number)}"
        page.put(sheet, row, column + 1, f'=IF({percent}="","",{current})', style.ARRAY)


def _judged(sheet: Worksheet, number: int) -> None:
    """The verdicts, without the rows that a standard leaves open."""
    column = JUDGED_FROM + JUDGED_WIDTH * (number - 1)
    page.put(sheet, FIRST_ROW - 2, column, f"={inputs.place('name', number)}", style.SUBTITLE)
    page.headings(sheet, FIRST_ROW - 1, ("order", "limit", "used (%)", "verdict"), column)
    verdict = arrays.verdicts(number)
    for line in range(1, ORDERS + 1):
        value, limit = verdict.cell(line, 3), verdict.cell(line, 4)
        for offset, formula in enumerate(
            (verdict.cell(line, 2), limit, f"100*{value}/{limit}", f'{verdict.cell(line, 6)}&""')
        ):
            page.put(sheet, FIRST_ROW + line - 1, column + offset, f'=IFERROR({formula},"")', style.ARRAY)


def _bars(sheet: Worksheet, number: int) -> None:
    """Bars by order in percent of what the limit refers to; the last one holds all other orders together."""
    spectrum = arrays.spectrum(number)
    factor = f"{figure('fundamental', number)}/{figure('base', number)}"
    for offset, text in enumerate(PANEL):
        row = FIRST_ROW + len(PANEL) * (number - 1) + offset
        page.put(sheet, row, BARS_FROM, text or " ", style.ARRAY)
        if text == "rest":
            shown = ",".join(spectrum.cell(order, 2) for order in (1, *BAR_ORDERS))
            rest = f"SQRT(MAX(0,SUMSQ({spectrum.part(2)})-SUMSQ({shown})))"
            page.put(sheet, row, BARS_FROM + 1, f"={rest}*{factor}", style.ARRAY)
        elif text:
            page.put(sheet, row, BARS_FROM + 1, f"=N({spectrum.cell(int(text), 2)})*{factor}", style.ARRAY)
            found = f"INDEX({judged(number, 2)},MATCH({text},{judged(number, 1)},0),1)"
            page.put(sheet, row, BARS_FROM + 2, f'=IFERROR({found},"")', style.ARRAY)


def _waves(sheet: Worksheet, number: int) -> None:
    """Current and the sine of its fundamental in amperes, from the rise of the phase voltage."""
    column = WAVES_FROM + 3 * (number - 1)
    page.headings(sheet, FIRST_ROW - 1, ("place", "current (A)", "sine (A)"), column)
    wave = arrays.waveform(number)
    peak = "rated_amps*SQRT(2)"
    for point in range(POINTS):
        row = FIRST_ROW + point
        degrees = point * WAVE_STEP
        turned = f"MOD({degrees + BEFORE_PEAK}+120*({figure('phase', number)}-1),{arrays.STEPS})"
        place = PANEL_DEGREES * (number - 1) + PANEL_START + degrees
        page.put(sheet, row, column, place, style.ARRAY, "0")
        current = f"INDEX({wave.part(2)},{turned}+1,1)"
        page.put(sheet, row, column + 1, f"={current}*{peak}", style.ARRAY, "0.00")
        angle = f"RADIANS({turned})"
        parts = f"{figure('cosine', number)}*COS({angle})+{figure('sine', number)}*SIN({angle})"
        page.put(sheet, row, column + 2, f"=({parts})*{peak}", style.ARRAY, "0.00")
