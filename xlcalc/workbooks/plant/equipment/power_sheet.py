"""Sheet of the power quantities of IEEE 1459 at the bus in view, and of the losses that harmonics add."""

from __future__ import annotations

from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.workbooks.kit import marks, page
from xlcalc.workbooks.plant import cases_sheet, plant_arrays
from xlcalc.worksheet.functions.equipment.power import THREE_PHASE_QUANTITIES

WIDTH: Final = 2 + plant_names.CASES


POWER_ROW: Final = 5


FIRST_ROW: Final = POWER_ROW + 2


LOSS_ROW: Final = FIRST_ROW + len(THREE_PHASE_QUANTITIES) + 1


KINDS: Final = (
    ("Transformers", "transformers"),
    ("Three-winding transformers", "three-winding transformers"),
    ("Cables", "cables"),
)


LOSSES: Final = (("kw", "0.000"), ("kwh", "#,##0"), ("cost", "#,##0"))


MEANINGS: Final = {
    "Ve": "effective voltage to neutral",
    "Ve1": "its fundamental",
    "THD of Ve": "distortion of the effective voltage",
    "Ie": "effective current",
    "Ie1": "its fundamental",
    "THD of Ie": "distortion of the effective current",
    "P": "active power, all orders",
    "P1+": "active power of the fundamental positive sequence",
    "Q1+": "reactive power of the fundamental positive sequence",
    "S1+": "apparent power of the fundamental positive sequence",
    "SU1": "unbalance of the fundamental",
    "Se": "effective apparent power",
    "Se1": "its fundamental",
    "SeN": "nonfundamental apparent power",
    "DeI": "current distortion power",
    "DeV": "voltage distortion power",
    "SeH": "harmonic apparent power",
    "true power factor": "P over Se",
    "displacement power factor": "P1+ over S1+",
}


CAUTIONS: Final = (
    "IEEE 1459-2010 for three wires (definitions recalled, not read in a licensed copy): what flows from the "
    "supply into the bus, by case, coupled.",
    "Added losses are those above the loss of the fundamental current alone, at the load of the case in view."
    " The distortion of that load is taken at all loads of the profile, which understates part load. Losses "
    "in motors, capacitors and reactors are not part of them.",
)


def build(sheet: Worksheet) -> None:
    """Fill the sheet."""
    page.widths(sheet, 30, 44, *[14.0] * plant_names.CASES)
    page.heading(
        sheet,
        "Power and losses",
        "Power quantities of IEEE 1459 at the bus in view, and what harmonics cost.",
    )
    page.study_title(sheet)
    page.put(
        sheet, 4, 1, f'="Bus in view (chosen on the sheet PCC): "&{plant_names.VIEW_BUS}', style.SUBTITLE
    )
    _power(sheet)
    _losses(sheet)
    note = LOSS_ROW + len(KINDS) + 4
    page.notes(sheet, note, CAUTIONS, WIDTH)
    page.set_up(
        sheet,
        area=names.area(1, 1, note + len(CAUTIONS) - 1, WIDTH),
        title_rows="1:4",
    )


def _power(sheet: Worksheet) -> None:
    page.section(sheet, POWER_ROW, "Power quantities (IEEE 1459), three phases", WIDTH)
    page.headings(sheet, POWER_ROW + 1, ("quantity", "meaning"))
    sheet.row_dimensions[POWER_ROW + 1].height = 27
    for case in range(1, plant_names.CASES + 1):
        cell = cases_sheet.input_cell("name", case)
        heading = f'=IF({cell}="","case {case}",{cell})'
        page.put(sheet, POWER_ROW + 1, 2 + case, heading, style.HEADING)
    for position, (quantity, unit) in enumerate(THREE_PHASE_QUANTITIES, start=1):
        row = FIRST_ROW + position - 1
        factor = not unit
        kilo = 1000.0 if unit in ("W", "var", "VA") else 1.0
        shown_unit = f"k{unit}" if kilo > 1.0 else unit
        page.put(sheet, row, 1, f"{quantity} ({shown_unit})" if unit else quantity, style.LABEL)
        page.put(sheet, row, 2, MEANINGS[quantity], style.HELP)
        for case in range(1, plant_names.CASES + 1):
            source = plant_arrays.power_block(case).cell(position, 2)
            scaled = f"{source}/1000" if kilo > 1.0 else source
            formula = f'=IF(ISERROR({source}),{source},IF(ISNUMBER({source}),{scaled},"off"))'
            number_format = "0.0000" if factor else "#,##0.00"
            page.put(sheet, row, 2 + case, formula, style.RESULT, number_format)
    marks.errors(sheet, names.area(FIRST_ROW, 3, FIRST_ROW + len(THREE_PHASE_QUANTITIES) - 1, WIDTH))


def _losses(sheet: Worksheet) -> None:
    page.section(sheet, LOSS_ROW, "Losses that the harmonics add, case in view", WIDTH)
    cost = f'="cost a year ("&{plant_names.CURRENCY}&")"'
    page.headings(sheet, LOSS_ROW + 1, ("equipment", "", "loss (kW)", "energy (kWh a year)", cost))
    page.put(sheet, LOSS_ROW + 1, 2, f"={plant_names.VIEW_NAME}", style.HEADING)
    sheet.row_dimensions[LOSS_ROW + 1].height = 38
    first = LOSS_ROW + 2
    for row, (text, table) in enumerate(KINDS, start=first):
        page.put(sheet, row, 1, text, style.LABEL)
        page.put(sheet, row, 2, "sum of the table" if table else "", style.HELP)
        for column, (key, number_format) in enumerate(LOSSES, start=3):
            cells = plant_names.column(f"added_{key}", table)
            page.put(sheet, row, column, _sum(key, cells), style.RESULT, number_format)
    total = first + len(KINDS)
    page.put(sheet, total, 1, "Total", style.LABEL)
    page.put(sheet, total, 2, "with load profile and prices of the sheet Equipment data", style.HELP)
    for letter, (key, number_format) in zip("CDE", LOSSES, strict=True):
        formula = _sum(key, f"{letter}{first}:{letter}{total - 1}")
        page.put(sheet, total, "ABCDE".index(letter) + 1, formula, style.TOTAL, number_format)
    marks.errors(sheet, names.area(first, 3, total, 5))


def _sum(key: str, cells: str) -> str:
    """Sum of a column; energy and cost only where a load profile is stated."""
    stated = f"COUNT({plant_names.column('load profile', 'hours')})=0"
    return f"=SUM({cells})" if key == "kw" else f'=IF({stated},"-",SUM({cells}))'
