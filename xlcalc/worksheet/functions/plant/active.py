"""Switching frequency of active front ends, and the size of an active filter on a bus."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from xlcalc.core import plausible
from xlcalc.schema.assembly.network import known_bus
from xlcalc.schema.inputs.quantities import ANY_HZ
from xlcalc.schema.kinds import Choice, Number
from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid, Scalar
from xlcalc.studies.duty.active_front_end import SIDEBANDS, SwitchingFilter, active_filter_amps, rows_of
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.plant import solved_plants
from xlcalc.worksheet.functions.plant.plant_study import (
    BUS_ARGUMENT,
    CATEGORY,
    DRIVES_ARGUMENT,
    EXAMPLE_DRIVES,
    EXAMPLE_NETWORK,
    NETWORK_ARGUMENT,
    SETTINGS_ARGUMENT,
)
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

REACTOR = Number(0, 100, "%", usual=plausible.REACTOR_PCT)


_SWITCHING = (
    "volts",
    "hz",
    "switching_hz",
    "dc_volts",
    "converter_pct",
    "line_pct",
    "capacitor_pct",
    "source_pct",
    "damping_pct",
    "modulation",
)


def _switching(*values: Any) -> Grid:
    found = SwitchingFilter(**dict(zip(_SWITCHING, values, strict=True)))
    rows: Grid = [[*row, _where(*side)] for row, side in zip(rows_of(found), SIDEBANDS, strict=True)]
    total = math.sqrt(sum(float(row[2]) ** 2 for row in rows_of(found)))
    rows.append(["", "", total, "rms of these"])
    if math.isinf(found.resonance):
        return [*rows, ["", "", "", "no resonance: an L filter, or no reactance ahead of the capacitors"]]
    least, most = 10.0, found.ratio / 2.0
    word = "within" if least <= found.resonance <= most else "OUTSIDE"
    text = f"resonance, {word} 10 to {most:.4g} (half the switching order), the usual range"
    return [*rows, [found.resonance, found.resonance * found.hz, "", text]]


def _where(multiple: int, side: int) -> str:
    return f"{multiple if multiple > 1 else ''}fs {'+' if side > 0 else '-'} {abs(side)}f".strip()


def _filter(tables: Tables, drives: Sequence[Values], bus: str, left: float, settings: Values) -> Grid:
    solution = solved_plants.solution_of(tables, drives, settings)
    known_bus(solution.network, bus)
    amps = active_filter_amps(solution, bus, left)
    named = (
        ("phasors", amps.phasors),
        ("exponents of IEC TR 61000-3-6", amps.exponents),
        ("arithmetic, no diversity", amps.arithmetic),
    )
    most = amps.arithmetic

    def cells(value: float) -> list[Scalar]:
        if math.isnan(value):
            return ["", ""]
        return [value, 100.0 * value / most if most else ""]

    return [[name, *cells(value)] for name, value in named]


FUNCTIONS = (
    WorksheetFunction(
        name="HD_SWITCHING_AMPS",
        category=CATEGORY,
        summary="Currents around the switching frequency of an active front end behind its LCL filter",
        gives="order, Hz, percent of the rated current of the eight largest sidebands; their rms; resonance",
        arguments=(
            Argument("volts", Number(0, 1e6, "V", above=True, usual=plausible.VOLTS), "Line to line, rms"),
            Argument("hz", ANY_HZ, "Supply frequency"),
            Argument("switching_hz", Number(500, 1e5, "Hz"), "Switching frequency, 15 times hz or more"),
            Argument("dc_volts", Number(0, 1e5, "V", above=True), "DC link; above 1.414 times volts"),
            Argument(
                "converter_pct", Number(0, 100, "%", above=True), "Reactor on the side of the converter"
            ),
            Argument("line_pct", REACTOR, "Reactor on the side of the line"),
            Argument("capacitor_pct", Number(0, 50, "%"), "Vars of the capacitors; 0: an L filter"),
            Argument("source_pct", Number(0, 100, "%"), "Reactance of the supply", default=0.0),
            Argument("damping_pct", Number(0, 100, "%"), "Resistor in series with them", default=0.0),
            Argument(
                "modulation",
                Choice(("space vector", "sine")),
                "Zero sequence of the references: half the sum of the largest and the smallest, or none",
                default="space vector",
            ),
        ),
        implementation=_switching,
        shape=Shape(len(SIDEBANDS) + 2, ("order", "Hz", "% of rated current", "sideband")),
        examples=(
            Example(
                "=INDEX(HD_SWITCHING_AMPS(480,60,3780,850,8,4,5,1,20,{text}),2,3)".replace(
                    "{text}", '"sine"'
                ),
                0.939,
                "ngspice simulation of a converter that switches: 0.9374",
            ),
        ),
        notes="Percent of V^2 / S of the rating. Two-level converter, natural sampling, dead time and ripple "
        "of the DC link left out. These orders lie above 50, which IEEE 519 does not judge; they are what a "
        "capacitor or another converter at the same bus may take up. An estimate for the choice of a filter.",
    ),
    WorksheetFunction(
        name="HD_ACTIVE_FILTER_AMPS",
        category=CATEGORY,
        summary="Size of an active filter that takes the harmonics out of what flows into a bus",
        gives="rms amperes of the most loaded phase, orders 2 to 50, and percent of the arithmetic sum",
        arguments=(
            NETWORK_ARGUMENT,
            DRIVES_ARGUMENT,
            BUS_ARGUMENT,
            Argument("left_pct", Number(0, 99, "%"), "What it leaves of each order", default=0.0),
            SETTINGS_ARGUMENT,
        ),
        implementation=_filter,
        shape=Shape(3, ("sum", "A rms", "diversity %")),
        examples=(
            Example(
                f'=INDEX(HD_ACTIVE_FILTER_AMPS({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"M"),3,3)',
                100.0,
                "the arithmetic sum, by definition",
            ),
        ),
        notes="Coupled solution without the filter. Phasors hold while all loads run as given; where loads "
        "change on their own the sum by exponents is the usual choice, and the arithmetic one is never "
        "exceeded. Blank for phasors where a spectrum has no angles. On the flatter voltage behind a filter "
        "diode bridges draw somewhat more harmonic current: leave a margin. Passive filters and capacitors "
        "on the bus shunt part of it.",
    ),
)
