"""Waveform and spectrum of a drive, and what follows from them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np

from xlcalc.core import plausible
from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.closed_form import ideal_spectrum
from xlcalc.rectifier.derating import PHASES, loading
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.rectifier.inverse import reactor_for_thd
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.trace import waveforms
from xlcalc.schema.assembly.front_end import filter_of, front_end_values, phase_shift_of
from xlcalc.schema.inputs.drive import DRIVE_SETTINGS, accepts_uneven
from xlcalc.schema.inputs.quantities import LOAD_PCT, PULSE_NUMBER, REACTOR_PCT
from xlcalc.schema.inputs.supply import supply_values
from xlcalc.schema.kinds import Number, Whole
from xlcalc.schema.values import Grid
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.ranges import spectrum_rows
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

CATEGORY = "Waveform and spectrum of a drive"
WAVEFORM_POINTS = 360
IDEAL_DC_PER_LINE_VOLT = 3.0 * math.sqrt(2.0) / math.pi
PULSES = Argument("pulses", PULSE_NUMBER, "Pulse number of the front end")
SOURCE = Argument("source_pct", Number(0, 300, "%"), "Reactance of the supply on the rated DC-link power")
REACTOR = Argument("reactor_pct", REACTOR_PCT, "Line reactor on the rated DC-link power", default=0.0)

CHOKE = Argument(
    "choke_pct",
    REACTOR_PCT,
    "DC choke on the rated DC-link power (on the share of a bridge)",
    default=0.0,
)

LOAD = Argument("load_pct", LOAD_PCT, "Load in percent of rated DC-link power", default=100.0)

SETTINGS = Argument(
    "settings",
    DRIVE_SETTINGS,
    "Names and values of the drive model and the supply",
    default=MappingProxyType(DRIVE_SETTINGS.defaults),
)

PHASE = Argument("phase", Whole(1, 3), "Phase 1, 2 or 3", default=1)
DRIVE_ARGUMENTS = (PULSES, SOURCE, REACTOR, CHOKE, LOAD, SETTINGS, PHASE)
Settings = Mapping[str, Any]


def front_end_from(
    pulses: int, source: float, reactor: float, choke: float, load: float, settings: Settings
) -> FrontEnd:
    """The front end that the arguments of these functions describe."""
    return FrontEnd(
        pulses=pulses,
        source_pct=source,
        source_xr=settings["source x/r"],
        reactor_pct=reactor,
        choke_pct=choke,
        load_pct=load,
        filter=filter_of(settings),
        phase_shift_deg=phase_shift_of(settings),
        **front_end_values(settings),
        **supply_values(settings),
    )


@lru_cache(maxsize=1024)
def _solved(front_end: FrontEnd) -> SteadyState:
    return solve_front_end(front_end)


def clear_cache() -> None:
    """Forget solved drives, so that a benchmark solves them again."""
    _solved.cache_clear()


def _state(
    pulses: int, source: float, reactor: float, choke: float, load: float, settings: Settings
) -> SteadyState:
    state = _solved(front_end_from(pulses, source, reactor, choke, load, settings))
    if not accepts_uneven(settings) and doubt_of(state):
        raise NoSolutionError(
            f"{doubt_of(state)}. The setting 'uneven pulses' = show gives the figures anyway"
        )
    return state


def _spectrum(*arguments: Any) -> Grid:
    *drive, phase = arguments
    current = _state(*drive).line_current[phase - 1]
    return spectrum_rows(current, current.percent)


def _waveform(*arguments: Any) -> Grid:
    *drive, phase = arguments
    state = _state(*drive)
    degrees, current, volts = waveforms(state, WAVEFORM_POINTS)
    supply = state.circuit.supply
    rated_current = math.sqrt(2.0 / 3.0) / supply.volts
    rated_volts = math.sqrt(2.0 / 3.0) * supply.volts
    columns = (degrees, current[phase - 1] / rated_current, volts[phase - 1] / rated_volts)
    return [list(row) for row in np.column_stack(columns).tolist()]


def _ideal(pulses: int, overlap_deg: float) -> Grid:
    current = ideal_spectrum(pulses, overlap_deg)
    return spectrum_rows(current, current.percent)


def _crest(*arguments: Any) -> float:
    *drive, phase = arguments
    state = _state(*drive)
    _, current, _ = waveforms(state, 10 * WAVEFORM_POINTS)
    return float(np.max(np.abs(current[phase - 1]))) / float(state.line_rms[phase - 1])


def _true_pf(*arguments: Any) -> float:
    *drive, _ = arguments
    state = _state(*drive)
    at_source = arguments[-2]["power factor at"] == "source"
    return state.source_power_factor if at_source else state.power_factor


def _displacement_pf(*arguments: Any) -> float:
    *drive, _ = arguments
    state = _state(*drive)
    at_source = arguments[-2]["power factor at"] == "source"
    return state.source_displacement_power_factor if at_source else state.displacement_power_factor


def _dc_link(*arguments: Any) -> Grid:
    *drive, _ = arguments
    state = _state(*drive)
    no_load = IDEAL_DC_PER_LINE_VOLT * state.circuit.supply.volts
    rated_current = 1.0 / no_load
    ripple = state.dc_volts_max - state.dc_volts_min
    return [
        ["mean voltage", 100.0 * state.dc_volts_mean / no_load],
        ["lowest voltage", 100.0 * state.dc_volts_min / no_load],
        ["highest voltage", 100.0 * state.dc_volts_max / no_load],
        ["ripple, peak to peak", 100.0 * ripple / no_load],
        ["capacitor current, rms", 100.0 * state.capacitor_rms / rated_current],
    ]


def _reactor_for_thd(
    target: float, pulses: int, source: float, choke: float, load: float, settings: Settings
) -> float:
    front_end = front_end_from(pulses, source, 0.0, choke, load, settings)
    return reactor_for_thd(front_end, target, accept_doubt=accepts_uneven(settings))


def _derating(
    pulses: int, source: float, reactor: float, choke: float, load: float, settings: Settings
) -> Grid:
    front_end = front_end_from(pulses, source, reactor, choke, load, settings)
    found = loading(front_end, accept_doubt=accepts_uneven(settings))
    return [
        ["line current, most loaded phase", 100.0 * found.line, _phase_number(found.line_phase), ""],
        [
            "bridge current, most loaded phase",
            100.0 * found.bridge,
            _phase_number(found.bridge_phase),
            float(found.bridge_number),
        ],
        ["load that keeps the balanced currents", 100.0 * found.load_factor, "", ""],
    ]


def _phase_number(letter: str) -> float:
    return float(PHASES.index(letter) + 1)


EXAMPLE_SETTINGS = (
    '{"dc capacitance pu",5.21154;"source x/r",4;"diode drop pct",0.00625;"diode resistance pct",0.005425;'
    '"load kind","power";"capacitor resistance pct",0}'
)

EXAMPLE = f"6,0.5,3,0,100,{EXAMPLE_SETTINGS}"
SIMULATED = "ngspice simulation of this drive: 480 V, 60 Hz, 12.5 kW, 750 uF"

MODEL_NOTE = (
    "The periodic steady state of the diode bridges is computed, in whatever conduction mode. By default "
    "the load draws a constant current that takes its power at the mean DC voltage (setting 'load kind'), "
    "and the DC capacitor has 0.5 % resistance (setting 'capacitor resistance pct'). #NUM! with that reason "
    "stands where there is no stable solution, and where a load of constant power at every instant makes "
    "uneven pulses on an even supply or has a second steady state, unless the setting 'uneven pulses' is "
    "show."
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_SPECTRUM",
        category=CATEGORY,
        summary="Spectrum of the line current of a drive, computed from its waveform",
        gives="order, percent of the fundamental, angle in degrees against the phase-1 source EMF, cosine",
        arguments=DRIVE_ARGUMENTS,
        implementation=_spectrum,
        shape=Shape(50, ("order", "% of fundamental", "angle deg")),
        examples=(
            Example(
                f"=INDEX(HD_SPECTRUM({EXAMPLE}),5,2)",
                36.02,
                SIMULATED,
            ),
        ),
        notes=MODEL_NOTE,
    ),
    WorksheetFunction(
        name="HD_WAVEFORM",
        category=CATEGORY,
        summary="One cycle of the line current and of the phase voltage at the terminals of a drive",
        gives="degrees, current per unit of rated fundamental peak, voltage per unit of rated phase peak",
        arguments=DRIVE_ARGUMENTS,
        implementation=_waveform,
        shape=Shape(WAVEFORM_POINTS, ("degrees", "line current pu", "phase voltage pu")),
        examples=(
            Example(
                f"=INDEX(HD_WAVEFORM({EXAMPLE}),91,1)",
                90.0,
                "one row per degree, starting at the voltage peak",
            ),
        ),
        notes=MODEL_NOTE,
    ),
    WorksheetFunction(
        name="HD_IDEAL_SPECTRUM",
        category=CATEGORY,
        summary="Closed-form spectrum of a converter with smooth direct current, orders to 50",
        gives="order, percent of the fundamental, angle in degrees against the source voltage (cosine)",
        arguments=(
            PULSES,
            Argument("overlap_deg", Number(0, 60, "deg"), "Commutation overlap", default=0.0),
        ),
        implementation=_ideal,
        shape=Shape(50, ("order", "% of fundamental", "angle deg")),
        examples=(
            Example("=INDEX(HD_IDEAL_SPECTRUM(6),5,2)", 20.0, "1/h, textbook"),
            Example(
                "=HD_THD(HD_IDEAL_SPECTRUM(12))", 14.1732, "sum of 1/h^2 over 12k+-1 to order 50, by hand"
            ),
        ),
    ),
    WorksheetFunction(
        name="HD_CREST",
        category=CATEGORY,
        summary="Crest factor of the line current of a drive: peak over rms",
        gives="a number, 1.414 for a sine",
        arguments=DRIVE_ARGUMENTS,
        implementation=_crest,
        examples=(Example(f"=HD_CREST({EXAMPLE})", 1.6159, SIMULATED),),
        notes=MODEL_NOTE,
    ),
    WorksheetFunction(
        name="HD_TRUE_PF",
        category=CATEGORY,
        summary="True power factor of a drive: power over rms voltage times rms current, summed over phases",
        gives="a number up to 1",
        arguments=DRIVE_ARGUMENTS,
        implementation=_true_pf,
        examples=(Example(f"=HD_TRUE_PF({EXAMPLE})", 0.9033, SIMULATED),),
        notes="Of the three phases together, at the source EMF unless 'power factor at' says terminals.",
    ),
    WorksheetFunction(
        name="HD_DISPLACEMENT_PF",
        category=CATEGORY,
        summary="Displacement power factor of a drive: cosine of the angle between the fundamentals",
        gives="a number up to 1",
        arguments=DRIVE_ARGUMENTS,
        implementation=_displacement_pf,
        examples=(Example(f"=HD_DISPLACEMENT_PF({EXAMPLE})", 0.9698, SIMULATED),),
        notes="Of the positive sequence, at the source EMF unless 'power factor at' says terminals.",
    ),
    WorksheetFunction(
        name="HD_DC_LINK",
        category=CATEGORY,
        summary="Voltage of the DC link of a drive and current of its capacitor, in the steady state",
        gives="what, percent: voltages of the ideal no-load value 3 sqrt2/pi V (1.35 V), current of the "
        "rated direct current P / (1.35 V)",
        arguments=DRIVE_ARGUMENTS,
        implementation=_dc_link,
        shape=Shape(5, ("what", "%")),
        examples=(Example(f"=INDEX(HD_DC_LINK({EXAMPLE}),1,2)", 97.552, SIMULATED),),
        notes="The phase is of no account. The capacitor current is that of the bridges; what the switching "
        "of the inverter adds is not in it.",
    ),
    WorksheetFunction(
        name="HD_DERATING",
        category=CATEGORY,
        summary="How far unbalance, distortion and mismatch overload one phase or bridge of a front end",
        gives="what, percent of the same drive on a balanced sine supply, phase, bridge",
        arguments=DRIVE_ARGUMENTS[:-1],
        implementation=_derating,
        shape=Shape(3, ("what", "%", "phase", "bridge")),
        examples=(
            Example("=INDEX(HD_DERATING(12,0.5,0,4),2,2)", 100.0, "a balanced sine supply, by definition"),
        ),
        notes="rms currents. The last row is the load at which the most loaded phase carries its balanced "
        "current, taken in proportion; an estimate.",
    ),
    WorksheetFunction(
        name="HD_REACTOR_FOR_THD",
        category=CATEGORY,
        summary="Smallest line reactor with which a drive meets a total harmonic distortion in every phase",
        gives="percent of the rated DC-link power, 0 to 30",
        arguments=(
            Argument(
                "target_pct",
                Number(0, 200, "%", above=True, usual=plausible.TARGET_PCT),
                "Distortion to meet",
            ),
            PULSES,
            SOURCE,
            CHOKE,
            LOAD,
            SETTINGS,
        ),
        implementation=_reactor_for_thd,
        examples=(Example(f"=HD_REACTOR_FOR_THD(39.0552,6,0.5,0,100,{EXAMPLE_SETTINGS})", 3.0, SIMULATED),),
    ),
)
