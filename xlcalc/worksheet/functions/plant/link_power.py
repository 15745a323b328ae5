"""From the nameplate of a drive to the power of its DC link, the base of all its percent values."""

from __future__ import annotations

from typing import Any

from xlcalc.equipment.motor_efficiency import BASIS, CLASSES, TYPICAL_CLASS, typical_efficiency_pct
from xlcalc.equipment.nameplate import motor_amps
from xlcalc.schema.assembly.drive import INPUT_AMPS, REACTORS, shaft_watts, watts_of
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES, EFFICIENCY_DOC
from xlcalc.schema.inputs.quantities import (
    DRIVE_REACTOR,
    EFFICIENCY_PCT,
    KW,
    LOW_VOLTS,
    RATING,
    SHAFT_UNIT,
    UNIT,
)
from xlcalc.schema.kinds import Choice, Number
from xlcalc.schema.nameplate import ByNameplate
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Plant and PCC"
DEVICES = Choice(tuple(name.removesuffix(" pct") for name in REACTORS))
SHAFT_ARGUMENTS = (
    Argument("rating", RATING, "Rated shaft output"),
    Argument("shaft_unit", SHAFT_UNIT, "Unit of the rating"),
)


def _of_schedule(name: str, argument: str, default: object = None) -> Argument:
    field: Field = DRIVES.field(name)
    return Argument(argument, field.kind, field.doc, default=default)


def _link_kw(
    rating: float, unit: str, efficiency: float | None, volts: float | None, *front_end: Any
) -> float:
    pulses, reactor, choke = front_end
    row = {
        **{field.name: field.default for field in DRIVES.fields if not field.required},
        "tag": "of this row",
        "bus": "",
        "rating": rating,
        "unit": unit,
        "efficiency pct": efficiency,
        "pulses": pulses,
        "line reactor pct": reactor,
        "dc choke pct": choke,
    }
    return watts_of(row, volts or 0.0) / 1e3


def _typical(rating: float, unit: str, efficiency_class: str) -> float:
    return typical_efficiency_pct(shaft_watts(rating, unit), efficiency_class)


def _nameplate_pct(given: float, device: str, link_kw: float | None) -> float:
    if not isinstance(given, ByNameplate):
        return given
    return float(ByNameplate(device, given.given, given.stated_pct, link_kw or 0.0))


FUNCTIONS = (
    WorksheetFunction(
        name="HD_LINK_KW",
        category=CATEGORY,
        summary="Rated DC-link power of a drive from its shaft rating, or from its rated input current",
        gives="kW",
        arguments=(
            Argument("rating", RATING, "Rated shaft output, or input current in A"),
            Argument("shaft_unit", UNIT, "Unit of the rating"),
            Argument("efficiency_pct", EFFICIENCY_PCT, EFFICIENCY_DOC, default=None),
            Argument("volts", LOW_VOLTS, "Line voltage of an input current", default=None),
            _of_schedule("pulses", "pulses", 6),
            _of_schedule("line reactor pct", "reactor_pct", 0.0),
            _of_schedule("dc choke pct", "choke_pct", 0.0),
        ),
        implementation=_link_kw,
        examples=(
            Example('=HD_LINK_KW(100,"hp",95)', 78.4947, "100 x 0.745699872 / 0.95, by hand"),
            Example(
                '=HD_LINK_KW(75,"kW")',
                82.2549,
                "75 / (0.940 x 0.97): IE2, 4-pole, 75 kW of IEC 60034-30-1 and 3 % drive losses, by hand",
            ),
        ),
        notes=f"Without an efficiency: {BASIS}. An input current ({INPUT_AMPS}) is the rms current with its "
        "harmonics, as rating plates state it: sqrt3 V I times the power factor of the front end on a supply "
        "of R_sce 120 (IEC 61000-3-12: S_equ = sqrt3 U I_equ); the efficiency is then of no account.",
    ),
    WorksheetFunction(
        name="HD_TYPICAL_EFFICIENCY_PCT",
        category=CATEGORY,
        summary="Efficiency from DC link to shaft that stands for one that was not given",
        gives="percent",
        arguments=(
            *SHAFT_ARGUMENTS,
            Argument("efficiency_class", Choice(CLASSES), "Class of the motor", default=TYPICAL_CLASS),
        ),
        implementation=_typical,
        examples=(Example('=HD_TYPICAL_EFFICIENCY_PCT(75,"kW")', 91.18, "94.0 % x 0.97, by hand"),),
        notes=f"{BASIS}; interpolated over the logarithm of the rating.",
    ),
    WorksheetFunction(
        name="HD_NAMEPLATE_PCT",
        category=CATEGORY,
        summary="Percent that stands for what a nameplate says of a line reactor or DC choke",
        gives="percent; a number as it was given",
        arguments=(
            Argument("given_pct", DRIVE_REACTOR, "What is known: percent, or words"),
            Argument("device", DEVICES, "Of which device"),
            Argument("link_kw", KW, "Rated DC-link power, where known", default=None),
        ),
        implementation=_nameplate_pct,
        examples=(
            Example('=HD_NAMEPLATE_PCT("yes","dc choke",75)', 3.0, "the table drive_habits"),
            Example('=HD_NAMEPLATE_PCT("3 % equivalent","line reactor")', 3.0, "as stated"),
        ),
        notes="Words: yes, no, unknown, '3 % equivalent' (to a line reactor of 3 %). Typical values with "
        "range and basis stand in the table drive_habits; HD_ASSUMPTIONS lists those of a study.",
    ),
    WorksheetFunction(
        name="HD_MOTOR_AMPS",
        category=CATEGORY,
        summary="Full-load current of a three-phase motor by its rating, as wiring rules take it",
        gives="A; as a rule above the nameplate of a modern motor",
        arguments=(
            Argument("hp", Number(0.5, 500, "hp"), "Rated shaft output"),
            Argument("volts", LOW_VOLTS, "Rated voltage, within 10 % of 200, 208, 230, 460 or 575 V"),
        ),
        implementation=motor_amps,
        examples=(Example("=HD_MOTOR_AMPS(100,460)", 124.0, "NEC Table 430.250 (3 public copies)"),),
        notes="Between ratings of the table it is interpolated. A motor's current is not the input current "
        "of its drive; it shows whether a listed current belongs to a listed rating.",
    ),
)
