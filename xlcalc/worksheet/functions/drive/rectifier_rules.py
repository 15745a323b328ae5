"""Line reactors and the textbook relations of the diode bridge."""

from __future__ import annotations

from xlcalc import reactor
from xlcalc.core import plausible
from xlcalc.schema.inputs.quantities import AMPS as ANY_AMPS
from xlcalc.schema.inputs.quantities import ANY_HZ, PART_LOAD
from xlcalc.schema.kinds import Number
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Reactors and rectifier relations"
VOLTS = Argument("volts", Number(0, 1e6, "V", above=True, usual=plausible.VOLTS), "Line-to-line voltage, rms")
AMPS = Argument("amps", ANY_AMPS, "Rated fundamental line current, rms")
REACTOR = Number(0, 100, "%", above=True, usual=plausible.REACTOR_PCT)
HERTZ = Argument("hz", ANY_HZ, "Supply frequency")

COMMUTATING = Argument(
    "x_pct",
    Number(0, 50, "%"),
    "Total reactance per phase, source and reactor, on the rating of the drive",
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_REACTOR_MH",
        category=CATEGORY,
        summary="Inductance per phase of a three-phase line reactor from its percent rating",
        gives="mH",
        arguments=(
            Argument(
                "pct",
                REACTOR,
                "Rating of the reactor in percent",
            ),
            VOLTS,
            AMPS,
            HERTZ,
        ),
        implementation=lambda pct, volts, amps, hz: 1e3 * reactor.reactor_henry(pct, volts, amps, hz),
        examples=(
            Example("=HD_REACTOR_MH(3,460,4,60)", 5.2837, "percent-reactor rule: 3 % at 460 V, 60 Hz, 4 A"),
            Example("=HD_REACTOR_MH(3,460,12,60)", 1.761, "percent-reactor rule: 3 % at 460 V, 60 Hz, 12 A"),
        ),
    ),
    WorksheetFunction(
        name="HD_REACTOR_PCT",
        category=CATEGORY,
        summary="Percent rating of a three-phase line reactor from its inductance per phase",
        gives="percent",
        arguments=(
            Argument("mh", Number(0, 1e6, "mH", above=True), "Inductance per phase"),
            VOLTS,
            AMPS,
            HERTZ,
        ),
        implementation=lambda mh, volts, amps, hz: reactor.reactor_percent(mh / 1e3, volts, amps, hz),
        examples=(Example("=HD_REACTOR_PCT(5.2837,460,4,60)", 3.0, "inverse of the percent-reactor rule"),),
    ),
    WorksheetFunction(
        name="HD_OVERLAP_DEG",
        category=CATEGORY,
        summary="Commutation overlap of a six-pulse diode bridge with smooth direct current at rated load",
        gives="degrees",
        arguments=(COMMUTATING,),
        implementation=reactor.overlap_deg,
        examples=(
            Example(
                "=HD_OVERLAP_DEG(3)", 14.40, "480 V, 100 A d.c., 3 % on 77.97 A: textbook relation, computed"
            ),
        ),
        notes="cos u = 1 - 2 X Id / (sqrt2 V), which is 1 - pi x / 3 on the base of the drive.",
    ),
    WorksheetFunction(
        name="HD_DC_VOLTS",
        category=CATEGORY,
        summary="Mean direct voltage of a six-pulse diode bridge with smooth direct current",
        gives="V",
        arguments=(
            VOLTS,
            COMMUTATING,
            Argument(
                "load_pct",
                PART_LOAD,
                "Direct current in percent of rated",
                default=100.0,
            ),
        ),
        implementation=reactor.dc_volts,
        examples=(
            Example(
                "=HD_DC_VOLTS(480,3)",
                638.05,
                "480 V, 100 A d.c., 3 % on 77.97 A: textbook relation, computed",
            ),
        ),
    ),
    WorksheetFunction(
        name="HD_NOTCH_DEPTH_PCT",
        category=CATEGORY,
        summary="Depth of the commutation notch at the bus ahead of a line reactor",
        gives="percent of the voltage just before the notch",
        arguments=(
            Argument(
                "source_pct", Number(0, 50, "%"), "Reactance of the source up to the bus, on the drive rating"
            ),
            Argument(
                "reactor_pct",
                Number(0, 100, "%"),
                "Reactance between the bus and the bridge, on the drive rating",
            ),
        ),
        implementation=reactor.notch_depth_pct,
        examples=(
            Example("=HD_NOTCH_DEPTH_PCT(1,3)", 25.0, "voltage divider 1 / (1 + 3), IEEE 519-1992 relation"),
        ),
    ),
)
