"""Sheet of what the harmonics do to capacitors, generators, conductors, and to the voltage by notches."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.schema.inputs.equipment import CABLE_DATA, GENERATOR_DATA
from xlcalc.workbooks.kit import element_table, marks, page, verdict_cells
from xlcalc.workbooks.kit.element_table import Column, TableRows
from xlcalc.workbooks.plant import plant_arrays
from xlcalc.workbooks.plant.equipment.transformer_sheet import yearly
from xlcalc.workbooks.plant.network_sheet import HELD, shown
from xlcalc.workbooks.plant.plant_data import PlantData
from xlcalc.workbooks.plant.verdicts_sheet import Checked

WIDTH: Final = 14


CAPACITOR_ROW: Final = 6


GENERATOR_ROW: Final = CAPACITOR_ROW + element_table.height("capacitors")


CABLE_ROW: Final = GENERATOR_ROW + element_table.height("generators")


NOTCH_ROW: Final = CABLE_ROW + element_table.height("cables")


NOTCH_HEIGHT: Final = 50.0
"""Room for four lines of remarks over the four last columns."""


NOTE_ROW: Final = NOTCH_ROW + element_table.height("buses")


IEEE_18: Final = "IEEE 18-2002"


IEC_60831: Final = "IEC 60831-1"


CAUTIONS: Final = (
    "Limits of capacitors are meant for contingencies, not as a continuous design basis. They and those of"
    " the notches come from secondary sources or from memory: compare them with a licensed copy.",
    "Generators: the equivalent negative-sequence current heats the rotor as the harmonics do (textbook "
    "relation). Conductors: solid and round, skin effect, and proximity effect where diameter and spacing "
    "are given; other derating of cables is not part of it.",
    "Notches: waveform of the bus voltage that all drives make together; capacitors count up to order 50. "
    "The notch of a diode bridge starts at the zero crossing of the voltage: its depth over the crest is far "
    "smaller than the depth that the standard limits.",
)


def build(book: Workbook, sheet: Worksheet, data: PlantData) -> tuple[Checked, ...]:
    """Fill the sheet; the losses of cables get names. Returns where its verdicts stand."""
    page.widths(sheet, 16, *[10.0] * (WIDTH - 1))
    page.heading(
        sheet, "Equipment", "Capacitors, generators, cables and notches with the harmonics; coupled."
    )
    page.study_title(sheet)
    page.put(
        sheet, 4, 1, f'="Case in view (chosen on the sheet PCC): "&{plant_names.VIEW_NAME}', style.SUBTITLE
    )
    capacitors, generators = _capacitors(sheet, data), _generators(sheet, data)
    cables = _cables(book, sheet, data)
    _notches(sheet, data)
    page.notes(sheet, NOTE_ROW, CAUTIONS, WIDTH)
    page.break_before(sheet, NOTCH_ROW)
    page.set_up(
        sheet,
        area=names.area(1, 1, NOTE_ROW + len(CAUTIONS) - 1, WIDTH),
        orientation="landscape",
        title_rows="1:4",
    )
    sheet.freeze_panes = "B6"
    first = NOTCH_ROW + 2
    return (
        Checked(
            sheet.title,
            f"capacitor, {IEEE_18}",
            capacitors.rows,
            capacitors.letters["ieee"],
            capacitors.shown,
        ),
        Checked(
            sheet.title,
            f"capacitor, {IEC_60831}",
            capacitors.rows,
            capacitors.letters["iec"],
            capacitors.shown,
        ),
        Checked(sheet.title, "generator", generators.rows, generators.letters["verdict"], generators.shown),
        Checked(sheet.title, "cable", cables.rows, cables.letters["verdict"], cables.shown),
        Checked(
            sheet.title, "notches at bus", range(first, first + HELD["buses"]), "I", shown("buses", data)
        ),
    )


def _capacitors(sheet: Worksheet, data: PlantData) -> TableRows:
    def figure(standard: str, line: int, column: int) -> str:
        return f'INDEX(HD_VERDICT_CAPACITOR({{spectrum}},1000*{{kv}},"{standard}"),{line},{column})'

    def word(*pairs: tuple[str, str]) -> str:
        beyond = ",".join(verdict_cells.beyond(f"{{{value}}}", f"{{{limit}}}") for value, limit in pairs)
        return f'IF(OR({beyond}),"FAIL","PASS")'

    columns = (
        Column("kv", "rated voltage (kV)", _volts("rated kv", "bus"), "0.000", "named"),
        Column("volts", "rms voltage (%)", figure(IEEE_18, 1, 3)),
        Column("volts_18", f"limit {IEEE_18}", figure(IEEE_18, 1, 4), "0"),
        Column("volts_iec", "fundamental (%), limit 100", figure(IEC_60831, 1, 3)),
        Column("peak", "peak voltage (%)", figure(IEEE_18, 2, 3)),
        Column("peak_18", f"limit {IEEE_18}", figure(IEEE_18, 2, 4), "0"),
        Column("amps", "rms current (%)", figure(IEEE_18, 3, 3)),
        Column("amps_18", f"limit {IEEE_18}", figure(IEEE_18, 3, 4), "0"),
        Column("amps_iec", f"limit {IEC_60831}", figure(IEC_60831, 2, 4), "0"),
        Column("kvar", "kvar (%)", figure(IEEE_18, 4, 3)),
        Column("kvar_18", f"limit {IEEE_18}", figure(IEEE_18, 4, 4), "0"),
        Column(
            "ieee",
            f"verdict {IEEE_18}",
            word(("volts", "volts_18"), ("peak", "peak_18"), ("amps", "amps_18"), ("kvar", "kvar_18")),
            "General",
        ),
        Column("iec", f"verdict {IEC_60831}", figure(IEC_60831, 3, 6), "General"),
    )
    place = element_table.build(
        sheet,
        CAPACITOR_ROW,
        "Capacitors: stress in percent of their rating",
        "capacitors",
        columns,
        data,
        width=WIDTH,
    )
    for key in ("ieee", "iec"):
        element_table.verdicts(sheet, place, key)
    return place


def _generators(sheet: Worksheet, data: PlantData) -> TableRows:
    distortion = f'HD_PLANT_VALUE({plant_arrays.plant()},{{net[bus]}},"THDV",{plant_names.VIEW})'
    columns = (
        Column("kv", "rated voltage (kV)", _volts("rated kv", "bus"), "0.000", "named"),
        Column("rated", "rated current (A)", "{net[kva]}/(SQRT(3)*{kv})", "0", "named"),
        Column("amps", "funda- mental (A)", "{fundamental}", "0.0", "named"),
        Column("thdv", "voltage THD of its bus (%)", distortion, "0.00"),
        Column("thd", "THD (%)", 'IF({amps}<{rated}/1000,"-",HD_THD({spectrum}))'),
        Column("i2", "negative-sequence equivalent (%)", "HD_GENERATOR_I2({spectrum},{rated})", "0.00"),
        Column(
            "limit",
            "capability of the data sheet (%)",
            'IF({data[negative sequence pct]}>0,{data[negative sequence pct]},"not stated")',
        ),
        Column("margin", "margin (points)", 'IF(ISNUMBER({limit}),{limit}-{i2},"-")'),
        element_table.verdict("i2"),
    )
    place = element_table.build(
        sheet,
        GENERATOR_ROW,
        "Generators: heating of the rotor, as equivalent negative-sequence current",
        "generators",
        columns,
        data,
        width=WIDTH,
        looked_up=GENERATOR_DATA,
    )
    element_table.verdicts(sheet, place, "verdict")
    element_table.margins(sheet, place, "i2", "margin", "limit")
    return place


def _cables(book: Workbook, sheet: Worksheet, data: PlantData) -> TableRows:
    hertz = names.FREQUENCY
    geometry = "{data[diameter mm]},{data[spacing mm]}"
    given = "AND({data[diameter mm]}>0,{data[spacing mm]}>0)"
    ohms = "{net[r ohm per km]}"
    permitted = (
        f'IF(N({ohms})=0,"-",IF({given},HD_CONDUCTOR_LOAD({{spectrum}},{ohms},{hertz},{geometry}),'
        f"HD_CONDUCTOR_LOAD({{spectrum}},{ohms},{hertz})))"
    )
    added = f"HD_CONDUCTOR_ADDED_KW({{spectrum}},{ohms},{{net[length m]}},{hertz}"
    several = "MAX(1,N({net[parallel]}))"
    columns = (
        Column(
            "rated",
            "rated current (A)",
            'IF({data[rated amps]}>0,{data[rated amps]},"not stated")',
            "0",
            "named",
        ),
        Column("amps", "funda- mental (A)", "{fundamental}", "0.0", "named"),
        Column("thd", "THD (%)", "HD_THD({spectrum})"),
        Column("rms", "rms (A)", "{amps}*SQRT(1+({thd}/100)^2)"),
        Column("load", "load (% of rated)", 'IF(ISNUMBER({rated}),100*{rms}/{rated},"-")'),
        Column("permitted", "permitted load (%)", permitted),
        Column(
            "margin",
            "margin (points)",
            'IF(AND(ISNUMBER({load}),ISNUMBER({permitted})),{permitted}-{load},"-")',
        ),
        element_table.verdict("permitted"),
        Column(
            "kw",
            "added loss (kW)",
            f'IF(N({ohms})=0,"-",IF({given},{added},{geometry}),{added}))/{several})',
            "0.000",
        ),
        *yearly(),
    )
    place = element_table.build(
        sheet,
        CABLE_ROW,
        "Cables: heating of the conductors by skin and proximity effect",
        "cables",
        columns,
        data,
        width=WIDTH,
        looked_up=CABLE_DATA,
    )
    element_table.verdicts(sheet, place, "verdict")
    element_table.margins(sheet, place, "load", "margin", "permitted")
    for key in ("kw", "kwh", "cost"):
        letter = place.letters[key]
        cells = f"{letter}{place.first}:{letter}{place.last}"
        names.define(book, plant_names.column(f"added_{key}", "cables"), sheet, cells)
    return place


def _notches(sheet: Worksheet, data: PlantData) -> None:
    page.section(sheet, NOTCH_ROW, "Commutation notches at the buses (IEEE 519)", WIDTH)
    page.put(sheet, NOTCH_ROW, 11, f'="class: "&{plant_names.NOTCH_CLASS}', style.SECTION)
    headings = (
        "bus",
        "nominal (kV)",
        "depth (%)",
        "limit (%)",
        "depth over the crest (%)",
        "area (V us)",
        "limit (V us)",
        "width (us)",
        "verdict",
        "drives with the deepest notch",
        "remark",
    )
    page.headings(sheet, NOTCH_ROW + 1, headings)
    sheet.row_dimensions[NOTCH_ROW + 1].height = element_table.HEADING_HEIGHT
    sheet.merge_cells(start_row=NOTCH_ROW + 1, end_row=NOTCH_ROW + 1, start_column=11, end_column=WIDTH)
    bus, kv = (plant_names.column("buses", field) for field in ("name", "kv"))
    first, held = NOTCH_ROW + 2, HELD["buses"]
    last = first + held - 1
    block = plant_arrays.NOTCHES
    for position, row in enumerate(range(first, last + 1), start=1):
        name = f"INDEX({bus},{position})"
        page.put(sheet, row, 1, f'=IF({name}="","",{name})', style.LABEL)
        page.put(sheet, row, 2, f'=IF($A{row}="","",INDEX({kv},{position}))', style.RESULT, "0.000")
        for column, number_format in ((2, "0.0"), (3, "0"), (4, "0.0"), (5, "#,##0"), (6, "#,##0"), (7, "0")):
            source = block.cell(position, column)
            absent = f'IF({block.cell(position, 9)}&""="NO VERDICT","","off")'
            shown_value = f"IF(ISERROR({source}),{source},IF(ISNUMBER({source}),{source},{absent}))"
            formula = f'=IF($A{row}="","",{shown_value})'
            page.put(sheet, row, column + 1, formula, style.RESULT, number_format)
        verdict = f'({block.cell(position, 9)}&"")'
        shown_verdict = f'IF(ISERROR({verdict}),{verdict},IF({verdict}="not supplied","-",{verdict}))'
        page.put(sheet, row, 9, f'=IF($A{row}="","",{shown_verdict})', style.RESULT, "General")
        for column, source in ((10, block.cell(position, 8)), (11, block.cell(position, 11))):
            page.put(sheet, row, column, f'=IF($A{row}="","",{source}&"")', style.RESULT_TEXT)
        for column in range(12, WIDTH + 1):
            sheet.cell(row, column).style = style.RESULT_TEXT
        sheet.merge_cells(start_row=row, end_row=row, start_column=11, end_column=WIDTH)
        sheet.row_dimensions[row].height = NOTCH_HEIGHT
        marks.verdict(sheet, f"I{row}")
    marks.errors(sheet, names.area(first, 1, last, 11))
    in_view = shown("buses", data)
    page.unshown(sheet, last + 1, bus, in_view, held, "buses")
    page.fold(sheet, first + in_view, last)


def _volts(rated: str, bus: str) -> str:
    buses, kv = (plant_names.column("buses", field) for field in ("name", "kv"))
    own = f"{{net[{rated}]}}"
    return f'IF({own}="",INDEX({kv},MATCH({{net[{bus}]}},{buses},0)),{own})'
