"""What a drive feels of its line, and what its transformer carries."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import AUTOTRANSFORMER, solve_front_end
from xlcalc.schema.inputs.drive import accepts_uneven
from xlcalc.schema.kinds import Number
from xlcalc.schema.values import Grid
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.drive.spectra import (
    CATEGORY,
    DRIVE_ARGUMENTS,
    EXAMPLE,
    SIMULATED,
    front_end_from,
)
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

WINDING_ORDERS = 200
"""For the rms current of windings that carry differences of blocks."""

TRIP = Argument(
    "trip_pct",
    Number(30, 120, "%"),
    "DC-link voltage at which the drive trips, percent of 1.35 V nominal, from its data sheet",
    default=None,
)


def _link_duty(*arguments: Any) -> Grid:
    from xlcalc.studies.duty.front_end import LINES_PCT, at_line, link_duty

    *drive, trip = arguments
    front_end, settings = front_end_from(*drive), drive[-1]
    rows: Grid = []
    for line in LINES_PCT:
        doubt = doubt_of(at_line(front_end, line))
        if doubt and not accepts_uneven(settings):
            raise NoSolutionError(f"at {line:g} % line voltage {doubt}")
        duty = link_duty(front_end, line)
        rows.append(
            [
                line,
                duty.mean_pct,
                duty.lowest_pct,
                duty.highest_pct,
                duty.highest_pct - duty.lowest_pct,
                duty.capacitor_pct,
                duty.reactor_pct,
                "" if trip is None else duty.lowest_pct - trip,
            ]
        )
    return rows


def _autotransformer(*arguments: Any) -> float:
    from xlcalc.studies.duty.autotransformer import share_pct

    front_end, settings = replace(front_end_from(*arguments), transformer_kind=AUTOTRANSFORMER), arguments[-1]
    state = solve_front_end(front_end, WINDING_ORDERS)
    if doubt_of(state) and not accepts_uneven(settings):
        raise NoSolutionError(doubt_of(state))
    return share_pct(state)


FUNCTIONS = (
    WorksheetFunction(
        name="HD_LINK_DUTY",
        category=CATEGORY,
        summary="DC link of a drive at 90, 100 and 110 % line voltage, and what the line reactor costs it",
        gives="percent of 1.35 V at nominal line voltage; capacitor current in percent of P / (1.35 V)",
        arguments=(*DRIVE_ARGUMENTS[:-1], TRIP),
        implementation=_link_duty,
        shape=Shape(
            3,
            (
                "line %",
                "mean %",
                "lowest %",
                "highest %",
                "ripple, peak to peak %",
                "capacitor rms %",
                "mean lost to the line reactor %",
                "lowest above the trip level %",
            ),
        ),
        examples=(Example(f"=INDEX(HD_LINK_DUTY({EXAMPLE}),2,2)", 97.552, SIMULATED),),
        notes="The load keeps its power at every line voltage. The last column is blank without a trip "
        "level: take that from the data sheet of the drive. Dips and unbalance come on top of it. The "
        "capacitor current is that of the bridges; what the switching of the inverter adds is not in it.",
    ),
    WorksheetFunction(
        name="HD_AUTOTRANSFORMER_PCT",
        category=CATEGORY,
        summary="Size of the autotransformer of a multi-pulse drive: half the volt-amperes of its windings",
        gives="percent of the DC-link power; an isolating transformer has somewhat more than 100",
        arguments=DRIVE_ARGUMENTS[:-1],
        implementation=_autotransformer,
        examples=(
            Example(
                '=HD_AUTOTRANSFORMER_PCT(12,1,0,3,100,{"transformer pct",4;"diode drop pct",0.00625;'
                '"diode resistance pct",0.03255})',
                19.4617,
                "ngspice simulation of this drive, winding by winding",
            ),
        ),
        notes="Main windings in delta between the lines, two short windings per output, which keep its "
        "voltage at any angle; other connections differ by some points. An autotransformer isolates nothing. "
        "The reactors that block the zero sequence (ZSBT) come on top; without them it cannot be used at 12 "
        "pulses and more. The setting 'transformer kind' is of no account here.",
    ),
)
