"""Emission of equipment and installations by IEC: which table applies, small equipment, shares of a level."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ListedSpectrum
from xlcalc.schema.inputs.quantities import MVA
from xlcalc.schema.kinds import Number, Whole
from xlcalc.schema.tables import NamedValues
from xlcalc.schema.values import Grid
from xlcalc.standards import iec61000_3_6, telephone
from xlcalc.standards.iec61000_3_12 import applicable_table
from xlcalc.standards.order_limits import judge_orders, order_table
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.standards.verdict_rows import (
    MISSING_NOTE,
    ORDERS_NOT_LISTED,
    VERDICT_COLUMNS,
    VERDICT_GIVES,
    VERDICT_NOTE,
    verdict_rows,
)
from xlcalc.worksheet.ranges import SpectrumRange
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction
from xlcalc.worksheet.summands import LISTED_NOTE

CATEGORY = "Emission limits"
SMALL, SMALL_CLASS = "iec61000_3_2", "class A"
SMALL_MOST_AMPS = 16.0
CURRENT = "current harmonic"
WEIGHTS_NOTE = "Weights of 1960 as recalled (no text read), between their frequencies on a straight line."
AMPS = Argument("spectrum_amps", SpectrumRange(), "Spectrum of the current in amperes")

SC_MVA = Argument("sc_mva", MVA, "Short-circuit level at the point of evaluation")

HERTZ = Argument(
    "hz", Number(telephone.LOWEST_HZ, telephone.HIGHEST_HZ, "Hz"), "Fundamental frequency", default=60.0
)

STAGE_2 = (
    Argument("agreed_mva", Number(0, 1e5, "MVA", above=True), "Agreed power of the installation"),
    Argument("total_mva", Number(0, 1e5, "MVA", above=True), "All that the network supplies"),
    SC_MVA,
    Argument("kv", Number(1, 35, "kV", above=True), "Nominal voltage of the network"),
    Argument("transfer", Number(0, 3), "Share of the upstream level that arrives", default=1.0),
)
STAGE_2_NOTE = (
    "Indicative planning levels; the utility's own come first. The current is the voltage over an inductive "
    "short-circuit impedance: where capacitors resonate, divide by the impedance at the order. Stage 2 as "
    "recalled (no text read): compare with a licensed copy."
)

LOADS = NamedValues(
    tuple(
        Argument(kind, Number(0, 1e5, "MVA"), "Power of such loads", default=0.0)
        for kind in iec61000_3_6.weights()
    )
)


def _table(*spectra: ListedSpectrum) -> str:
    return applicable_table(spectra).value


def _small_limit(order: int) -> float:
    limit = order_table(SMALL).limit(order, SMALL_CLASS)
    if limit is None:
        raise NoSolutionError(f"IEC 61000-3-2 gives no limit for order {order}")
    return limit.value


def _small_verdict(spectrum: ListedSpectrum, not_listed: str) -> Grid:
    if spectrum.rms > SMALL_MOST_AMPS:
        raise InputError(
            AMPS.name, f"a current of {spectrum.rms:.4g} A", "up to 16 A, the scope of IEC 61000-3-2"
        )
    judgement = judge_orders(
        order_table(SMALL), SMALL_CLASS, CURRENT, spectrum.listed_magnitude, orders_not_listed=not_listed
    )
    return verdict_rows(judgement)


def _limits(
    agreed: float, total: float, sc_mva: float, kv: float, transfer: float
) -> list[iec61000_3_6.EmissionLimit]:
    return [
        iec61000_3_6.emission_limit(
            order, agreed_mva=agreed, total_mva=total, short_circuit_mva=sc_mva, kv=kv, transfer=transfer
        )
        for order in range(2, MAX_ORDER + 1)
    ]


def _shares(*network: float) -> Grid:
    shares = _limits(*network)
    return [[share.order, share.planning_pct, share.voltage_pct, share.amps] for share in shares]


def _emission_verdict(spectrum: ListedSpectrum, *network_and_rule: Any) -> Grid:
    *network, not_listed = network_and_rule
    judgement = iec61000_3_6.judge_emission(
        spectrum.listed_magnitude, _limits(*network), orders_not_listed=not_listed
    )
    return verdict_rows(judgement)


def _stage_1(loads: Mapping[str, float], sc_mva: float) -> float:
    return iec61000_3_6.stage_1_pct(loads, sc_mva)


FUNCTIONS = (
    WorksheetFunction(
        name="HD_TABLE_IEC61000_3_12",
        category=CATEGORY,
        summary="IEC 61000-3-12: the table that the computed 5th and 7th permit for balanced equipment",
        gives='"Table 3", "Table 4" or "Table 5", for the argument table of the limit and verdict functions',
        arguments=(
            Argument(
                "spectrum",
                SpectrumRange(needs_angle=True),
                "Spectrum with angles against the phase voltage; one for each load point that is tested",
                repeats=True,
            ),
        ),
        implementation=_table,
        examples=(
            Example(
                "=HD_TABLE_IEC61000_3_12({1,100,0;5,40,122;7,20,0})",
                "Table 4",
                "condition c: angle of the 5th from 90 to 150 degrees (two public extracts)",
            ),
            Example(
                "=HD_TABLE_IEC61000_3_12({1,100,0;5,40,87;7,20,0})", "Table 3", "no condition is met, by hand"
            ),
            Example("=HD_TABLE_IEC61000_3_12({1,100,0;5,4,0;7,4,0})", "Table 4", "condition a, by hand"),
        ),
        notes="A condition holds where every spectrum given meets it: give the spectrum of each load point. "
        "Table 5: 5th and 7th below 3 %, or the 5th from 150 to 210 degrees; Table 4: both below 5 %, or the "
        "5th from 90 to 150 degrees. An angle of the 5th that is free (controlled bridges) cannot be seen "
        "in a spectrum. Conditions from public extracts of the standard: compare with a licensed copy.",
    ),
    WorksheetFunction(
        name="HD_LIMIT_IEC61000_3_2",
        category=CATEGORY,
        summary="IEC 61000-3-2 class A: limit of one harmonic current of equipment up to 16 A",
        gives="amperes",
        arguments=(Argument("order", Whole(2, 40), "Harmonic order"),),
        implementation=_small_limit,
        examples=(Example("=HD_LIMIT_IEC61000_3_2(5)", 1.14, "IEC 61000-3-2 class A (secondary sources)"),),
        notes="Balanced three-phase equipment is in class A.",
    ),
    WorksheetFunction(
        name="HD_VERDICT_IEC61000_3_2",
        category=CATEGORY,
        summary="IEC 61000-3-2 class A: verdict on the current of equipment up to 16 A per phase",
        gives=VERDICT_GIVES,
        arguments=(AMPS, ORDERS_NOT_LISTED),
        implementation=_small_verdict,
        shape=Shape(40, VERDICT_COLUMNS),
        examples=(
            Example(
                '=INDEX(HD_VERDICT_IEC61000_3_2({1,8;5,1.2},"zero"),4,6)', "FAIL", "order 5: 1.2 above 1.14 A"
            ),
            Example('=INDEX(HD_VERDICT_IEC61000_3_2({1,8;5,1.1},"zero"),40,6)', "PASS", "1.1 below 1.14 A"),
        ),
        notes=f"{VERDICT_NOTE} {MISSING_NOTE} Refused above 16 A. Balanced three-phase equipment is in class "
        "A.",
    ),
    WorksheetFunction(
        name="HD_EMISSION_IEC61000_3_6",
        category=CATEGORY,
        summary="IEC TR 61000-3-6 stage 2: what an installation on a medium-voltage network may emit",
        gives="rows of order, planning level %, voltage of the installation %, current A",
        arguments=STAGE_2,
        implementation=_shares,
        shape=Shape(MAX_ORDER - 1, ("order", "planning level pct", "voltage pct", "amps")),
        examples=(
            Example(
                "=INDEX(HD_EMISSION_IEC61000_3_6(10,40,200,20),4,3)",
                1.4730,
                "order 5: (5^1.4 - 2^1.4)^(1/1.4) x (10/40)^(1/1.4), by hand",
            ),
        ),
        notes=STAGE_2_NOTE,
    ),
    WorksheetFunction(
        name="HD_VERDICT_EMISSION_IEC61000_3_6",
        category=CATEGORY,
        summary="IEC TR 61000-3-6 stage 2: verdict on the currents of an installation at medium voltage",
        gives=VERDICT_GIVES,
        arguments=(AMPS, *STAGE_2, ORDERS_NOT_LISTED),
        implementation=_emission_verdict,
        shape=Shape(MAX_ORDER, VERDICT_COLUMNS),
        examples=(
            Example(
                '=INDEX(HD_VERDICT_EMISSION_IEC61000_3_6({1,200;5,17.1},10,40,200,20,1,"zero"),4,6)',
                "FAIL",
                "1.473 % of 20 kV on 5 times the reactance of 200 MVA: 17.01 A, by hand",
            ),
            Example(
                '=INDEX(HD_VERDICT_EMISSION_IEC61000_3_6({1,200;5,16.9},10,40,200,20,1,"zero"),50,6)',
                "PASS",
                "16.9 below 17.01 A, by hand",
            ),
        ),
        notes=f"{MISSING_NOTE} {STAGE_2_NOTE}",
    ),
    WorksheetFunction(
        name="HD_STAGE1_IEC61000_3_6",
        category=CATEGORY,
        summary="IEC TR 61000-3-6 stage 1: weighted distorting power over short-circuit power",
        gives=f"percent; accepted without a study up to {iec61000_3_6.STAGE_1_PCT:g}",
        arguments=(Argument("loads_mva", LOADS, "Kind of load and its power in MVA"), SC_MVA),
        implementation=_stage_1,
        examples=(
            Example(
                '=HD_STAGE1_IEC61000_3_6({"6-pulse, capacitor",0.2;"12-pulse",1},600)',
                0.15,
                "(2 x 0.2 + 0.5 x 1) / 600, by hand",
            ),
        ),
        notes="Weights and the limit as recalled (no text read): compare with a licensed copy.",
    ),
    WorksheetFunction(
        name="HD_IT_PRODUCT",
        category=CATEGORY,
        summary="IT product: current weighted by its influence on telephone lines",
        gives="weighted amperes",
        arguments=(AMPS, HERTZ),
        implementation=telephone.weighted_amps,
        examples=(Example("=HD_IT_PRODUCT({5,5;7,3})", 2251.25, "sqrt((225 x 5)^2 + (650 x 3)^2), by hand"),),
        notes=f"{LISTED_NOTE} {WEIGHTS_NOTE}",
    ),
    WorksheetFunction(
        name="HD_TIF",
        category=CATEGORY,
        summary="Telephone influence factor of a voltage or current",
        gives="weighted over total rms value, without unit",
        arguments=(Argument("spectrum", SpectrumRange(), "Spectrum in any unit"), HERTZ),
        implementation=telephone.influence_factor,
        examples=(
            Example("=HD_TIF({1,100})", 0.5, "weight of 60 Hz"),
            Example("=HD_TIF({5,3;7,4})", 537.238, "sqrt((225 x 3)^2 + (650 x 4)^2) / 5, by hand"),
        ),
        notes=f"{LISTED_NOTE} {WEIGHTS_NOTE}",
    ),
)
