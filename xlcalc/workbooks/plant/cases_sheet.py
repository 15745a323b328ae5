"""Sheet of the cases: what differs between them, two PCCs and all buses, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names, outside, plant_names
from xlcalc.schema.inputs.settings import CASE_FIELDS, CASE_NAME
from xlcalc.schema.tables import normalised
from xlcalc.workbooks.drive.site_sheet import as_cell
from xlcalc.workbooks.kit import marks, page, validation, verdict_cells
from xlcalc.workbooks.kit.labels import label
from xlcalc.workbooks.plant import network_sheet, plant_arrays, year_block
from xlcalc.workbooks.plant.plant_data import PlantData

COLUMNS: Final = 2 + 2 * plant_names.CASES
LIMIT_COLUMN: Final = COLUMNS
INPUT_ROW: Final = 4
FIELDS: Final = (CASE_NAME, *CASE_FIELDS[1:])
WORST_ROW: Final = INPUT_ROW + len(FIELDS) + 2
PCC_ROW: Final = WORST_ROW + 3
OFF: Final = "off"
TEXTS: Final = ("REASON", "IL_BASIS")
COLOURS: Final = ("2F4858", "4A7C8C", "B9A06A", "8C6A9B")


@dataclass(frozen=True)
class CaseLine:
    """One quantity of a PCC."""

    text: str
    quantity: str
    number_format: str


LINES: Final = (
    CaseLine("Limits met?", "VERDICT", "General"),
    CaseLine("Why no verdict", "REASON", "General"),
    CaseLine("Total demand distortion (%)", "TDD", "0.00"),
    CaseLine("its limit (%)", "LIMIT_TDD", "0.0"),
    CaseLine("Voltage distortion, THD (%)", "THDV", "0.00"),
    CaseLine("its limit (%)", "LIMIT_THDV", "0.0"),
    CaseLine("Isc / IL", "ISC_IL", "0.0"),
    CaseLine("Demand current IL (A)", "IL", "0.0"),
    CaseLine("its basis", "IL_BASIS", "General"),
    CaseLine("Fundamental current of the case (A)", "FUNDAMENTAL", "0.0"),
    CaseLine("Order with the smallest margin", "WORST_ORDER", "0"),
    CaseLine("Margin of the binding quantity (%)", "MARGIN", "0.0"),
    CaseLine("Converged?", "CONVERGED", "General"),
)
QUANTITIES: Final = tuple(line.quantity for line in LINES)
PCC_HEIGHT: Final = len(LINES) + 4
BUS_ROW: Final = PCC_ROW + plant_names.PCCS * PCC_HEIGHT
BUS_ROWS: Final = plant_arrays.BUS_ROWS
CHART_ROW: Final = BUS_ROW + BUS_ROWS + 3
CHART_ROWS: Final = 16
YEAR_ROW: Final = CHART_ROW + CHART_ROWS + 1


def input_cell(field: str, case: int) -> str:
    """The input of a case, numbers from 1, as other sheets see it."""
    row = INPUT_ROW + 1 + [f.name for f in FIELDS].index(field)
    return f"{plant_names.CASES_SHEET}!${_letter(case)}${row}"


def pcc_cell(number: int) -> str:
    """The bus of a PCC, numbers from 1, as other sheets see it."""
    return f"{plant_names.CASES_SHEET}!$A${_pcc_row(number) + 1}"


def supplied_cell(number: int, case: int) -> str:
    """Whether a case supplies a PCC: yes or no."""
    return f"{plant_names.CASES_SHEET}!${_letter(case)}${_pcc_row(number) + 2}"


def supplied_or_unknown(cell: str) -> str:
    """Content of a cell of `supplied_cell`, yes where inputs that cannot be used make it an error."""
    return f'IFERROR({cell},"yes")'


def line_cell(number: int, case: int, quantity: str) -> str:
    """A quantity of a PCC in a case, coupled."""
    row = _pcc_row(number) + 3 + QUANTITIES.index(quantity)
    return f"{plant_names.CASES_SHEET}!${_letter(case)}${row}"


def name_text(case: int) -> str:
    """The name of a case, or its number, as other sheets see it; with the number where cases share a name."""
    cell = input_cell("name", case)
    others = [input_cell("name", number) for number in range(1, plant_names.CASES + 1) if number != case]
    shared = "OR(" + ",".join(f"TRIM({cell})=TRIM({other})" for other in others) + ")"
    return f'IF(TRIM({cell})="","case {case}",IF({shared},{cell}&" (case {case})",{cell}))'


def _pcc_row(number: int) -> int:
    return PCC_ROW + (number - 1) * PCC_HEIGHT


def build(book: Workbook, sheet: Worksheet, data: PlantData) -> None:
    """Fill the sheet."""
    page.widths(sheet, 32, *[13.5] * (COLUMNS - 2), 10)
    page.heading(
        sheet,
        "Cases",
        "Operating cases side by side: coupled, as the plant is, and the quick estimate, every drive alone.",
    )
    page.study_title(sheet)
    _inputs(book, sheet, data)
    for number in range(1, plant_names.PCCS + 1):
        _pcc(book, sheet, number, data.pccs)
    _worst(sheet)
    _buses(sheet, data)
    above = names.area(1, 2, INPUT_ROW - 1, COLUMNS)
    last = year_block.build(sheet, YEAR_ROW, [_year_of(number) for number in range(1, plant_names.PCCS + 1)])
    outside.frame(book, sheet, "cases", bottom=last, width=COLUMNS, above=above)
    page.break_before(sheet, PCC_ROW)
    page.break_before(sheet, PCC_ROW + PCC_HEIGHT)
    page.break_before(sheet, BUS_ROW)
    page.break_before(sheet, CHART_ROW)
    page.break_before(sheet, YEAR_ROW)
    page.set_up(
        sheet,
        area=names.area(1, 1, last, COLUMNS),
        orientation="landscape",
        title_rows="1:3",
    )
    sheet.freeze_panes = "B4"


def _letter(case: int, quick: bool = False) -> str:
    return get_column_letter(2 * case + quick)


def _inputs(book: Workbook, sheet: Worksheet, data: PlantData) -> None:
    page.section(sheet, INPUT_ROW, "Cases", COLUMNS)
    for number in range(1, plant_names.CASES + 1):
        sheet.cell(INPUT_ROW, 2 * number).value = f"case {number}"
    for number in range(1, plant_names.CASES + 1):
        letter = _letter(number)
        cells = f"{letter}{INPUT_ROW + 1}:{letter}{INPUT_ROW + len(FIELDS)}"
        names.define(book, plant_names.case_inputs(number), sheet, cells)
    gap = names.area(WORST_ROW - 1, 1, WORST_ROW - 1, COLUMNS)
    outside.watch(book, sheet, "cases", "below_1", gap)
    for row, field in enumerate(FIELDS, start=INPUT_ROW + 1):
        page.put(sheet, row, 1, label(field.name), style.LABEL)
        for number in range(1, plant_names.CASES + 1):
            values = data.cases[number - 1] if number <= len(data.cases) else {}
            given = {normalised(key): value for key, value in values.items()}
            value = as_cell(given.get(field.name, field.default))
            column = 2 * number
            page.put(sheet, row, column, value, style.INPUT_TEXT)
            page.put(sheet, row, column + 1, None, style.INPUT_TEXT)
            sheet.merge_cells(start_row=row, end_row=row, start_column=column, end_column=column + 1)
            validation.add(sheet, f"{get_column_letter(column)}{row}", field)


def _worst(sheet: Worksheet) -> None:
    """The verdict on the whole, from the sheet of verdicts."""
    page.section(sheet, WORST_ROW, "Worst of all PCCs, cases and checks (sheet Verdicts)", COLUMNS)
    row = WORST_ROW + 1
    page.put(sheet, row, 1, f"={names.STUDY_VERDICT}", style.VERDICT)
    why = f'IF({names.STUDY_REASON}<>"",": "&{names.STUDY_REASON},"")'
    page.put(sheet, row, 2, f"={plant_names.WORST_ITEM}&{why}", style.RESULT_TEXT)
    for column in range(3, COLUMNS + 1):
        sheet.cell(row, column).style = style.RESULT_TEXT
    sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=COLUMNS)
    sheet.row_dimensions[row].height = 24
    marks.verdict(sheet, f"A{row}")


def _case_headings(sheet: Worksheet, row: int, first: str, last: str = "") -> None:
    pairs = [text for _ in range(plant_names.CASES) for text in ("coupled", "quick estimate")]
    page.headings(sheet, row, (first, *pairs, last))


def _case_names(sheet: Worksheet, row: int) -> None:
    for number in range(1, plant_names.CASES + 1):
        cell = input_cell("name", number).split("!")[1]
        page.put(sheet, row, 2 * number, f'=IF({cell}="","case {number}",{cell})', style.SECTION)


def _pcc(book: Workbook, sheet: Worksheet, number: int, chosen: tuple[str, ...]) -> None:
    row = _pcc_row(number)
    page.section(sheet, row, f"Point of common coupling {number}", COLUMNS)
    _case_names(sheet, row)
    _case_headings(sheet, row + 1, "", "")
    buses = plant_names.column("buses", "name")
    bus = chosen[number - 1] if number <= len(chosen) else f"=INDEX({buses},{number})"
    page.put(sheet, row + 1, 1, bus, style.INPUT_TEXT)
    validation.add_list(sheet, f"A{row + 1}", buses, "Bus", "Bus that is judged as the PCC.")
    names.define(book, plant_names.pcc_bus(number), sheet, f"A{row + 1}")
    supplied = row + 2
    page.put(sheet, supplied, 1, "Supplied?", style.LABEL)
    first = supplied + 1
    for case in range(1, plant_names.CASES + 1):
        for quick in (False, True):
            _figures(sheet, supplied, number, case, quick)
    for offset, line in enumerate(LINES):
        page.put(sheet, first + offset, 1, line.text, style.LABEL)
    for line_row in range(supplied, first + len(LINES)):
        page.put(sheet, line_row, COLUMNS, None, style.LABEL)
    marks.errors(sheet, names.area(supplied, 2, first + len(LINES) - 1, COLUMNS - 1))
    for column in range(2, COLUMNS):
        letter = get_column_letter(column)
        converged = f"{letter}{first + len(LINES) - 1}"
        marks.verdict(sheet, f"{letter}{first}")
        marks.formula(sheet, converged, f'{converged}="no"', style.BAD)
        for offset in (QUANTITIES.index("TDD"), QUANTITIES.index("THDV")):
            value, limit = f"{letter}{first + offset}", f"{letter}{first + offset + 1}"
            marks.just_above(sheet, value, f"({limit}-{value})", limit, "0.00")
            marks.margins(sheet, value, f"({limit}-{value})", limit)


def _figures(sheet: Worksheet, supplied: int, number: int, case: int, quick: bool) -> None:
    """One column of a PCC: whether the case supplies the bus, and its figures."""
    column = 2 * case + quick
    letter = get_column_letter(column)
    chosen = f"$A${supplied - 1}"
    own, general = plant_names.pcc_settings(number, case, quick), plant_names.case_settings(case, quick)
    buses = plant_names.column("buses", "name")
    first = BUS_ROW + 2
    thd = f"INDEX(${letter}${first}:${letter}${first + BUS_ROWS - 1},MATCH({chosen},{buses},0))"
    status = f'=IF({chosen}="","",IF({thd}="{OFF}","no","yes"))'
    page.put(sheet, supplied, column, status, style.RESULT, "General")
    for row, line in enumerate(LINES, start=supplied + 1):
        settings = general if line.quantity == "FUNDAMENTAL" else own
        formula = plant_arrays.value(chosen, line.quantity, settings)
        judged = formula
        if quick and line.quantity in ("VERDICT", "REASON"):
            word = plant_arrays.value(chosen, "QUICK_VERDICT", plant_names.pcc_settings(number, case))
            judged = verdict_cells.word(word) if line.quantity == "VERDICT" else '""'
        elif line.quantity == "VERDICT":
            judged = verdict_cells.word(formula)
        elif line.quantity == "REASON":
            without_demand = plant_arrays.value(chosen, line.quantity, general)
            why = f"IF(ISERROR({letter}${supplied}),{without_demand},{_of_other_case(number, case, formula)})"
            judged = verdict_cells.reason(f"{letter}{row - 1}", why)
            sheet.row_dimensions[row].height = 36
        name = style.RESULT_TEXT if line.quantity in TEXTS else style.RESULT
        there = f"{letter}${supplied}"
        if line.quantity in ("VERDICT", "REASON"):
            there = supplied_or_unknown(there)
        shown = f'=IF({there}="yes",{judged},"")'
        page.put(sheet, row, column, shown, name, line.number_format)


def _of_other_case(number: int, case: int, reason: str) -> str:
    """A reason of a case, or that of another one without a fundamental: all of them share one IL."""
    for other in range(plant_names.CASES, 0, -1):
        if other != case:
            failed = f"ISERROR({line_cell(number, other, 'FUNDAMENTAL')})"
            own = plant_arrays.value(pcc_cell(number), "REASON", plant_names.case_settings(other))
            reason = f"IF({failed},{own},{reason})"
    return reason


def _year_of(number: int) -> list[year_block.CaseOfYear]:
    """Name, share of the year, TDD and voltage THD of a PCC in each case: cells of this sheet."""

    def own(cell: str) -> str:
        return cell.split("!")[1]

    return [
        year_block.CaseOfYear(
            name=f'IF({own(pcc_cell(number))}="","",{name_text(case)})',
            share=own(input_cell("share of year pct", case)),
            tdd=own(line_cell(number, case, "TDD")),
            thdv=own(line_cell(number, case, "THDV")),
        )
        for case in range(1, plant_names.CASES + 1)
    ]


def _buses(sheet: Worksheet, data: PlantData) -> None:
    page.section(sheet, BUS_ROW, "Voltage distortion of every bus, THD in % of nominal", COLUMNS)
    _case_names(sheet, BUS_ROW)
    sheet.cell(BUS_ROW, 1).value = "Voltage THD of every bus (%)"
    _case_headings(sheet, BUS_ROW + 1, "bus", "limit")
    bus, kv = (plant_names.column("buses", field) for field in ("name", "kv"))
    first = BUS_ROW + 2
    last = first + BUS_ROWS - 1
    for position, row in enumerate(range(first, last + 1), start=1):
        name = f"INDEX({bus},{position})"
        page.put(sheet, row, 1, f'=IF({name}="","",{name})', style.LABEL)
        for case in range(1, plant_names.CASES + 1):
            for quick in (False, True):
                source = plant_arrays.bus_block(case, quick).cell(position, plant_arrays.THD)
                shown = f'IF(ISNUMBER({source}),{source},"{OFF}")'
                formula = f'=IF($A{row}="","",IF(ISERROR({source}),{source},{shown}))'
                page.put(sheet, row, 2 * case + quick, formula, style.RESULT, "0.00")
        limit = f'=IF($A{row}="","",HD_LIMIT_VOLTAGE(INDEX({kv},{position}),,{names.EDITION}))'
        page.put(sheet, row, LIMIT_COLUMN, limit, style.RESULT, "0.0")
    in_view = network_sheet.shown("buses", data)
    page.unshown(sheet, last + 1, bus, in_view, BUS_ROWS, "buses")
    page.fold(sheet, first + in_view, last)
    cells = names.area(first, 2, last, COLUMNS - 1)
    marks.errors(sheet, cells)
    marks.margins(sheet, cells, f"(${get_column_letter(COLUMNS)}{first}-B{first})", f"$J{first}")
    block = charts.ChartRows(sheet, first, last, x_column=1)
    coupled = tuple((2 * case, f"case {case}", COLOURS[case - 1]) for case in range(1, plant_names.CASES + 1))
    chart = charts.grouped(
        block, coupled, LIMIT_COLUMN, "Voltage distortion by bus and case, coupled", "% of nominal"
    )
    charts.place(sheet, chart, CHART_ROW, CHART_ROWS, COLUMNS)
