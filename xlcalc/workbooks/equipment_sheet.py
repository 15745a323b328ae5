"""Sheet of what the harmonics do to transformers, capacitors and generators in the case in view."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.workbooks import marks, names, page, plant_arrays, plant_names, style, validation
from xlcalc.workbooks.network_sheet import SPARE
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.functions.network_fields import TRANSFORMERS

COLUMNS: Final = 12
TRANSFORMER_ROW: Final = 5
CAPACITOR_ROW: Final = TRANSFORMER_ROW + SPARE["transformers"] + 3
GENERATOR_ROW: Final = CAPACITOR_ROW + SPARE["capacitors"] + 3
IEC: Final = f'LEFT({plant_names.CAPACITOR_STANDARD},3)="IEC"'
STRESSES: Final = (("1", False), ("2", True), (f"IF({IEC},2,3)", False), ("4", True))
"""Row of rms voltage, peak voltage, rms current and kvar in the verdicts; IEC 60831-1 limits two of them."""


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet."""
    page.widths(sheet, 16, *[11.5] * (COLUMNS - 1))
    page.heading(
        sheet, "Equipment", "Load of transformers, capacitors and generators with the harmonics, coupled."
    )
    page.study_title(sheet)
    page.put(
        sheet, 4, 1, f'="Case in view (chosen on the sheet PCC): "&{plant_names.VIEW_NAME}', style.SUBTITLE
    )
    _transformers(sheet)
    _capacitors(book, sheet)
    _generators(sheet)
    last = GENERATOR_ROW + SPARE["generators"] + 2
    page.set_up(sheet, area=names.area(1, 1, last, COLUMNS))


def _column(table: str, field: str, position: int) -> str:
    return f"INDEX({plant_names.column(table, field)},{position})"


def _amps(row: int) -> str:
    return f"HD_PLANT_AMPS({plant_arrays.plant()},$A{row},{plant_names.VIEW})"


def _bus_kv(bus: str) -> str:
    buses, kv = (plant_names.column("buses", field) for field in ("name", "kv"))
    return f"INDEX({kv},MATCH({bus},{buses},0))"


def _name(sheet: Worksheet, row: int, table: str, position: int) -> None:
    cell = _column(table, "name", position)
    page.put(sheet, row, 1, f'=IF({cell}="","",{cell})', style.LABEL)


def _fill(sheet: Worksheet, row: int, cells: tuple[tuple[str, str], ...], first_column: int = 2) -> None:
    for column, (formula, number_format) in enumerate(cells, start=first_column):
        page.put(sheet, row, column, f"={formula}", style.RESULT, number_format)


def _headed(sheet: Worksheet, row: int, title: str, headings: tuple[str, ...]) -> int:
    page.section(sheet, row, title, COLUMNS)
    page.headings(sheet, row + 1, headings)
    sheet.row_dimensions[row + 1].height = 50
    return row + 2


def _transformers(sheet: Worksheet) -> None:
    first = _headed(
        sheet,
        TRANSFORMER_ROW,
        "Transformers: K-factor and permitted load (IEEE C57.110, dry type)",
        (
            "transformer",
            "rated voltage (kV)",
            "rated current (A)",
            "fundamental (A)",
            "THD (%)",
            "rms (A)",
            "load (% of rated)",
            "K-factor",
            "next K rating",
            "permitted load (%)",
            "margin (points)",
            "verdict",
        ),
    )
    default = next(field.default for field in TRANSFORMERS.fields if field.name == "eddy pct")
    for position in range(1, SPARE["transformers"] + 1):
        row = first + position - 1
        _name(sheet, row, "transformers", position)
        kva, rated, bus, eddy = (
            _column("transformers", field, position)
            for field in ("kva", "secondary kv", "to bus", "eddy pct")
        )
        spectrum = _amps(row)
        volts = f'IF($A{row}="","",IF({rated}="",{_bus_kv(bus)},{rated}))'
        eddy = f'IF({eddy}="",{default:g},{eddy})'

        def loaded(formula: str, row: int = row) -> str:
            return f'IF(N($D{row})=0,"",{formula})'

        _fill(
            sheet,
            row,
            (
                (volts, "0.000"),
                (f'IF($A{row}="","",{kva}/(SQRT(3)*B{row}))', "0"),
                (f'IF($A{row}="","",INDEX({spectrum},1,2))', "0.0"),
                (loaded(f"HD_THD({spectrum})"), "0.0"),
                (loaded(f"D{row}*SQRT(1+(E{row}/100)^2)"), "0.0"),
                (loaded(f"100*F{row}/C{row}"), "0.0"),
                (loaded(f"HD_KFACTOR({spectrum})"), "0.00"),
                (loaded(f"HD_K_RATING(H{row})"), '"K-"0'),
                (loaded(f"HD_TRANSFORMER_LOAD_DRY({spectrum},{eddy})"), "0.0"),
                (loaded(f"J{row}-G{row}"), "0.0"),
                (loaded(f'IF(K{row}<0,"FAIL","PASS")'), "General"),
            ),
        )
    last = first + SPARE["transformers"] - 1
    _unshown(sheet, last, "transformers")
    marks.errors(sheet, names.area(first, 1, last, COLUMNS))
    _verdicts(sheet, first, last)
    marks.margins(sheet, f"G{first}:G{last}", f"$K{first}", f"$J{first}")


def _capacitors(book: Workbook, sheet: Worksheet) -> None:
    first = _headed(
        sheet,
        CAPACITOR_ROW,
        "Capacitors: stress in percent of their rating",
        (
            "bank or filter",
            "rated voltage (kV)",
            "rms voltage (%)",
            "limit (%)",
            "peak voltage (%)",
            "limit (%)",
            "rms current (%)",
            "limit (%)",
            "kvar (%)",
            "limit (%)",
            "least margin (points)",
            "verdict",
        ),
    )
    standard = next(a for a in FUNCTIONS["HD_VERDICT_CAPACITOR"].arguments if a.name == "standard")
    page.put(sheet, CAPACITOR_ROW, 9, "standard", style.SECTION)
    page.put(sheet, CAPACITOR_ROW, 10, standard.default, style.INPUT_TEXT)
    for column in (11, 12):
        page.put(sheet, CAPACITOR_ROW, column, None, style.INPUT_TEXT)
    sheet.merge_cells(start_row=CAPACITOR_ROW, end_row=CAPACITOR_ROW, start_column=10, end_column=12)
    validation.add(sheet, f"J{CAPACITOR_ROW}", standard)
    names.define(book, plant_names.CAPACITOR_STANDARD, sheet, f"J{CAPACITOR_ROW}")
    for position in range(1, SPARE["capacitors"] + 1):
        row = first + position - 1
        _name(sheet, row, "capacitors", position)
        rated, bus = (_column("capacitors", field, position) for field in ("rated kv", "bus"))
        volts = f'IF($A{row}="","",IF({rated}="",{_bus_kv(bus)},{rated}))'
        across = f"HD_PLANT_VOLTS({plant_arrays.plant()},$A{row},{plant_names.VIEW})"
        table = f"HD_VERDICT_CAPACITOR({across},1000*$B{row},{plant_names.CAPACITOR_STANDARD})"
        cells = [(volts, "0.000")]
        for line, only_ieee in STRESSES:
            for column in (3, 4):
                value = f"INDEX({table},{line},{column})"
                if only_ieee:
                    value = f'IF({IEC},"",{value})'
                cells.append((f'IF($A{row}="","",IF(N(INDEX({across},1,2))=0,"",{value}))', "0.0"))
        _fill(sheet, row, tuple(cells))
        margins = ",".join(
            f"IF(ISNUMBER({limit}{row}),{limit}{row}-{value}{row},1000)"
            for value, limit in (("C", "D"), ("E", "F"), ("G", "H"), ("I", "J"))
        )
        _fill(
            sheet,
            row,
            (
                (f'IF(ISNUMBER(C{row}),MIN({margins}),"")', "0.0"),
                (f'IF(ISNUMBER(K{row}),IF(K{row}<0,"FAIL","PASS"),"")', "General"),
            ),
            11,
        )
    last = first + SPARE["capacitors"] - 1
    _unshown(sheet, last, "capacitors")
    marks.errors(sheet, names.area(first, 1, last, COLUMNS))
    _verdicts(sheet, first, last)


def _generators(sheet: Worksheet) -> None:
    first = _headed(
        sheet,
        GENERATOR_ROW,
        "Generators: equivalent negative-sequence current of the harmonics",
        (
            "generator",
            "rated voltage (kV)",
            "rated current (A)",
            "voltage THD of its bus (%)",
            "fundamental (A)",
            "THD (%)",
            "I2 equivalent (%)",
        ),
    )
    for position in range(1, SPARE["generators"] + 1):
        row = first + position - 1
        _name(sheet, row, "generators", position)
        kva, rated, bus = (_column("generators", field, position) for field in ("kva", "rated kv", "bus"))
        volts = f'IF($A{row}="","",IF({rated}="",{_bus_kv(bus)},{rated}))'
        spectrum = _amps(row)
        thd = f'HD_PLANT_VALUE({plant_arrays.plant()},{bus},"THDV",{plant_names.VIEW})'
        _fill(
            sheet,
            row,
            (
                (volts, "0.000"),
                (f'IF($A{row}="","",{kva}/(SQRT(3)*B{row}))', "0"),
                (f'IF($A{row}="","",{thd})', "0.00"),
                (f'IF($A{row}="","",INDEX({spectrum},1,2))', "0.0"),
                (f'IF($A{row}="","",IF(E{row}<C{row}/1000,"",HD_THD({spectrum})))', "0.0"),
                (f'IF($A{row}="","",HD_GENERATOR_I2({spectrum},C{row}))', "0.00"),
            ),
        )
    last = first + SPARE["generators"] - 1
    _unshown(sheet, last, "generators")
    marks.errors(sheet, names.area(first, 1, last, 7))


def _unshown(sheet: Worksheet, last: int, table: str) -> None:
    page.unshown(sheet, last + 1, plant_names.column(table, "name"), SPARE[table], table)


def _verdicts(sheet: Worksheet, first: int, last: int) -> None:
    for row in range(first, last + 1):
        marks.verdict(sheet, f"L{row}")
