"""Sheet of one drive of the schedule: its figures, spectrum and waveform."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.utils import quote_sheetname
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.workbooks.drive import arrays_sheet, drives_sheet, schedule
from xlcalc.workbooks.kit import marks, page, validation

COLUMNS = 8
CHOICE_ROW = 4
FIRST_ROW = 6
LINK_ROW = 19
SPECTRUM_CHART_ROW = 26
WAVEFORM_CHART_ROW = 34
CHART_ROWS = 8
TABLE_ROW = 47
LINK_HEADINGS = (
    *("line (%)", "mean (V)", "lowest (V)", "highest (V)", "ripple (V)"),
    *("capacitor rms (A)", "reactor drop (V)", "above trip (V)"),
)
TABLE_ROW_HEIGHT = 12
ORDERS = 50
STEPS = 360
POSITION = f"$C${FIRST_ROW + 1}"


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet."""
    page.widths(sheet, *[12.5] * COLUMNS)
    page.heading(sheet, "Drive view", "Line current of one drive at its bus. Choose its tag from the list.")
    page.study_title(sheet)
    _choice(book, sheet)
    _inputs(sheet)
    _tables(sheet)
    _figures(sheet)
    _link(book, sheet)
    _charts(sheet)
    page.break_before(sheet, TABLE_ROW)
    last = TABLE_ROW + 1 + ORDERS
    page.set_up(sheet, area=names.area(1, 1, last, COLUMNS))


def _choice(book: Workbook, sheet: Worksheet) -> None:
    page.put(sheet, CHOICE_ROW, 1, "Drive (tag)", style.LABEL)
    page.put(sheet, CHOICE_ROW, 2, None, style.LABEL)
    page.put(sheet, CHOICE_ROW, 3, f"=INDEX({names.TAGS},1)", style.INPUT)
    description = _picked("Description")
    page.put(sheet, CHOICE_ROW, 5, f'=IF({description}="","",{description})', style.SUBTITLE)
    names.define(book, names.CHOSEN_TAG, sheet, f"C{CHOICE_ROW}")
    validation.add_list(
        sheet, f"C{CHOICE_ROW}", names.TAGS, "Drive", "Choose the tag of a drive of the schedule."
    )


def _picked(heading: str) -> str:
    return f"INDEX({drives_sheet.column(heading)},{POSITION})"


def _inputs(sheet: Worksheet) -> None:
    _band(sheet, 1, "Drive")
    rows = (
        ("Row in the schedule", f"MATCH({names.CHOSEN_TAG},{names.TAGS},0)", "0"),
        ("Quantity", _picked("Quantity"), "0"),
        ("Link power (kW)", _picked("Link power (kW)"), "0.0"),
        ("Bus", f'IF({_picked("Bus")}="","main",{_picked("Bus")})', "General"),
        ("Pulses", _picked("Pulses"), "0"),
        ("Source (%)", _picked("Source (%)"), "0.00"),
        *(
            (heading, schedule.percent(_picked(heading), device, _picked("Link power (kW)")), "0.0")
            for heading, device in schedule.REACTORS.items()
        ),
        ("Load (%)", f'IF({_picked("Load (%)")}="",100,{_picked("Load (%)")})', "0"),
    )
    _pairs(sheet, 1, rows)


def _figures(sheet: Worksheet) -> None:
    _band(sheet, 5, "Line current")
    spectrum = arrays_sheet.SPECTRUM.name
    harmonics = f"$B${TABLE_ROW + 3}:$B${TABLE_ROW + 1 + ORDERS}"
    orders = tuple((f"{order}th (%)", f"INDEX({spectrum},{order},2)", "0.00") for order in (5, 7, 11, 13))
    rows = (
        ("THD, orders to 50 (%)", f"HD_THD({spectrum})", "0.00"),
        *orders,
        ("Largest harmonic, order", f"MATCH(MAX({harmonics}),{harmonics},0)+1", "0"),
        ("Crest factor", f"HD_CREST({arguments()})", "0.00"),
        ("K-factor", f"HD_KFACTOR({spectrum})", "0.00"),
        ("True power factor", f"HD_TRUE_PF({arguments()})", "0.000"),
        ("Displacement power factor", f"HD_DISPLACEMENT_PF({arguments()})", "0.000"),
        ("5th at PCC, whole row (A)", _picked("5th at PCC (A)"), "0.00"),
    )
    _pairs(sheet, 5, rows)


def _link(book: Workbook, sheet: Worksheet) -> None:
    """What the DC link of the drive feels at low, nominal and high line voltage, in volts and amperes."""
    page.section(sheet, LINK_ROW, "DC link by line voltage", COLUMNS)
    page.headings(sheet, LINK_ROW + 1, LINK_HEADINGS)
    sheet.row_dimensions[LINK_ROW + 1].height = 28
    bus, link = f"$C${FIRST_ROW + 4}", f"$C${FIRST_ROW + 3}"
    ideal = f'3000*SQRT(2)/PI()*IF({bus}="second",second_bus_kv,main_bus_kv)'
    first, last = LINK_ROW + 2, LINK_ROW + 1 + arrays_sheet.LINK.rows
    trip_row = last + 1
    for row in range(first, last + 1):
        cells = [arrays_sheet.LINK.cell(row - first + 1, column) for column in range(1, 8)]
        volts = [f"={cell}/100*{ideal}" for cell in cells]
        formulas = [f"={cells[0]}", *volts[1:5], f"={cells[5]}/100*1000*{link}/({ideal})", volts[6]]
        for column, formula in enumerate(formulas, start=1):
            page.put(sheet, row, column, formula, style.FIGURE, "0" if column == 1 else "0.0")
        margin = f'=IF({names.TRIP_VOLTS}="","",C{row}-{names.TRIP_VOLTS})'
        page.put(sheet, row, COLUMNS, margin, style.FIGURE, "0.0")
    marks.errors(sheet, names.area(first, 1, last, COLUMNS))
    for column in range(1, COLUMNS):
        sheet.cell(trip_row, column).style = style.LABEL
    text = "The drive trips below (V DC, from its data sheet; what a line reactor costs comes off the margin)"
    page.put(sheet, trip_row, 1, text, style.LABEL)
    sheet.merge_cells(start_row=trip_row, end_row=trip_row, start_column=1, end_column=COLUMNS - 1)
    page.put(sheet, trip_row, COLUMNS, None, style.INPUT, "0")
    names.define(book, names.TRIP_VOLTS, sheet, f"H{trip_row}")


def arguments() -> str:
    """Arguments of the drive functions, from the cells of the block of inputs."""
    sheet = quote_sheetname(names.VIEW_SHEET)
    bus, pulses, source, reactor, choke, load = (
        f"{sheet}!$C${FIRST_ROW + offset}" for offset in (4, 5, 6, 7, 8, 9)
    )
    settings = f'IF({bus}="second",{names.SECOND_SETTINGS},{names.MAIN_SETTINGS})'
    return ",".join((pulses, source, reactor, choke, load, settings))


def _tables(sheet: Worksheet) -> None:
    page.section(sheet, TABLE_ROW, "Spectrum and waveform", COLUMNS)
    for first_column, block, formats in (
        (1, arrays_sheet.SPECTRUM, ("0_)", "0.000_)", "0.0_)")),
        (5, arrays_sheet.WAVEFORM, ("0_)", "0.000_)", "0.000_)")),
    ):
        page.headings(sheet, TABLE_ROW + 1, block.headings, first_column)
        first = TABLE_ROW + 2
        last = first + block.rows - 1
        for row in range(first, last + 1):
            sheet.row_dimensions[row].height = TABLE_ROW_HEIGHT
            for column, number_format in enumerate(formats):
                source = block.cell(row - first + 1, column + 1)
                page.put(sheet, row, first_column + column, f"={source}", style.FIGURE, number_format)
        marks.errors(sheet, names.area(first, first_column, last, first_column + 2))
    sheet.row_dimensions[TABLE_ROW + 1].height = 28


def _charts(sheet: Worksheet) -> None:
    first = TABLE_ROW + 2
    orders = charts.ChartRows(sheet, first + 1, first + ORDERS - 1, x_column=1)
    steps = charts.ChartRows(sheet, first, first + STEPS - 1, x_column=5)
    spectrum = charts.bars(orders, 2, "line current", "Spectrum of the line current", "% of fundamental")
    waveform = charts.curves(
        steps,
        ((6, "line current", charts.CURRENT), (7, "phase voltage", charts.VOLTAGE)),
        "Line current and phase voltage over one cycle",
        "per unit of rated peak",
    )
    spectrum.legend = None
    if waveform.legend is not None:
        waveform.legend.position = "r"
    charts.place(sheet, spectrum, SPECTRUM_CHART_ROW, CHART_ROWS, COLUMNS)
    charts.place(sheet, waveform, WAVEFORM_CHART_ROW, CHART_ROWS, COLUMNS)


def _band(sheet: Worksheet, column: int, text: str) -> None:
    for offset in range(3 if column == 1 else 4):
        sheet.cell(FIRST_ROW, column + offset).style = style.SECTION
    sheet.cell(FIRST_ROW, column).value = text


def _pairs(sheet: Worksheet, column: int, rows: tuple[tuple[str, str, str], ...]) -> None:
    """Label over two or three columns, then the value."""
    span = 2 if column == 1 else 3
    for row, (text, formula, number_format) in enumerate(rows, start=FIRST_ROW + 1):
        for offset in range(span):
            sheet.cell(row, column + offset).style = style.LABEL
        page.put(sheet, row, column, text, style.LABEL)
        page.put(sheet, row, column + span, f"={formula}", style.RESULT, number_format)
        sheet.merge_cells(start_row=row, end_row=row, start_column=column, end_column=column + span - 1)
    value = names.area(FIRST_ROW + 1, column + span, FIRST_ROW + len(rows), column + span)
    marks.errors(sheet, value)
