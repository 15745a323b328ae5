"""The page that a customer sees: all front ends side by side, on one landscape sheet."""

from __future__ import annotations

from typing import Final

from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import comparison_names as here
from xlcalc.files.books import names
from xlcalc.schema.inputs.comparison import IEC_61000_3_12, IEEE_519
from xlcalc.workbooks.comparison import comparison_charts as plots
from xlcalc.workbooks.comparison import comparison_examples as examples
from xlcalc.workbooks.comparison import comparison_front_ends as inputs
from xlcalc.workbooks.comparison import comparison_workings as workings
from xlcalc.workbooks.comparison.comparison_data import ComparisonData
from xlcalc.workbooks.kit import marks, page

LABEL_WIDTH: Final = 25.0
WIDTH: Final = 20.5
LAST: Final = here.COLUMNS + 1
HEADLINE: Final = 4
NAME: Final = 6
VERDICT: Final = 7
USED: Final = 8
SENTENCE: Final = 9
WAVES: Final = 10
SPECTRA: Final = 11
TABLE: Final = 12
ROWS: Final = (
    ("THD (%)", "thd", "0.0"),
    ("5th harmonic (%)", "fifth", "0.0"),
    ("Current, rms (A)", "rms", "0"),
    ("True power factor", "pf", "0.00"),
    ("Added losses (kW)", "loss_kw", "0.0"),
    ("Purchase", "purchase", "#,##0"),
    ("Losses, cost a year", "loss_cost", "#,##0"),
    ("Purchase and losses", "total", "#,##0"),
)
CAUTIONS: Final = (
    "Preliminary estimate from a model and the values on the sheets Site, Front ends, Prices and "
    "Residual. It does not replace measurement; qualified persons, local codes and licensed practice "
    "decide. Work on drives and supplies means dangerous voltages and stored energy.",
    "Each drive alone on this supply: other drives and capacitors of the plant are not part of it. "
    "Where voltages are unbalanced, the phase with the largest current is shown and judged.",
)


def build(sheet: Worksheet, data: Worksheet, example: ComparisonData) -> None:
    """Fill the sheet; `data` is the sheet of the workings, `example` holds the example values."""
    page.widths(sheet, LABEL_WIDTH, *[WIDTH] * here.COLUMNS)
    page.heading(sheet, "Front ends side by side", "One drive, one supply, nine ways to feed it.")
    page.study_title(sheet)
    _drive(sheet)
    _headline(sheet, example)
    _columns(sheet, example)
    _charts(sheet, data)
    _table(sheet)
    row = TABLE + len(ROWS)
    row = _basis(sheet, row)
    page.notes(sheet, row, CAUTIONS, LAST)
    for offset in range(len(CAUTIONS)):
        sheet.row_dimensions[row + offset].height = 25 if offset == 0 else 14
    area = names.area(1, 1, row + len(CAUTIONS) - 1, LAST)
    page.set_up(sheet, area=area, orientation="landscape")
    sheet.page_setup.fitToHeight = 1
    margins = sheet.page_margins
    margins.left = margins.right = 0.4
    margins.top = margins.bottom = 0.6
    margins.header = margins.footer = 0.3
    sheet.freeze_panes = f"B{NAME + 1}"


def _wide(sheet: Worksheet, row: int, formula: str, name: str, first: int = 1, last: int = LAST) -> None:
    page.put(sheet, row, first, formula, name)
    sheet.merge_cells(start_row=row, end_row=row, start_column=first, end_column=last)
    sheet.cell(row, first).alignment = Alignment(horizontal="left", vertical="center", wrap_text=True)


def _drive(sheet: Worksheet) -> None:
    field = here.field
    rating, unit, efficiency = (field(name) for name in ("rating", "unit", "efficiency pct"))
    typical = f"HD_TYPICAL_EFFICIENCY_PCT({rating},{unit})"
    assumed = f'IF({efficiency}="",", efficiency "&TEXT({typical},"0.0")&" % assumed","")'
    text = (
        f'={examples.EXAMPLE_DRIVE}&{examples.EXAMPLE_SUPPLY}&"Drive: "&ROUND({rating},2)&" "&{unit}&" ("&'
        f'TEXT(link_kw,"0")&" kW DC link"&{assumed}&", "'
        f'&TEXT(rated_amps,"0")&" A), "&TEXT({field("nominal volts")},"0")&" V, "&'
        f'TEXT({field("frequency hz")},"0")&" Hz, load "&TEXT({field("load pct")},"0")&" %.   Supply: "&'
        f'TEXT(sc_mva,"0.0")&" MVA at the drive ("&'
        f'TEXT(source_pct,"0.0")&" % source), unbalance "&TEXT(N({field("unbalance pct")}),"0.0")'
        f'&" %, background 5th "&TEXT(N({field("background 5th pct")}),"0.0")&" %, 7th "'
        f'&TEXT(N({field("background 7th pct")}),"0.0")&" %."'
    )
    _wide(sheet, 5, text, style.SUBTITLE)


def _headline(sheet: Worksheet, example: ComparisonData) -> None:
    score, use = (workings.row_of(key) for key in ("score", "known_use"))
    listed = f"{names.area(NAME, 2, NAME, LAST)}"
    best = f"MATCH(MIN({score}),{score},0)"
    nearest = f"MATCH(MIN({use}),{use},0)"
    money = f'TEXT(MIN({score}),"#,##0")&" "&{here.field("currency")}'
    count = sum(examples.is_priced(example, number) for number in range(1, here.COLUMNS + 1))
    kept = f"SUM({workings.row_of('example')})"
    text = (
        f'=IF({names.INPUT_FAULT}<>"","No verdict: "&{names.INPUT_FAULT},'
        f'IF(COUNT({score})>0,"Cheapest that keeps the limit"&IF({kept}={count},", with example prices","")'
        f'&": "&INDEX({listed},1,{best})&", "&{money}'
        f'&" for purchase and the losses of "&{here.field("years")}&" years."'
        f'&IF(AND({kept}>0,{kept}<{count})," Still of the example: "&{kept}&" of {count} prices.",""),'
        f'IF(COUNT({use})=0,"No result: see the reasons of the errors.",'
        f'"None of these keeps the limit. Nearest: "&INDEX({listed},1,{nearest})&", "'
        f'&TEXT(MIN({use}),"0")&" % of the limit.")))'
    )
    _wide(sheet, HEADLINE, text, style.STRONG)
    sheet.cell(HEADLINE, 1).font = Font(name=style.FONT, size=13, bold=True, color=style.SLATE)
    sheet.row_dimensions[HEADLINE].height = 22


def _columns(sheet: Worksheet, example: ComparisonData) -> None:
    for row, text, height in (
        (NAME, "Front end", 34),
        (VERDICT, "Limit kept?", 21),
        (USED, "Limit used (100 % = at the limit)", 30),
        (SENTENCE, "In plain words", 94),
    ):
        page.put(sheet, row, 1, text, style.HEADING_LEFT)
        sheet.row_dimensions[row].height = height
    for number in range(1, here.COLUMNS + 1):
        column = number + 1
        page.put(sheet, NAME, column, f"={inputs.place('name', number)}", style.HEADING)
        page.put(sheet, VERDICT, column, f"={workings.figure('verdict', number)}", style.VERDICT)
        page.put(sheet, USED, column, f"={workings.figure('used', number)}", style.VERDICT, '0" %"')
        sheet.cell(USED, column).font = Font(name=style.FONT, size=16, bold=True, color=style.INK)
        page.put(sheet, SENTENCE, column, _sentence(number, example), style.RESULT_TEXT)
        sheet.cell(SENTENCE, column).alignment = Alignment(
            horizontal="left", vertical="top", wrap_text=True, indent=0
        )
        letter = get_column_letter(column)
        for row in (VERDICT, USED):
            cell = f"{letter}{row}"
            marks.formula(sheet, cell, f'{letter}${VERDICT}="PASS"', style.GOOD)
            marks.formula(sheet, cell, f'{letter}${VERDICT}="FAIL"', style.BAD)
            marks.formula(sheet, cell, f'LEFT({letter}${VERDICT},2)="NO"', style.UNKNOWN)


def _sentence(number: int, example: ComparisonData) -> str:
    """The figures in words for readers outside the field."""
    thd, used, verdict, score = (workings.figure(key, number) for key in ("thd", "used", "verdict", "score"))
    best = f"IF(ISNUMBER({score}),{score}=MIN({workings.row_of('score')}),FALSE)"
    drawn = '" From a table, not solved."' if number > here.BRIDGES else '""'
    unknown = '"No verdict: the limit is not known well enough."'
    if number > here.BRIDGES:
        asked = '"No verdict: its spectrum is the example. Enter one with its basis on the sheet Residual."'
        small = '"No verdict: its largest order is below 1 %. On the sheet Residual 20 stands for 20 %."'
        unknown = f"IF({examples.residual_in_fractions()},{small},{unknown})"
        unknown = f"IF({examples.untouched_basis(example)},{asked},{unknown})"
    return (
        f'=IF(ISERROR({thd}),"No steady current was found: see the reasons of the errors.",'
        f'"For every 100 A that do work, "&TEXT({thd},IF({thd}<10,"0.0","0"))&'
        f'" A of harmonics flow as well. "'
        f'&IF({verdict}="PASS","Keeps the limit: "&TEXT({used},"0")&" % of it is used.",'
        f'IF({verdict}="FAIL","Breaks the limit: "&TEXT({used}/100,"0.0")&" times what is allowed.",'
        f"{unknown}))"
        f'&IF({best}," Cheapest that keeps it.","")&{drawn})'
    )


def _charts(sheet: Worksheet, data: Worksheet) -> None:
    share = LABEL_WIDTH / (LABEL_WIDTH + WIDTH * here.COLUMNS)
    for row, height, text in ((WAVES, 128, "Current, one cycle"), (SPECTRA, 138, "Harmonics by order")):
        sheet.row_dimensions[row].height = height
        for column in range(1, LAST + 1):
            sheet.cell(row, column).style = style.LABEL
        sheet.cell(row, 1).value = text
    charts.place(sheet, plots.waveforms(data, share), WAVES, 1, LAST)
    charts.place(sheet, plots.spectra(data, share), SPECTRA, 1, LAST)


def _table(sheet: Worksheet) -> None:
    for offset, (text, key, number_format) in enumerate(ROWS):
        row = TABLE + offset
        sheet.row_dimensions[row].height = 14
        money = key in ("purchase", "loss_cost", "total")
        label = f'="{text} ("&{here.field("currency")}&")"' if money else text
        page.put(sheet, row, 1, label, style.LABEL)
        for number in range(1, here.COLUMNS + 1):
            page.put(sheet, row, number + 1, f"={workings.figure(key, number)}", style.FIGURE, number_format)
            sheet.cell(row, number + 1).alignment = Alignment(horizontal="center", vertical="center")
    marks.errors(sheet, names.area(TABLE, 2, TABLE + len(ROWS) - 1, LAST))


def _basis(sheet: Worksheet, row: int) -> int:
    """Limit with its clause, how to read the charts, and the basis of the residual spectrum."""
    limit = here.field("limit")
    clause, verified = (workings.row_of(key) for key in ("clause", "verified"))
    most = f"MATCH(MAX({workings.row_of('known_use')}),{workings.row_of('known_use')},0)"
    base = (
        f'IF({limit}="{IEEE_519}","the demand current of "&TEXT(demand,"0")&" A (Isc/IL "&'
        f'TEXT(isc_il,"0.0")&")",'
        f'IF({limit}="{IEC_61000_3_12}","the reference current of "&TEXT(reference,"0.0")&" A (Rsce "'
        f'&TEXT(rsce,"0")&")","the fundamental"))'
    )
    texts = (
        f'="Limit: "&IFERROR(INDEX({clause},1,{most})&" ("&INDEX({verified},1,{most})&")",{limit})'
        f'&", in percent of "&{base}&". The percentage used is that of the total or the order that comes '
        f'closest to its limit or exceeds it most."',
        '="Charts: all columns have the same scale. Dark line: current that the drive draws; dashed line: '
        "the sine that a perfect load would draw. Bars: harmonics by order (rest: all others together), red "
        'dashes: limit of that order. Percent as for the limit."',
        f'={inputs.place("name", here.COLUMNS)}&": "&residual_basis&'
        '"   Prices and losses: see the sheet Prices."',
    )
    for offset, text in enumerate(texts):
        _wide(sheet, row + offset, text, style.SUBTITLE)
        sheet.row_dimensions[row + offset].height = 14
    return row + len(texts)
