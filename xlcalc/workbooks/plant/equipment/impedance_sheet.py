"""Sheet of the impedance against frequency at a bus, with its resonances."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names, plant_names
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.plant import plant_arrays

COLUMNS: Final = 8


CHOICE_ROW: Final = 4


CHART_ROW: Final = 6


CHART_ROWS: Final = 12


LOW_CHART_ROW: Final = 19


FOUND_ROW: Final = 32


TABLE_ROW: Final = FOUND_ROW + plant_arrays.RESONANCES + 4


CLOSE_PCT: Final = 10


LOW_STEPS: Final = 151


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet."""
    page.widths(sheet, *[12.5] * COLUMNS)
    page.heading(
        sheet,
        "Impedance",
        "Impedance against frequency at a bus, as its harmonic currents meet it; drives are no part of it.",
    )
    page.study_title(sheet)
    _choice(book, sheet)
    _table(sheet)
    _resonances(sheet)
    first = TABLE_ROW + 2
    columns = (
        (3, "without capacitors and filters", charts.VOLTAGE),
        (2, "case in view", charts.CURRENT),
    )
    for row, rows, title, axis in (
        (CHART_ROW, plant_arrays.SCAN_ROWS, "Orders 1 to 50", charts.ORDERS),
        (LOW_CHART_ROW, LOW_STEPS, "Orders 1 to 16", charts.Axis("harmonic order", 0, 16, 1, "General")),
    ):
        block = charts.ChartRows(sheet, first, first + rows - 1, x_column=1)
        chart = charts.curves(block, columns, title, "ohm per phase", axis)
        charts.place(sheet, chart, row, CHART_ROWS, COLUMNS)
    page.set_up(sheet, area=names.area(1, 1, TABLE_ROW - 2, COLUMNS))


def _choice(book: Workbook, sheet: Worksheet) -> None:
    buses = plant_names.column("buses", "name")
    page.put(sheet, CHOICE_ROW, 1, "Bus", style.LABEL)
    page.put(sheet, CHOICE_ROW, 2, f"=INDEX({buses},2)", style.INPUT_TEXT)
    page.put(sheet, CHOICE_ROW, 3, None, style.INPUT_TEXT)
    sheet.merge_cells(start_row=CHOICE_ROW, end_row=CHOICE_ROW, start_column=2, end_column=3)
    page.put(sheet, CHOICE_ROW, 4, f'="case in view (sheet PCC): "&{plant_names.VIEW_NAME}', style.SUBTITLE)
    validation.add_list(sheet, f"B{CHOICE_ROW}", buses, "Bus", "Choose a bus of the sheet Network.")
    names.define(book, plant_names.SCAN_BUS, sheet, f"B{CHOICE_ROW}")


def _resonances(sheet: Worksheet) -> None:
    page.section(sheet, FOUND_ROW, "Resonances", COLUMNS)
    page.headings(
        sheet,
        FOUND_ROW + 1,
        (
            "kind",
            "order",
            "impedance (ohm)",
            "amplification",
            "nearest order of six-pulse drives",
            "distance (%)",
        ),
    )
    page.headings(sheet, FOUND_ROW + 1, ("remark", ""), 7)
    sheet.merge_cells(start_row=FOUND_ROW + 1, end_row=FOUND_ROW + 1, start_column=7, end_column=8)
    sheet.row_dimensions[FOUND_ROW + 1].height = 38
    first = FOUND_ROW + 2
    last = first + plant_arrays.RESONANCES - 1
    for position, row in enumerate(range(first, last + 1), start=1):
        for column, number_format in enumerate(("General", "0.00", "0.0000", "0.00", "0", "0.0"), start=1):
            source = plant_arrays.FOUND.cell(position, column)
            name = style.RESULT_TEXT if column == 1 else style.RESULT
            page.put(sheet, row, column, f'=IF(ISNA({source}),"-",{source})', name, number_format)
        near = f'IF(N(F{row})^2<={CLOSE_PCT**2},IF(D{row}>1,"close to a harmonic","shunts a harmonic"),"")'
        page.put(sheet, row, 7, f'=IF(ISNUMBER(F{row}),{near},"")', style.RESULT_TEXT)
        page.put(sheet, row, 8, None, style.RESULT_TEXT)
        sheet.merge_cells(start_row=row, end_row=row, start_column=7, end_column=8)
    cells = names.area(first, 1, last, 8)
    marks.errors(sheet, names.area(first, 1, last, 7))
    marks.formula(sheet, cells, f'$G{first}="close to a harmonic"', style.CLOSE)


def _table(sheet: Worksheet) -> None:
    page.section(sheet, TABLE_ROW, "Impedance by order", COLUMNS)
    page.headings(
        sheet, TABLE_ROW + 1, ("order", "case in view (ohm)", "without capacitors (ohm)", "angle (deg)")
    )
    sheet.row_dimensions[TABLE_ROW + 1].height = 28
    first = TABLE_ROW + 2
    for position, row in enumerate(range(first, first + plant_arrays.SCAN_ROWS), start=1):
        for column, (block, source, number_format) in enumerate(
            (
                (plant_arrays.SCAN, 1, "0.0_)"),
                (plant_arrays.SCAN, 2, "0.00000_)"),
                (plant_arrays.SCAN_OPEN, 2, "0.00000_)"),
                (plant_arrays.SCAN, 3, "0.0_)"),
            ),
            start=1,
        ):
            page.put(sheet, row, column, f"={block.cell(position, source)}", style.FIGURE, number_format)
    marks.errors(sheet, names.area(first, 1, first + plant_arrays.SCAN_ROWS - 1, 4))
