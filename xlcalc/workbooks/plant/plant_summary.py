"""The results of a calculated plant study as plain data, read from its sheet of cases."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from openpyxl import load_workbook

from xlcalc.files.books import plant_names
from xlcalc.workbooks.drive.summary import CellValue, plain
from xlcalc.workbooks.plant import cases_sheet

COUPLED, QUICK = "coupled", "quick estimate"


@dataclass(frozen=True)
class CaseResult:
    """One PCC in one case, in one way of solution.

    Parameters
    ----------
    pcc, case, solution : str
        Bus, name of the case, and how it was solved.
    supplied : bool
        Whether the case supplies the bus; without it there are no figures.
    figures : dict
        Cell value by quantity of HD_PLANT_VALUE; an error value of the sheet is its text.
    """

    pcc: str
    case: str
    solution: str
    supplied: bool
    figures: dict[str, CellValue]


def read_plant_summary(path: Path) -> tuple[CaseResult, ...]:
    """Both PCCs in all cases, read from a workbook made from the plant template."""
    sheet = load_workbook(path, data_only=True)[plant_names.CASES_SHEET]
    results = []
    for number in range(plant_names.PCCS):
        row = cases_sheet.PCC_ROW + number * cases_sheet.PCC_HEIGHT
        bus = plain(sheet.cell(row + 1, 1).value)
        if not bus:
            continue
        for case in range(1, plant_names.CASES + 1):
            name = str(sheet.cell(row, 2 * case).value)
            for offset, solution in enumerate((COUPLED, QUICK)):
                column = 2 * case + offset
                figures = {
                    line.quantity: plain(sheet.cell(row + 3 + k, column).value)
                    for k, line in enumerate(cases_sheet.LINES)
                }
                supplied = sheet.cell(row + 2, column).value == "yes"
                results.append(CaseResult(str(bus), name, solution, supplied, figures))
    return tuple(results)
