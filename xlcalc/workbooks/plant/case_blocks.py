"""Sheet of settings: for every case the range of names and values that the functions take."""

from __future__ import annotations

from dataclasses import dataclass

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.schema.inputs.settings import CASE_FIELDS
from xlcalc.workbooks.kit import page, verdict_cells
from xlcalc.workbooks.kit.labels import label
from xlcalc.workbooks.plant import cases_sheet, plant_arrays, plant_drives_sheet
from xlcalc.workbooks.plant.study_sheet import shown_settings

FIRST_ROW = 6
DEMAND = "demand amps estimated"


@dataclass(frozen=True)
class SettingsBlock:
    """One range of settings: its name, the case it takes, and the values that differ from the case.

    `demand` is the formula of the largest fundamental of all cases, for judgements.
    """

    name: str
    case: str
    title: str
    changed: tuple[tuple[str, str], ...] = ()
    demand: str = ""


def blocks() -> tuple[SettingsBlock, ...]:
    """Coupled and quick settings of every case, and those of the case in view."""
    found = []
    for number in range(1, plant_names.CASES + 1):
        for quick in (False, True):
            word = "uncoupled" if quick else "coupled"
            found.append(
                SettingsBlock(
                    plant_names.case_settings(number, quick),
                    str(number),
                    f"Case {number}, {word}",
                    (("solution", word),),
                )
            )
            for pcc in range(1, plant_names.PCCS + 1):
                cells = [
                    cases_sheet.line_cell(pcc, case, "FUNDAMENTAL")
                    for case in range(1, plant_names.CASES + 1)
                ]
                name = plant_names.pcc_settings(pcc, number, quick)
                title = f"PCC {pcc}, case {number}, {word}"
                changed = (("solution", word),)
                found.append(SettingsBlock(name, str(number), title, changed, _largest(cells)))
    view = plant_names.VIEW_CASE
    in_view = [
        verdict_cells.text(
            plant_arrays.value(plant_names.VIEW_BUS, "FUNDAMENTAL", plant_names.case_settings(case))
        )
        for case in range(1, plant_names.CASES + 1)
    ]
    demand = [
        _largest(
            [cases_sheet.line_cell(pcc, case, "FUNDAMENTAL") for case in range(1, plant_names.CASES + 1)]
        )
        for pcc in range(1, plant_names.PCCS + 1)
    ]
    of_deciding = f"CHOOSE({plant_names.DECIDING_PCC},{','.join(demand)})"
    coupled, alone = (("solution", "coupled"),), (("solution", "uncoupled"),)
    return (
        *found,
        SettingsBlock(
            plant_names.DECIDING, plant_names.DECIDING_CASE, "Smallest margin", coupled, of_deciding
        ),
        SettingsBlock(plant_names.VIEW, view, "In view, coupled", coupled),
        SettingsBlock(plant_names.VIEW_JUDGED, view, "In view, judged", coupled, _largest(in_view)),
        SettingsBlock(plant_names.VIEW_QUICK, view, "In view, uncoupled", alone),
        SettingsBlock(
            plant_names.VIEW_OPEN,
            view,
            "In view, without capacitors",
            (("solution", "coupled"), ("capacitors", "off")),
        ),
    )


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet and define a name for each block."""
    page.heading(
        sheet,
        names.CASE_SETTINGS_SHEET,
        "What the functions get in each case. Nothing to enter here: change the sheets Study and Cases.",
    )
    ((_, cells),) = book.defined_names[names.SETTINGS].destinations
    first_setting = names.bounds(cells)[1]
    for position, block in enumerate(blocks()):
        column = 1 + 3 * position
        page.put(sheet, FIRST_ROW - 1, column, block.title, style.STRONG)
        page.headings(sheet, FIRST_ROW - 1, (block.title, "value"), column)
        row = FIRST_ROW
        for field in CASE_FIELDS:
            changed = dict(block.changed).get(field.name)
            source = changed if changed else f"={_case_cell(field.name, block.case)}"
            page.put(sheet, row, column, label(field.name), style.LABEL)
            page.put(sheet, row, column + 1, source, style.RESULT, "General")
            row += 1
        for offset, field in enumerate(shown_settings()):
            cell = f"{plant_names.STUDY_SHEET}!$B${first_setting + offset}"
            page.put(sheet, row, column, label(field.name), style.LABEL)
            page.put(sheet, row, column + 1, f'=IF({cell}="","",{cell})', style.RESULT, "General")
            row += 1
        for text, formula in _corners() if block.demand else ():
            page.put(sheet, row, column, text, style.LABEL)
            page.put(sheet, row, column + 1, formula, style.RESULT, "General")
            row += 1
        if block.demand:
            page.put(sheet, row, column, DEMAND, style.LABEL)
            page.put(sheet, row, column + 1, f"={block.demand}", style.RESULT, "General")
            row += 1
        names.define(book, block.name, sheet, names.area(FIRST_ROW, column, row - 1, column + 1))
    page.widths(sheet, *[24, 13, 3] * len(blocks()))
    page.set_up(sheet, area="A1:H3")
    sheet.freeze_panes = f"A{FIRST_ROW}"


def _largest(cells: list[str]) -> str:
    """The largest number of several formulas, blank where there is none."""
    listed = ",".join(f"N({cell})" for cell in cells)
    return f'IF(MAX({listed})>0,MAX({listed}),"")'


def _corners() -> tuple[tuple[str, str], ...]:
    """Where the ranges of network and drives begin, so that reasons name the cell in every host."""
    first = f"{names.DRIVES_SHEET}!$A${plant_drives_sheet.HEADER_ROW}"
    network = plant_names.NETWORK_SHEET
    return (
        ("network at", f'="{network}!A"&ROW({network}!$A$1)'),
        ("drives at", f'="{names.DRIVES_SHEET}!A"&ROW({first})'),
    )


def _case_cell(field: str, case: str) -> str:
    """The value of a field in a case, a number or the name of the cell with the number."""
    cells = [cases_sheet.input_cell(field, number) for number in range(1, plant_names.CASES + 1)]
    cell = f"CHOOSE({case},{','.join(cells)})" if not case.isdigit() else cells[int(case) - 1]
    return f'IF({cell}="","",{cell})'
