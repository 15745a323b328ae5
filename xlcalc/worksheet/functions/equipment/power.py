"""Power quantities of IEEE 1459, and the energy and cost of added losses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.energy import LoadBlock, added_cost, added_energy_kwh
from xlcalc.equipment.power import PhasePower, ThreePhasePower
from xlcalc.schema.inputs.equipment import PROFILE
from xlcalc.schema.kinds import Choice, Number
from xlcalc.schema.values import Grid
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.ranges import SpectrumRange
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction
from xlcalc.worksheet.summands import LISTED_NOTE

CATEGORY = "Power, energy and cost"
WITH_ANGLE = SpectrumRange(needs_angle=True)
COLUMNS = ("quantity", "value", "unit")

THREE_PHASE_QUANTITIES = (
    ("Ve", "V"),
    ("Ve1", "V"),
    ("THD of Ve", "%"),
    ("Ie", "A"),
    ("Ie1", "A"),
    ("THD of Ie", "%"),
    ("P", "W"),
    ("P1+", "W"),
    ("Q1+", "var"),
    ("S1+", "VA"),
    ("SU1", "VA"),
    ("Se", "VA"),
    ("Se1", "VA"),
    ("SeN", "VA"),
    ("DeI", "var"),
    ("DeV", "var"),
    ("SeH", "VA"),
    ("true power factor", ""),
    ("displacement power factor", ""),
)

THREE_PHASE_SHAPE = Shape(len(THREE_PHASE_QUANTITIES), COLUMNS)
ADDED_KW = Argument("added_kw", Number(0, 1e6, "kW"), "Added loss at 100 % load")


def _one_phase(volts: Spectrum, amps: Spectrum) -> Grid:
    power = PhasePower(volts, amps)
    return [
        ["V", volts.rms, "V"],
        ["V1", volts.fundamental, "V"],
        ["THD of V", volts.thd_pct, "%"],
        ["I", amps.rms, "A"],
        ["I1", amps.fundamental, "A"],
        ["THD of I", amps.thd_pct, "%"],
        ["P", power.active, "W"],
        ["P1", power.fundamental_active, "W"],
        ["PH", power.harmonic_active, "W"],
        ["Q1", power.fundamental_reactive, "var"],
        ["S", power.apparent, "VA"],
        ["S1", power.fundamental_apparent, "VA"],
        ["SN", power.nonfundamental_apparent, "VA"],
        ["DI", power.current_distortion, "var"],
        ["DV", power.voltage_distortion, "var"],
        ["SH", power.harmonic_apparent, "VA"],
        ["DH", power.harmonic_distortion, "var"],
        ["N", power.nonactive, "var"],
        ["true power factor", power.power_factor, ""],
        ["displacement power factor", power.displacement_factor, ""],
    ]


def _three_phases(*arguments: Any) -> Grid:
    volts, amps, wires = arguments[:3], arguments[3:6], arguments[6]
    return three_phase_rows(ThreePhasePower(volts, amps, four_wire=wires == "4"))


def three_phase_rows(power: ThreePhasePower) -> Grid:
    """Rows of quantity, value, unit."""
    values = (
        power.effective_voltage,
        power.fundamental_effective_voltage,
        100.0 * power.effective_voltage_thd,
        power.effective_current,
        power.fundamental_effective_current,
        100.0 * power.effective_current_thd,
        power.active,
        power.positive_active,
        power.positive_reactive,
        power.positive_apparent,
        power.unbalance,
        power.effective_apparent,
        power.fundamental_effective_apparent,
        power.nonfundamental_apparent,
        power.current_distortion,
        power.voltage_distortion,
        power.harmonic_apparent,
        power.power_factor,
        power.displacement_factor,
    )
    return [[name, value, unit] for (name, unit), value in zip(THREE_PHASE_QUANTITIES, values, strict=True)]


def _blocks(profile: Sequence[Mapping[str, Any]]) -> list[LoadBlock]:
    return [LoadBlock(row["load pct"] / 100.0, row["hours"], row["price per kwh"]) for row in profile]


def _volts(phase: str) -> Argument:
    return Argument(f"volts_{phase}", WITH_ANGLE, f"Voltage of phase {phase} to neutral, in volts")


def _amps(phase: str) -> Argument:
    return Argument(f"amps_{phase}", WITH_ANGLE, f"Current of phase {phase} into the load, in amperes")


EXAMPLE_PROFILE = '{"period","load %","hours","price per kWh";"day",100,4000,0.2;"night",50,2000,0.1}'
ANNEX_VOLTS = "{1,100,0;3,8,-70;5,15,140;7,5,20}"
ANNEX_AMPS = "{1,100,-30;3,20,-165;5,15,233;7,10,288}"

THREE_SINES = ",".join(
    [*(f"{{1,100,{a}}}" for a in (0, -120, 120)), *(f"{{1,10,{a}}}" for a in (-60, -180, 60))]
)

DEFINITIONS = (
    "Definitions of IEEE 1459-2010 (recalled; effective values from one public program). Angles against one "
    "reference; PH is negative where the load returns harmonic power."
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_POWER",
        category=CATEGORY,
        summary="Power quantities of IEEE 1459 of one phase from its voltage and current spectra",
        gives="rows of quantity, value, unit, with true and displacement power factor",
        arguments=(
            Argument("volts", WITH_ANGLE, "Voltage of the phase to neutral, in volts"),
            Argument("amps", WITH_ANGLE, "Current of the phase into the load, in amperes"),
        ),
        implementation=_one_phase,
        shape=Shape(20, COLUMNS),
        examples=(
            Example(
                f"=INDEX(HD_POWER({ANNEX_VOLTS},{ANNEX_AMPS}),7,2)",
                8632.79,
                "8660.25 - 13.94 - 11.78 - 1.74 W, IEEE 1459-2010 Annex B (recalled)",
            ),
            Example(
                f"=INDEX(HD_POWER({ANNEX_VOLTS},{ANNEX_AMPS}),14,2)",
                2692.58,
                "DI: 10 kVA times sqrt(0.2^2 + 0.15^2 + 0.1^2), by hand",
            ),
        ),
        notes=f"{LISTED_NOTE} {DEFINITIONS}",
    ),
    WorksheetFunction(
        name="HD_POWER_3PH",
        category=CATEGORY,
        summary="Power quantities of IEEE 1459 of three phases, with effective voltage and current",
        gives="rows of quantity, value, unit, with true and displacement power factor",
        arguments=(
            *(_volts(phase) for phase in "abc"),
            *(_amps(phase) for phase in "abc"),
            Argument(
                "wires",
                Choice(("3", "4")),
                "Wires of the circuit; with 4 the neutral carries the sum",
                default="3",
            ),
        ),
        implementation=_three_phases,
        shape=THREE_PHASE_SHAPE,
        examples=(
            Example(f"=INDEX(HD_POWER_3PH({THREE_SINES}),7,2)", 1500.0, "3 x 100 x 10 x cos 60, by hand"),
            Example(f"=INDEX(HD_POWER_3PH({THREE_SINES}),12,2)", 3000.0, "3 x 100 x 10, by hand"),
        ),
        notes=f"{LISTED_NOTE} {DEFINITIONS} With 3 wires the currents must add up to zero.",
    ),
    WorksheetFunction(
        name="HD_ADDED_KWH",
        category=CATEGORY,
        summary="Energy of an added loss in a year from a load profile; the loss grows with the load squared",
        gives="kWh per year",
        arguments=(ADDED_KW, Argument("profile", PROFILE, "Load profile with a heading row")),
        implementation=lambda kw, profile: added_energy_kwh(1e3 * kw, _blocks(profile)),
        examples=(Example(f"=HD_ADDED_KWH(2,{EXAMPLE_PROFILE})", 9000.0, "2 x (4000 + 500), by hand"),),
        notes="The distortion of the stated load is taken at all loads. That of a drive rises in percent as "
        "its load falls: part-load losses are understated.",
    ),
    WorksheetFunction(
        name="HD_ADDED_COST",
        category=CATEGORY,
        summary="Cost of an added loss in a year from a load profile and the prices of its periods",
        gives="currency of the prices, per year",
        arguments=(ADDED_KW, Argument("profile", PROFILE, "Load profile with a heading row")),
        implementation=lambda kw, profile: added_cost(1e3 * kw, _blocks(profile)),
        examples=(
            Example(f"=HD_ADDED_COST(2,{EXAMPLE_PROFILE})", 1700.0, "2 x (4000 x 0.2 + 500 x 0.1), by hand"),
        ),
        notes="As HD_ADDED_KWH.",
    ),
)
