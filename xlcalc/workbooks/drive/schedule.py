"""Columns of the drive schedule: the inputs of the registry, and what the sheet computes for each row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from xlcalc.files.books import names
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.workbooks.kit.labels import label
from xlcalc.worksheet.catalogue import FUNCTIONS

DESCRIPTION: Final = "Description"
DETAILS: Final = ("filter reactor x/r", "filter shunt resistance pct", "filter damping pct")
REACTORS: Final = {"Line reactor (%)": "line reactor", "DC choke (%)": "dc choke"}
"""Columns that take words too, and their devices."""
RESULTS: Final = "drive_results"
RESULT_TAGS: Final = "drive_result_tags"


@dataclass(frozen=True)
class Calculated:
    """A column that the sheet computes."""

    heading: str
    formula: str
    number_format: str
    meaning: str


def cell(heading: str) -> str:
    """Structured reference to a column in the row of the formula."""
    return f"{names.TABLE}[[#This Row],[{heading}]]"


def shown(fields: Sequence[Field]) -> tuple[Field, ...]:
    """Fields of a schedule that its sheet has columns for: all but the details of a filter."""
    return tuple(field for field in fields if field.name not in DETAILS)


def input_headings() -> tuple[str, ...]:
    """Headings of the inputs, the description after the tag."""
    first, *rest = (label(field.name) for field in shown(DRIVES.fields))
    return (first, DESCRIPTION, *rest)


def input_span() -> str:
    """The inputs with their headings and all the room below them, the argument `drives`."""
    return names.DRIVE_INPUTS


def link_kw(rating: str, unit: str, efficiency: str) -> str:
    """DC-link power in kW from references to the three inputs; a blank efficiency is a typical one."""
    return f'IF({efficiency}="",HD_LINK_KW({rating},{unit}),HD_LINK_KW({rating},{unit},{efficiency}))'


def nameplate_link_kw(kv: str) -> str:
    """The same in the row of the formula, also where the rating is an input current."""
    rating, unit, efficiency = cell("Rating"), cell("Unit"), cell("Efficiency (%)")
    of_amps = ",".join((rating, unit, "", f"1000*{kv}", cell("Pulses"), *(cell(name) for name in REACTORS)))
    return f'IF({unit}="A",HD_LINK_KW({of_amps}),{link_kw(rating, unit, efficiency)})'


def percent(given: str, device: str, link: str) -> str:
    """Percent of a reactor or choke from references to what was given, words too, and to the link power."""
    return f'IF(ISTEXT({given}),HD_NAMEPLATE_PCT({given},"{device}",{link}),N({given}))'


def result_columns() -> tuple[str, ...]:
    """Columns of HD_DRIVES, as the registry declares them."""
    shape = FUNCTIONS["HD_DRIVES"].shape
    return shape.columns if shape else ()


def per_drive(column: str, tag: str) -> str:
    """Look-up by tag of the one column of HD_DRIVES whose name begins with `column`.

    The tags stand a second time as joined text: LibreOffice finds no text in the array of an add-in.
    """
    (number,) = (i for i, name in enumerate(result_columns(), start=1) if name.startswith(column))
    return f'INDEX({RESULTS},MATCH({tag}&"",{RESULT_TAGS},0),{number})'


def calculated() -> tuple[Calculated, ...]:
    """Computed columns, left to right; each later one may use the earlier ones."""
    second = f'{cell("Bus")}="second"'
    kv = f"IF({second},second_bus_kv,main_bus_kv)"
    ohms = f"IF({second},second_bus_x_ohm,main_bus_x_ohm)"
    link = cell("Link power (kW)")
    load = f'IF({cell("Load (%)")}="",100,{cell("Load (%)")})'
    drive = ",".join(
        (
            cell("Pulses"),
            cell("Source (%)"),
            *(percent(cell(name), device, link) for name, device in REACTORS.items()),
            load,
            f"IF({second},{names.SECOND_SETTINGS},{names.MAIN_SETTINGS})",
        )
    )
    base_amps = f"{link}/(SQRT(3)*{kv})"

    def unless_blank(formula: str, heading: str = "Link power (kW)") -> str:
        return f'=IF({cell(heading)}="","",{formula})'

    def millihenry(heading: str) -> str:
        return (
            f'=IF(OR({link}="",{cell(heading)}="",{cell(heading)}=0),"",'
            f"HD_REACTOR_MH({percent(cell(heading), REACTORS[heading], link)},1000*{kv},{base_amps},"
            f"{names.FREQUENCY}))"
        )

    return (
        Calculated(
            "Link power (kW)",
            unless_blank(nameplate_link_kw(kv), "Rating"),
            "0.0",
            "rated power of the direct-current link, the base of every percent value of the drive",
        ),
        Calculated(
            "Source (%)",
            unless_blank(f"HD_SOURCE_PCT({kv}^2/{ohms},{link})"),
            "0.00",
            "reactance of the supply up to the bus on the base of the drive",
        ),
        Calculated(
            "THD (%)", unless_blank(f"HD_THD(HD_SPECTRUM({drive}))"), "0.0", "distortion of the line current"
        ),
        Calculated(
            "5th (%)",
            unless_blank(f"INDEX(HD_SPECTRUM({drive}),5,2)"),
            "0.0",
            "5th harmonic in percent of the fundamental",
        ),
        Calculated(
            "True PF", unless_blank(f"HD_TRUE_PF({drive})"), "0.000", "real power over volts times amperes"
        ),
        Calculated(
            "Fundamental (A)",
            unless_blank(per_drive("fundamental A", cell("Tag"))),
            "0.0",
            "fundamental current of one drive at its bus",
        ),
        Calculated(
            "RMS (A)",
            unless_blank(per_drive("rms A", cell("Tag"))),
            "0.0",
            "rms current of one drive at its bus",
        ),
        Calculated(
            "5th at PCC (A)",
            unless_blank(per_drive("5th at the PCC", cell("Tag"))),
            "0.00",
            "5th harmonic of all drives of the row, in amperes at the PCC",
        ),
        Calculated("Reactor (mH)", millihenry("Line reactor (%)"), "0.000", "inductance per phase"),
        Calculated(
            "Choke (mH)", millihenry("DC choke (%)"), "0.000", "inductance in the direct-current link"
        ),
    )
