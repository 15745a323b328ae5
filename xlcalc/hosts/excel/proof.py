"""The proof workbook: opened in Excel, it tries the functions itself and shows green or red.

What its formulas should give is computed here when it is written; what only a program can find, the macro
`xlcalc_prove` tries on opening; what only a person can see is listed below.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from typing import Any

from xlcalc import __version__
from xlcalc.hosts.excel.install import configuration
from xlcalc.hosts.excel.macro_book import macro_book
from xlcalc.hosts.excel.vba import LONG_FUNCTIONS, module_text, vba_modules
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.worksheet.registry import WorksheetFunction

STEPS: Mapping[str, str] = {
    "program": "This is the Excel whose name and build are shown",
    "start": "Python starts, and its version is that of the macros",
    "functions": "Every formula on the sheet Functions gives what Python gives",
    "errors": "Errors are error values: SUM shows them, IFERROR catches them, others pass through",
    "reason": "The reason of an error is known",
    "array_reason": "It is known inside an array formula",
    "array": "An array formula fills its cells, and #N/A shows beyond the result",
    "spill": "A formula spills, and is #SPILL! where something is in its way",
    "range": "A range goes over, also of whole columns; several in one are an error",
    "wizard": "Excel takes the texts of the function wizard",
    "time": "A call takes less than 15 ms",
    "lost": "A Python that ended is started again",
    "failed_start": "A failed start is remembered, and the macro xlcalc_restart ends that",
    "one_python": "One Python serves this Excel",
    "status_bar": "The status bar is given back",
}
"""What the macro tries, by the names of its steps and in their order."""

BY_EYE = (
    "The workbook opened without a message about repairs.",
    "Alt+F11, Debug, Compile: no message.",
    "Select a formula on the sheet Functions and press fx: a description, and a text for each argument.",
    "Select A1 of the sheet Scratch, enter =HD_CREST(7,1), Alt+F8, xlcalc_reason: a box says why.",
    "Copy this file into a synchronised SharePoint folder, open it there, Alt+F8, xlcalc_prove: green again.",
    "Open a second workbook with the macros, or the add-in: Task Manager shows no second Python.",
    "Open and close a workbook with the macros without a change: Excel does not ask whether to save.",
)
FIRST_ROW, FILE_ROW = 8, 5
_STEPS_HEADINGS = ("Step", "What", "Found", "Result")
_FUNCTIONS_HEADINGS = ("Function", "In Excel", "In Python", "Result")
_GREEN, _RED, _GREY = "C6EFCE", "FFC7CE", "D9D9D9"
_DIGITS = 1e-9
_INSTRUCTIONS = (
    "Enable the macros and wait until Verdict shows GREEN or RED (a minute), look at what is listed below "
    "and send back this workbook and the file with the results. Alt+F8, xlcalc_prove runs it again."
)


def proof_book(functions: Mapping[str, WorksheetFunction], python: str | None = None) -> bytes:
    """The file proof.xlsm, for this Python or one on Windows."""
    import openpyxl

    book = openpyxl.Workbook()
    first = book.active
    assert first is not None
    _proof_sheet(first)
    _functions_sheet(book.create_sheet("Functions"), functions)
    book.create_sheet("Scratch")
    source = io.BytesIO()
    book.save(source)
    cases = "\n".join(f'        Case "{step}"\n            proof_found = proof_{step}()' for step in STEPS)
    proof = module_text("xlcalc_proof", cases=cases, first_row=str(FIRST_ROW), file_row=str(FILE_ROW))
    opening = "Private Sub Workbook_Open()\r\n    xlcalc_prove\r\nEnd Sub\r\n"
    modules = {**vba_modules(functions), "xlcalc_proof": proof}
    return macro_book(source, configuration(python), modules, code=opening)


def _examples(functions: Mapping[str, WorksheetFunction]) -> Iterator[tuple[str, str, object]]:
    """Name, formula and value of every example that takes no time."""
    for name, function in functions.items():
        if name not in LONG_FUNCTIONS:
            for example in function.examples:
                yield name, example.formula, evaluate_formula(example.formula, functions)


def _proof_sheet(sheet: Any) -> None:
    from openpyxl.styles import Alignment, Font

    steps = range(FIRST_ROW, FIRST_ROW + len(STEPS))
    results = f"D{steps[0]}:D{steps[-1]}"
    sheet.title = "Proof"
    sheet["A1"], sheet["A2"] = f"Proof of xlcalc {__version__} in Excel", _INSTRUCTIONS
    sheet["A1"].font = Font(bold=True, size=14)
    sheet["A4"], sheet["A5"] = "Verdict", "Results in"
    sheet["B4"] = (
        f'=IF(COUNTIF({results},"not ok")>0,"RED",IF(COUNTIF({results},"?*")<{len(STEPS)},"NOT RUN","GREEN"))'
    )
    _heading(sheet, FIRST_ROW - 1, _STEPS_HEADINGS)
    for row, (step, what) in zip(steps, STEPS.items(), strict=True):
        sheet.cell(row, 1, step)
        sheet.cell(row, 2, what)
    below = steps[-1] + 2
    _heading(sheet, below, ("", "Look at this yourself, and write ok or what you saw", "", "Result"))
    for row, text in enumerate(BY_EYE, start=below + 1):
        sheet.cell(row, 2, text)
    for column, width in zip("ABCD", (14, 62, 62, 10), strict=True):
        sheet.column_dimensions[column].width = width
    for cells in sheet.iter_rows(min_row=FIRST_ROW, min_col=2, max_col=3):
        for cell in cells:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
    _colours(sheet, f"D{FIRST_ROW}:D{below + len(BY_EYE)}", {"ok": _GREEN, "not ok": _RED, "n/a": _GREY})
    _colours(sheet, "B4", {"GREEN": _GREEN, "RED": _RED, "NOT RUN": _GREY})


def _functions_sheet(sheet: Any, functions: Mapping[str, WorksheetFunction]) -> None:
    _heading(sheet, 1, _FUNCTIONS_HEADINGS)
    last = 1
    for last, (name, formula, value) in enumerate(_examples(functions), start=2):
        sheet.cell(last, 1, name)
        sheet.cell(last, 2, formula)
        sheet.cell(last, 3, value)
        same = (
            f"ABS(B{last}-C{last})<={_DIGITS}*MAX(1,ABS(C{last}))"
            if isinstance(value, float)
            else f"B{last}=C{last}"
        )
        sheet.cell(last, 4, f'=IFERROR(IF({same},"ok","differs"),"differs")')
    sheet["E1"], sheet["F1"] = "differ", f'=COUNTIF(D2:D{last},"differs")'
    for column, width in zip("ABCD", (28, 24, 24, 10), strict=True):
        sheet.column_dimensions[column].width = width
    _colours(sheet, f"D2:D{last}", {"ok": _GREEN, "differs": _RED})


def _heading(sheet: Any, row: int, texts: tuple[str, ...]) -> None:
    from openpyxl.styles import Font

    for column, text in enumerate(texts, start=1):
        sheet.cell(row, column, text).font = Font(bold=True)


def _colours(sheet: Any, cells: str, fills: Mapping[str, str]) -> None:
    from openpyxl.formatting.rule import Rule
    from openpyxl.styles import PatternFill
    from openpyxl.styles.differential import DifferentialStyle

    for text, colour in fills.items():
        fill = PatternFill(bgColor=colour, fill_type="solid")
        rule = Rule(type="cellIs", operator="equal", formula=[f'"{text}"'], dxf=DifferentialStyle(fill=fill))
        sheet.conditional_formatting.add(cells, rule)
