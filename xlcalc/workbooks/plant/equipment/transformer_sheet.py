"""Sheet of transformers: K-factor, permitted load, verdict, and the losses that harmonics add."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.schema.inputs.equipment import TRANSFORMER_DATA
from xlcalc.workbooks.kit import element_table, page
from xlcalc.workbooks.kit.element_table import Column
from xlcalc.workbooks.plant.equipment.equipment_data import LIQUID_FIELDS
from xlcalc.workbooks.plant.plant_data import PlantData
from xlcalc.workbooks.plant.verdicts_sheet import Checked

TWO: Final = "transformers"


THREE: Final = "three-winding transformers"


WINDINGS: Final = ("primary", "secondary", "tertiary")


WIDTH: Final = 19


FIRST_ROW: Final = 6


THREE_ROW: Final = FIRST_ROW + element_table.height(TWO)


NOTE_ROW: Final = THREE_ROW + element_table.height(THREE)


CAUTIONS: Final = (
    "Permitted load: IEEE C57.110, dry types by winding loss, liquid-filled ones by the rises of top oil and "
    "winding (formulas recalled, not read in a licensed copy). A liquid-filled type needs stray and no-load "
    "loss and both rises on the sheet Equipment data; without them it has no verdict.",
    "Eddy loss is that of the sheet Network; 10 % stands in for a blank one (common practice, no source). "
    "Added losses: case in view, with the load profile and prices of the sheet Equipment data.",
    "Three windings: harmonics that cancel in the primary still heat the secondaries, so that each winding "
    "has its own line; ohmic loss by the legs of the star. Ratings of secondaries: sheet Network.",
)


def build(book: Workbook, sheet: Worksheet, data: PlantData) -> tuple[Checked, ...]:
    """Fill the sheet; the totals of its losses get names. Returns where its verdicts stand."""
    checked = []
    page.widths(sheet, 18, 7.5, *[9.5] * (WIDTH - 4), 11.5, 11.5)
    page.heading(
        sheet, "Transformers", "Load with the harmonics against what the transformer may carry; coupled."
    )
    page.study_title(sheet)
    page.put(
        sheet, 4, 1, f'="Case in view (chosen on the sheet PCC): "&{plant_names.VIEW_NAME}', style.SUBTITLE
    )
    for row, table, title, windings in (
        (FIRST_ROW, TWO, "Two windings: current at the secondary side", (_two(),)),
        (THREE_ROW, THREE, "Three windings: each winding with its own current", _three()),
    ):
        first, *more = (_columns(winding) for winding in windings)
        place = element_table.build(
            sheet, row, title, table, first, data, width=WIDTH, looked_up=TRANSFORMER_DATA, more=more
        )
        element_table.verdicts(sheet, place, "verdict")
        checked.append(Checked(sheet.title, "transformer", place.rows, place.letters["verdict"], place.shown))
        element_table.margins(sheet, place, "load", "margin", "permitted")
        for key in ("kw", "kwh", "cost"):
            letter = place.letters[key]
            cells = f"{letter}{place.first}:{letter}{place.last}"
            names.define(book, plant_names.column(f"added_{key}", table), sheet, cells)
    page.notes(sheet, NOTE_ROW, CAUTIONS, WIDTH)
    page.set_up(
        sheet,
        area=names.area(1, 1, NOTE_ROW + len(CAUTIONS) - 1, WIDTH),
        orientation="landscape",
        title_rows="1:4",
    )
    sheet.freeze_panes = "B6"
    return tuple(checked)


@dataclass(frozen=True)
class JudgedWinding:
    """Where a current is judged: bus, column of the rated voltage, rating (kVA), ohmic loss there (kW)."""

    table: str
    bus: str
    side: str
    kva: str
    ohmic: str


def _two() -> JudgedWinding:
    """The secondary side, with the loss of both windings."""
    default = _load_loss(TWO, "{net[kva]}*{net[z pct]}")
    ohmic = f"IF({{data[ohmic kw]}}>0,{{data[ohmic kw]}},{default})"
    return JudgedWinding(TWO, "to bus", "secondary kv", "{net[kva]}", ohmic)


def _three() -> tuple[JudgedWinding, ...]:
    """Each winding with its own current and rating; its loss from its leg of the star.

    A stated loss of the whole transformer is shared out as the legs do.
    """
    z = {pair: f"N({{net[z {pair} pct]}})" for pair in ("ps", "pt", "st")}
    legs = (("ps", "pt", "st"), ("ps", "st", "pt"), ("pt", "st", "ps"))
    kva = ("{net[kva]}", *(_given(f"{{net[{w} kva]}}", "{net[kva]}") for w in ("secondary", "tertiary")))
    shares = [
        f"MAX(0,({z[a]}+{z[b]}-{z[c]})/2)*{rating}^2/{{net[kva]}}"
        for (a, b, c), rating in zip(legs, kva, strict=True)
    ]
    found = []
    for share, rating, winding in zip(shares, kva, WINDINGS, strict=True):
        stated = f"{{data[ohmic kw]}}*{share}/({'+'.join(shares)})"
        ohmic = f"IF({{data[ohmic kw]}}>0,{stated},{_load_loss(THREE, share)})"
        found.append(JudgedWinding(THREE, f"{winding} bus", f"{winding} kv", rating, ohmic))
    return tuple(found)


def _load_loss(table: str, kva_percent: str) -> str:
    """Ohmic part of the load loss, kW, from impedance (kVA times percent) and X/R."""
    x_r = _given("{net[x/r]}", element_table.blank_default(table, "x/r"))
    return f"{kva_percent}/100/SQRT(1+{x_r}^2)/(1+{{eddy}}/100+{{data[stray pct]}}/100)"


def _columns(winding: JudgedWinding) -> tuple[Column, ...]:
    bus, side = winding.bus, winding.side
    eddy = _given("{net[eddy pct]}", element_table.blank_default(winding.table, "eddy pct"))
    stated = "+".join(f'({{word[{field}]}}<>"")' for field in LIQUID_FIELDS)
    liquid = ",".join(f"{{data[{field}]}}" for field in LIQUID_FIELDS)
    return (
        Column("type", "type", 'IF({word[type]}="","dry",{word[type]})', "General", "named"),
        Column(
            "kv",
            "rated voltage (kV)",
            _given(f"{{net[{side}]}}", _bus_kv(f"{{net[{bus}]}}")),
            "0.000",
            "named",
        ),
        Column("rated", "rated current (A)", f"{winding.kva}/(SQRT(3)*{{kv}})", "0", "named"),
        Column("eddy", "eddy loss (%)", eddy, "0.0", "named"),
        Column("ohmic", "ohmic loss (kW)", winding.ohmic, "0.00", "named"),
        Column("amps", "funda- mental (A)", "{fundamental}", "0.0", "named"),
        Column("thd", "THD (%)", "HD_THD({spectrum})"),
        Column("rms", "rms (A)", "{amps}*SQRT(1+({thd}/100)^2)"),
        Column("load", "load (% of rated)", "100*{rms}/{rated}"),
        Column("k", "K-factor", "HD_KFACTOR({spectrum})", "0.00"),
        Column("k_rating", "next K rating", "HD_K_RATING({k})", '"K-"0'),
        Column("loss_factor", "loss factor F_HL", "HD_LOSS_FACTOR({spectrum})", "0.00"),
        Column(
            "permitted",
            "permitted load (%)",
            f'IF({{type}}="liquid",IF({stated}<4,"no data",'
            f"HD_TRANSFORMER_LOAD_LIQUID({{spectrum}},{{eddy}},{liquid})),"
            f"HD_TRANSFORMER_LOAD_DRY({{spectrum}},{{eddy}}))",
        ),
        Column("margin", "margin (points)", 'IF(ISNUMBER({permitted}),{permitted}-{load},"-")'),
        element_table.verdict("permitted"),
        Column(
            "kw",
            "added loss (kW)",
            "HD_TRANSFORMER_ADDED_KW({spectrum},{rated},{ohmic},{eddy},{data[stray pct]})",
            "0.000",
        ),
        *yearly(),
    )


def yearly() -> tuple[Column, ...]:
    """Energy and cost of the added loss in a year; blank without a load profile."""
    profile = plant_names.LOAD_PROFILE
    stated = f"COUNT({plant_names.column('load profile', 'hours')})=0"
    return (
        Column(
            "kwh", "added energy (kWh a year)", f'IF({stated},"-",HD_ADDED_KWH({{kw}},{profile}))', "#,##0"
        ),
        Column("cost", "added cost (a year)", f'IF({stated},"-",HD_ADDED_COST({{kw}},{profile}))', "#,##0"),
    )


def _given(cell: str, otherwise: str) -> str:
    return f'N(IF({cell}="",{otherwise},{cell}))'


def _bus_kv(bus: str) -> str:
    buses, kv = (plant_names.column("buses", field) for field in ("name", "kv"))
    return f"INDEX({kv},MATCH({bus},{buses},0))"
