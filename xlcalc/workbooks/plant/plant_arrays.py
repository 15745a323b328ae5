"""Sheet of array results of the plant template, and the formulas of its functions."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.studies.verdict.phases import ROWS as PHASE_ROWS
from xlcalc.workbooks.drive.arrays_sheet import CAUSE_HEADINGS, FIRST_ROW, HEADER_ROW, PCC, RANKED, Block
from xlcalc.workbooks.kit import page
from xlcalc.workbooks.plant import plant_drives_sheet as plant_schedule
from xlcalc.workbooks.plant.network_sheet import HELD
from xlcalc.worksheet.functions.equipment.power import COLUMNS, THREE_PHASE_QUANTITIES
from xlcalc.worksheet.functions.plant.network_levels import COLUMNS as LEVEL_COLUMNS
from xlcalc.worksheet.functions.plant.network_levels import ROWS
from xlcalc.worksheet.functions.plant.notches import NOTCH_COLUMNS
from xlcalc.worksheet.functions.plant.phases import BUS_HEADINGS as BUS_PHASE_HEADINGS
from xlcalc.worksheet.functions.plant.phases import HEADINGS as PHASE_HEADINGS
from xlcalc.worksheet.functions.plant.plant_study import BUS_COLUMNS, DRIVE_COLUMNS, RESONANCE_COLUMNS

BUS_ROWS: Final = HELD["buses"]
MAX_DRIVES: Final = 500
RESONANCES: Final = 10
SCAN_ROWS: Final = 491
THD: Final = 1 + BUS_COLUMNS.index("voltage THD %")
GAP: Final = 1

_START: Final = len(PCC.headings) + 1 + GAP
SCAN: Final = Block("view_scan", _START, SCAN_ROWS, ("order", "ohm", "angle (deg)"))
SCAN_OPEN: Final = Block("view_scan_open", _START + 4, SCAN_ROWS, ("order", "ohm", "angle (deg)"))
FOUND: Final = Block("view_resonances", _START + 8, RESONANCES, RESONANCE_COLUMNS)
DRIVES: Final = Block("drive_results", FOUND.first_column + 7, MAX_DRIVES, DRIVE_COLUMNS)
TAGS: Final = Block("drive_result_tags", DRIVES.first_column + 7, MAX_DRIVES, ("tag as text",))
QUICK: Final = Block("drive_quick", TAGS.first_column + 2, MAX_DRIVES, DRIVE_COLUMNS)
QUICK_TAGS: Final = Block("drive_quick_tags", QUICK.first_column + 7, MAX_DRIVES, ("tag as text",))
NOTCHES: Final = Block("view_notches", QUICK_TAGS.first_column + 2, BUS_ROWS, NOTCH_COLUMNS)
LEVELS: Final = Block("view_levels", NOTCHES.first_column + len(NOTCH_COLUMNS) + GAP, ROWS, LEVEL_COLUMNS)
CONTRIBUTIONS: Final = Block(
    "contributions", LEVELS.first_column + len(LEVEL_COLUMNS) + GAP, RANKED, CAUSE_HEADINGS
)
_POWER: Final = CONTRIBUTIONS.first_column + len(CAUSE_HEADINGS) + GAP
_BUSES: Final = _POWER + plant_names.CASES * 4


def bus_block(case: int, quick: bool) -> Block:
    """Block of HD_PLANT_BUSES of a case, numbers from 1."""
    position = 2 * (case - 1) + quick
    column = _BUSES + position * (len(BUS_COLUMNS) + GAP)
    return Block(f"buses_{plant_names.case_settings(case, quick)}", column, BUS_ROWS, BUS_COLUMNS)


PHASES: Final = Block(
    "view_phases",
    _BUSES + 2 * plant_names.CASES * (len(BUS_COLUMNS) + GAP),
    PHASE_ROWS,
    PHASE_HEADINGS,
)
BUS_PHASES: Final = Block(
    "view_bus_phases", PHASES.first_column + len(PHASE_HEADINGS) + GAP, BUS_ROWS, BUS_PHASE_HEADINGS
)


def power_block(case: int) -> Block:
    """Block of HD_PLANT_POWER at the bus in view in a case, coupled."""
    column = _POWER + 4 * (case - 1)
    return Block(f"view_power_{case}", column, len(THREE_PHASE_QUANTITIES), COLUMNS)


def plant() -> str:
    """The arguments that describe the plant: network and drives."""
    return f"{plant_names.NETWORK},{plant_schedule.input_span()}"


def deciding_bus() -> str:
    """The PCC with the smallest margin of all cases."""
    return f"CHOOSE({plant_names.DECIDING_PCC},{','.join(plant_names.pcc_bus(number) for number in (1, 2))})"


def value(bus: str, quantity: str, settings: str) -> str:
    """One figure with a bus as the PCC."""
    return f'HD_PLANT_VALUE({plant()},{bus},"{quantity}",{settings})'


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet and name its blocks."""
    page.heading(
        sheet, names.ARRAYS_SHEET, "Array results that the other sheets refer to. Nothing to enter here."
    )
    view, bus = plant_names.VIEW, plant_names.VIEW_BUS
    scan_bus = plant_names.SCAN_BUS
    formulas = [
        (PCC, f"HD_PLANT_PCC({plant()},{bus},{plant_names.VIEW_JUDGED})"),
        (SCAN, f"HD_PLANT_SCAN({plant_names.NETWORK},{scan_bus},{view})"),
        (SCAN_OPEN, f"HD_PLANT_SCAN({plant_names.NETWORK},{scan_bus},{plant_names.VIEW_OPEN})"),
        (FOUND, f"HD_PLANT_RESONANCES({plant_names.NETWORK},{scan_bus},{view})"),
        (DRIVES, f"HD_PLANT_DRIVES({plant()},{view})"),
        (NOTCHES, f"HD_PLANT_NOTCHES({plant()},{plant_names.NOTCH_CLASS},{view})"),
        (LEVELS, f"HD_PLANT_LEVELS({plant()},{bus},{view})"),
        (CONTRIBUTIONS, f"HD_PLANT_CONTRIBUTIONS({plant()},{deciding_bus()},{plant_names.DECIDING})"),
        (QUICK, f"HD_PLANT_DRIVES({plant()},{plant_names.VIEW_QUICK})"),
        (PHASES, f"HD_PLANT_PHASES({plant()},{bus},{plant_names.VIEW_JUDGED})"),
        (BUS_PHASES, f"HD_PLANT_BUS_PHASES({plant()},{view})"),
    ]
    for case in range(1, plant_names.CASES + 1):
        coupled = plant_names.case_settings(case)
        formulas.append((power_block(case), f"HD_PLANT_POWER({plant()},{bus},{coupled})"))
        for quick in (False, True):
            settings = plant_names.case_settings(case, quick)
            formulas.append((bus_block(case, quick), f"HD_PLANT_BUSES({plant()},{settings})"))
    for block, formula in formulas:
        _headed(book, sheet, block)
        sheet[block.cells.split(":")[0]] = ArrayFormula(block.cells, f"={formula}")
    for tags, source in ((TAGS, DRIVES), (QUICK_TAGS, QUICK)):
        _headed(book, sheet, tags)
        letter = get_column_letter(source.first_column)
        for (cell,) in sheet[tags.cells]:
            cell.value = f'=IFERROR({letter}{cell.row}&"","")'
    sheet.row_dimensions[HEADER_ROW].height = 38
    page.widths(sheet, *[12.0] * (BUS_PHASES.first_column + len(BUS_PHASE_HEADINGS)))
    sheet.freeze_panes = f"A{FIRST_ROW}"
    page.set_up(sheet, area="A1:H3")


def _headed(book: Workbook, sheet: Worksheet, block: Block) -> None:
    page.put_text(sheet, HEADER_ROW - 1, block.first_column, block.name, style.SUBTITLE)
    page.headings(sheet, HEADER_ROW, block.headings, block.first_column)
    for row in sheet[block.cells]:
        for cell in row:
            cell.style = style.ARRAY
    names.define(book, block.name, sheet, block.cells)
