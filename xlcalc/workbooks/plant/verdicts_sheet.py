"""Sheet of all verdicts of a plant: every PCC in every case, checks of the equipment, the worst of all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS
from xlcalc.workbooks.drive import pcc_sheet, summary_sheet
from xlcalc.workbooks.kit import marks, page, verdict_cells
from xlcalc.workbooks.plant import cases_sheet, plant_arrays
from xlcalc.workbooks.plant.plant_drives_sheet import COUPLED

SHEET: Final = "Verdicts"
WORST_ROW: Final = 4
HEADER_ROW: Final = 8
FIRST_ROW: Final = HEADER_ROW + 1
COLUMNS: Final = 4
HEADINGS: Final = ("PCC or check", "case", "verdict", "binding value and limit, or why no verdict")
MARGIN_COLUMN: Final = 6
"""Margin in percent of each PCC and case, beside the page."""


@dataclass(frozen=True)
class Checked:
    """Rows of a sheet with one check each: name of the element in column A, verdict in `letter`.

    The first `shown` rows are in view there.
    """

    sheet: str
    what: str
    rows: range
    letter: str
    shown: int


@dataclass(frozen=True)
class Item:
    """One line: formulas without equals signs."""

    text: str
    case: str
    verdict: str
    reason: str
    margin: str = ""


def build(book: Workbook, sheet: Worksheet, checks: Sequence[Checked]) -> None:
    """Fill the sheet and define the names of the verdict on the whole."""
    page.widths(sheet, 44, 24, 16, 76)
    page.heading(
        sheet,
        SHEET,
        "Every PCC in every case, and what is judged of the equipment in the case in view (sheet PCC).",
    )
    page.study_title(sheet)
    items = [*_pccs(), *_checks(checks)]
    last = HEADER_ROW + len(items)
    page.section(sheet, WORST_ROW, "Worst of all", COLUMNS)
    area = f"$C${FIRST_ROW}:$C${last}"
    whole = f"$A${WORST_ROW + 1}"
    worst = f'IF({names.INPUT_FAULT}<>"","{NO_VERDICT}",{verdict_cells.worst([area])})'
    page.put(sheet, WORST_ROW + 1, 1, f"={worst}", style.VERDICT)
    sheet.row_dimensions[WORST_ROW + 1].height = 24
    marks.verdict(sheet, f"A{WORST_ROW + 1}")
    names.define(book, names.STUDY_VERDICT, sheet, f"A{WORST_ROW + 1}")
    margins = f"$F${FIRST_ROW}:$F${last}"
    least = f"MATCH(MIN({margins}),{margins},0)"
    found = f"IF(IFERROR(INDEX({area},{least})={whole},FALSE),{least},MATCH({whole},{area},0))"
    first = f'INDEX($A${FIRST_ROW}:$A${last},{found})&", "&INDEX($B${FIRST_ROW}:$B${last},{found})'
    names.define(book, plant_names.WORST_ITEM, sheet, f"B{WORST_ROW + 1}")
    page.put(sheet, WORST_ROW + 1, 2, f'=IF({whole}="{PASS}","",IFERROR({first},""))', style.STRONG)
    decided = f"INDEX($D${FIRST_ROW}:$D${last},{found})"
    sentence = f'{whole}&": "&{first}&IF({decided}="","",": "&{decided})'
    _beside(
        book,
        sheet,
        WORST_ROW,
        plant_names.SENTENCE,
        f'IF({names.INPUT_FAULT}<>"","{NO_VERDICT}: "&{names.INPUT_FAULT},IFERROR({sentence},{whole}))',
    )
    position = f"IFERROR({least},1)"
    block = plant_names.CASES + 1
    _beside(book, sheet, WORST_ROW + 1, plant_names.DECIDING_PCC, f"1+INT(({position}-1)/{block})")
    _beside(book, sheet, WORST_ROW + 2, plant_names.DECIDING_CASE, f"1+MOD({position}-1,{block})")
    given = f'IFERROR(INDEX($D${FIRST_ROW}:$D${last},{found}),"nothing is judged")'
    why = f'IF({whole}<>"{NO_VERDICT}","",IF({names.INPUT_FAULT}<>"",{names.INPUT_FAULT},{given}))'
    page.put(sheet, WORST_ROW + 2, 1, f"={why}", style.STRONG)
    names.define(book, names.STUDY_REASON, sheet, f"A{WORST_ROW + 2}")
    marks.formula(sheet, f"A{WORST_ROW + 2}", f'$A${WORST_ROW + 2}<>""', style.UNKNOWN)
    page.headings(sheet, HEADER_ROW, HEADINGS)
    for row, item in enumerate(items, start=FIRST_ROW):
        for column, formula in enumerate((item.text, item.case, item.verdict, item.reason), start=1):
            page.put(sheet, row, column, f"={formula}", style.RESULT_TEXT)
        if item.margin:
            page.put(sheet, row, MARGIN_COLUMN, f"={item.margin}", style.ARRAY)
        marks.verdict(sheet, f"C{row}")
    row = FIRST_ROW + len(items) - sum(len(check.rows) for check in checks)
    for check in checks:
        page.fold(sheet, row + check.shown, row + len(check.rows) - 1)
        row += len(check.rows)
    names.define(book, names.STUDY_VERDICTS, sheet, names.area(FIRST_ROW, 1, last, COLUMNS))
    page.set_up(sheet, area=names.area(1, 1, last, COLUMNS), title_rows=f"{HEADER_ROW}:{HEADER_ROW}")
    sheet.freeze_panes = f"A{FIRST_ROW}"


def _beside(book: Workbook, sheet: Worksheet, row: int, name: str, formula: str) -> None:
    """A value for other sheets, right of the page."""
    page.put(sheet, row, MARGIN_COLUMN, f"={formula}", style.ARRAY, "General")
    names.define(book, name, sheet, f"F{row}")


def _pccs() -> Iterator[Item]:
    """Coupled verdicts of every PCC; one that no case supplies has none."""
    for number in range(1, plant_names.PCCS + 1):
        bus = cases_sheet.pcc_cell(number)
        text = f'IF({bus}="","","PCC "&{bus})'
        supplied = [cases_sheet.supplied_cell(number, case) for case in range(1, plant_names.CASES + 1)]
        for case, there in enumerate(supplied, start=1):
            word = cases_sheet.line_cell(number, case, "VERDICT")
            reason = cases_sheet.line_cell(number, case, "REASON")
            margin = cases_sheet.line_cell(number, case, "MARGIN")
            finding = verdict_cells.text(
                plant_arrays.value(bus, "FINDING", plant_names.pcc_settings(number, case))
            )
            judged = f'{cases_sheet.supplied_or_unknown(there)}="yes"'
            yield Item(
                f'IF({judged},{text},"")',
                f'IF({judged},{cases_sheet.name_text(case)},"")',
                f'IF({judged},{word},"")',
                f'IF({judged},IF(LEN({reason})>0,{reason},{finding}),"")',
                f'IF({judged},IF(ISNUMBER({margin}),{margin},""),"")',
            )
        never = "AND(" + ",".join(f'{there}="no"' for there in supplied) + f',{bus}<>"")'
        yield Item(
            f'IF(IFERROR({never},FALSE),{text},"")',
            f'IF(IFERROR({never},FALSE),"all","")',
            f'IF(IFERROR({never},FALSE),"{NO_VERDICT}","")',
            f'IF(IFERROR({never},FALSE),"no case supplies this bus","")',
        )


def _checks(checks: Sequence[Checked]) -> Iterator[Item]:
    """Checks that came to a verdict, or to an error; one without data is not judged."""
    for check in checks:
        for row in check.rows:
            quoted = names.quoted(check.sheet)
            cell, name = f"{quoted}!${check.letter}{row}", f"{quoted}!$A{row}"
            judged = f'IF(ISERROR({cell}),TRUE,OR({cell}="{PASS}",{cell}="{FAIL}",{cell}="{NO_VERDICT}"))'
            failed = f"ISERROR({cell})"
            yield Item(
                f'IF({judged},"{check.what}: "&{name},"")',
                f'IF({judged},{plant_names.VIEW_NAME},"")',
                f'IF({judged},IF({failed},"{NO_VERDICT}",{cell}),"")',
                f'IF({failed},"{check.sheet}!{check.letter}{row} is an error","")',
            )


def build_summary(book: Workbook, sheet: Worksheet) -> None:
    """The first sheet of the study; its figures are those of the PCC and case with the smallest margin."""
    bus, case = plant_arrays.deciding_bus(), plant_names.DECIDING_CASE
    shown = ",".join(cases_sheet.name_text(number) for number in range(1, plant_names.CASES + 1))
    place = f'{bus}&", "&CHOOSE({case},{shown})&": the smallest margin of all PCCs and cases"'
    count = f'COUNTA({names.TAGS})&" rows of drives typed, "&{pcc_sheet.solved_count(COUPLED[1])}'
    summary_sheet.fill(
        book,
        sheet,
        summary_sheet.JudgedSentence(names.STUDY_VERDICT, plant_names.SENTENCE, place),
        lambda quantity: plant_arrays.value(bus, quantity, plant_names.DECIDING),
        f'{count}&" run in the case in view"',
        plant_arrays.CONTRIBUTIONS,
    )
