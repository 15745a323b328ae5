"""Strength of the supply: transformers, utility, short-circuit current, resonance."""

from __future__ import annotations

from xlcalc.core.errors import InputError
from xlcalc.network import plausible, short_circuit
from xlcalc.reactor import source_percent
from xlcalc.schema.inputs.quantities import IMPEDANCE, KVA, MVA
from xlcalc.schema.kinds import Number
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Strength of the supply"
MVA = MVA
LEVEL = Argument("sc_mva", MVA, "Three-phase short-circuit level")


def _series(*levels_mva: float) -> float:
    return short_circuit.series_level([1e6 * level for level in levels_mva]) / 1e6


def _short_circuit_amps(mva: float, kv: float) -> float:
    plausible.check_fault_level("mva", mva, kv)
    return short_circuit.short_circuit_amps(1e6 * mva, 1e3 * kv)


def _source_pct(sc_mva: float, drive_kva: float) -> float:
    if drive_kva > 1e3 * sc_mva:
        valid = f"up to {1e3 * sc_mva:g} kVA, the short-circuit level; is it in VA, or the level in GVA?"
        raise InputError("drive_kva", drive_kva, valid)
    return source_percent(1e6 * sc_mva, 1e3 * drive_kva)


def _resonance_order(sc_mva: float, cap_mvar: float) -> float:
    if cap_mvar > sc_mva:
        valid = f"up to {sc_mva:g} Mvar, the short-circuit level; is it in kvar?"
        raise InputError("cap_mvar", cap_mvar, valid)
    return short_circuit.resonance_order(1e6 * sc_mva, 1e6 * cap_mvar)


FUNCTIONS = (
    WorksheetFunction(
        name="HD_TRANSFORMER_MVA",
        category=CATEGORY,
        summary="Short-circuit level behind a transformer on an infinite source",
        gives="MVA",
        arguments=(
            Argument("kva", KVA, "Rating of the transformer"),
            Argument("z_pct", IMPEDANCE, "Impedance of the transformer"),
        ),
        implementation=lambda kva, z_pct: short_circuit.transformer_level(1e3 * kva, z_pct) / 1e6,
        examples=(Example("=HD_TRANSFORMER_MVA(1000,5.3)", 18.868, "1000 kVA / 0.053, by hand"),),
    ),
    WorksheetFunction(
        name="HD_SERIES_MVA",
        category=CATEGORY,
        summary="Short-circuit level of elements in series, such as utility and transformer",
        gives="MVA",
        arguments=(
            Argument("mva", MVA, "Short-circuit level of one element; any number of them", repeats=True),
        ),
        implementation=_series,
        examples=(Example("=HD_SERIES_MVA(200,50)", 40.0, "1 / (1/200 + 1/50), by hand"),),
        notes="All elements count with one X/R ratio; HD_BUS_VALUE adds impedances as complex numbers.",
    ),
    WorksheetFunction(
        name="HD_SC_AMPS",
        category=CATEGORY,
        summary="Three-phase short-circuit current of a short-circuit level",
        gives="A",
        arguments=(
            Argument("mva", MVA, "Three-phase short-circuit level"),
            Argument("kv", Number(0, 1000, "kV", above=True), "Line-to-line voltage"),
        ),
        implementation=_short_circuit_amps,
        examples=(Example("=HD_SC_AMPS(1000,69)", 8367.4, "utility of the IEEE PES 13-bus test system"),),
    ),
    WorksheetFunction(
        name="HD_SOURCE_PCT",
        category=CATEGORY,
        summary="Impedance of the supply in percent on the rating of a drive",
        gives="percent",
        arguments=(
            LEVEL,
            Argument("drive_kva", Number(0, 1e6, "kVA", above=True), "Rated DC-link power of the drive"),
        ),
        implementation=_source_pct,
        examples=(Example("=HD_SOURCE_PCT(20,200)", 1.0, "200 kVA / 20 MVA, by hand"),),
    ),
    WorksheetFunction(
        name="HD_RESONANCE_ORDER",
        category=CATEGORY,
        summary="Order at which a capacitor bank resonates with the supply",
        gives="harmonic order",
        arguments=(
            LEVEL,
            Argument("cap_mvar", Number(0, 1e5, "Mvar", above=True), "Rating of the capacitor bank"),
        ),
        implementation=_resonance_order,
        examples=(
            Example("=HD_RESONANCE_ORDER(18.868,0.1)", 13.736, "1000 kVA, 5.3 %, 100 kvar: printed 13.7"),
        ),
    ),
)
