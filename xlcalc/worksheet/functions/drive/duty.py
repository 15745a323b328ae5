"""What a drive feels of its line: the DC link at low, nominal and high voltage."""

from __future__ import annotations

from typing import Any

from xlcalc.errors import NoSolutionError
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.schema.inputs.drive import accepts_uneven
from xlcalc.schema.kinds import Number
from xlcalc.schema.values import Grid
from xlcalc.studies.duty.front_end import LINES_PCT, at_line, link_duty
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.drive.spectra import (
    CATEGORY,
    DRIVE_ARGUMENTS,
    EXAMPLE,
    SIMULATED,
    front_end_from,
)
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

TRIP = Argument(
    "trip_pct",
    Number(30, 120, "%"),
    "DC-link voltage at which the drive trips, percent of 1.35 V nominal, from its data sheet",
    default=None,
)


def _link_duty(*arguments: Any) -> Grid:
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


FUNCTIONS = (
    WorksheetFunction(
        name="HD_LINK_DUTY",
        category=CATEGORY,
        summary="DC link of a drive at 90, 100 and 110 % line voltage, and what the line reactor costs it",
        gives="percent of 1.35 V at nominal line voltage; capacitor current in percent of P / (1.35 V)",
        arguments=(*DRIVE_ARGUMENTS[:-1], TRIP),
        implementation=_link_duty,
        shape=Shape(
            len(LINES_PCT),
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
)
