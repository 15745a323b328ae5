"""Verdicts on currents: IEEE 519 with its multiplier, IEC 61000-3-12; the summation law of IEC 61000-3-6."""

from __future__ import annotations

import re

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.orders_given import OrdersNotListed, by_order
from xlcalc.core.plausible import check_base
from xlcalc.core.spectrum import MAX_ORDER, FloatArray, ListedSpectrum, Spectrum
from xlcalc.network.plausible import MOST_FAULT_AMPS
from xlcalc.schema.inputs.quantities import AMPS as ANY_AMPS
from xlcalc.schema.inputs.quantities import DEMAND_AMPS
from xlcalc.schema.kinds import Choice, Number
from xlcalc.schema.values import Grid
from xlcalc.standards.iec61000_3_12 import PWHC, THC, Equipment, equipment_limit, judge_equipment
from xlcalc.standards.ieee519 import ratio_of
from xlcalc.standards.ieee519_multiplier import held_orders_multiplier
from xlcalc.standards.ieee519_verdict import judge_current, judge_voltage
from xlcalc.studies.sources import Summation, summed
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.standards.limits import (
    CAUSE,
    CAUSE_NOTE,
    EDITION,
    GENERATION_NOTE,
    INSTALLATION,
    INVERTERS,
    ISC_IL,
    KV,
    cause_of,
)
from xlcalc.worksheet.functions.standards.verdict_rows import (
    MISSING_NOTE,
    ORDERS_NOT_LISTED,
    VERDICT_COLUMNS,
    VERDICT_GIVES,
    VERDICT_NOTE,
    VERDICT_SHAPE,
    verdict_rows,
)
from xlcalc.worksheet.ranges import PercentSpectrum, SpectrumRange
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction
from xlcalc.worksheet.summands import SUMMAND_NOTE, Summand, Summands

CATEGORY = "Verdicts of current"
AMPS = Argument("spectrum_amps", SpectrumRange(), "Spectrum of the current in amperes")

DEMAND = Argument("demand_amps", DEMAND_AMPS, "Maximum demand current IL at the PCC, fundamental")

REFERENCE = Argument(
    "reference_amps",
    ANY_AMPS,
    "Reference current of the equipment per phase; the standard covers above 16 to 75 A",
)

RSCE = Argument("rsce", Number(33, 1e6), "Short-circuit level at the terminals over rated apparent power")

TABLE = Argument(
    "table",
    Choice(tuple(Equipment)),
    "Table that applies: 2 not balanced, 3 balanced three-phase, 4 and 5 balanced under conditions",
    default=Equipment.BALANCED.value,
)

RAISE = Argument(
    "raise_other_limits",
    Choice(("no", "yes")),
    "Whether to raise the limits of the other orders where low orders are held down",
    default="no",
)

_ORDER = re.compile("[0-9]{1,3}")


def _pct(spectrum: ListedSpectrum, base_amps: float) -> FloatArray:
    return np.asarray(100.0 * spectrum.listed_magnitude / base_amps)


def _ieee519_current(
    spectrum: ListedSpectrum,
    demand: float,
    isc_il: float,
    kv: float,
    edition: str,
    raised: str,
    not_listed: str,
    installation: str,
    inverters: float | None,
) -> Grid:
    check_base(spectrum.fundamental, demand, DEMAND.name)
    if isc_il * demand > MOST_FAULT_AMPS:
        most = f"up to {MOST_FAULT_AMPS / demand:.4g}, {MOST_FAULT_AMPS / 1e3:g} kA over {demand:g} A"
        raise InputError(ISC_IL.name, isc_il, f"{most}; is it the short-circuit current itself?")
    judgement = judge_current(
        _pct(spectrum, demand),
        ratio_of(installation, isc_il, inverters, edition),
        kv,
        edition,
        raise_other_limits=raised == "yes",
        orders_not_listed=not_listed,
    )
    return verdict_rows(judgement)


def _ieee519_voltage(spectrum: ListedSpectrum, kv: float, edition: str, not_listed: str, cause: str) -> Grid:
    judgement = judge_voltage(
        spectrum.listed_magnitude, kv, edition, orders_not_listed=not_listed, cause=cause_of(cause)
    )
    return verdict_rows(judgement)


def _multiplier(
    spectrum: ListedSpectrum, demand: float, isc_il: float, kv: float, edition: str, not_listed: str
) -> float:
    values = by_order("spectrum_amps", _pct(spectrum, demand), MAX_ORDER, not_listed)
    given = {h: float(v) for h, v in enumerate(values, start=1) if h > 1 and not np.isnan(v)}
    held = held_orders_multiplier(given, isc_il, kv, edition)
    return 1.0 if held is None else held.factor


def _equipment_limit(item: str, rsce: float, table: str) -> float:
    order = int(item) if _ORDER.fullmatch(item) else item
    limit = equipment_limit(order, rsce, Equipment(table))
    if limit is None:
        raise NoSolutionError(f"IEC 61000-3-12 {table} gives no limit for order {item}")
    return limit.value


def _equipment_verdict(
    spectrum: ListedSpectrum, reference: float, rsce: float, table: str, not_listed: str
) -> Grid:
    percent = _pct(spectrum, reference)
    judgement = judge_equipment(percent, reference, rsce, Equipment(table), orders_not_listed=not_listed)
    check_base(min(spectrum.fundamental, reference), reference, REFERENCE.name)
    return verdict_rows(judgement)


def _exponent_sum(*arguments: ListedSpectrum | OrdersNotListed) -> Grid:
    summands = Summands.of("spectrum_amps", arguments)
    parts = [np.tile(spectrum.phasors, (3, 1)) for spectrum in summands.spectra]
    return summands.rows(Spectrum(summed(parts, [1] * len(parts), Summation.EXPONENTS)[0]))


FUNCTIONS = (
    WorksheetFunction(
        name="HD_VERDICT_IEEE519",
        category=CATEGORY,
        summary="IEEE 519: verdict on a current spectrum at the PCC, TDD and every order",
        gives=VERDICT_GIVES,
        arguments=(
            *(AMPS, DEMAND, ISC_IL, KV, EDITION, RAISE, ORDERS_NOT_LISTED),
            INSTALLATION,
            INVERTERS,
        ),
        implementation=_ieee519_current,
        shape=Shape(MAX_ORDER + 1, VERDICT_COLUMNS),
        examples=(
            Example(
                "=INDEX(HD_VERDICT_IEEE519({1,90;5,3;7,4},100,15,0.48),1,3)",
                5.0,
                "TDD, at least: root sum square of 3 and 4 A on 100 A, by hand",
            ),
            Example(
                "=INDEX(HD_VERDICT_IEEE519({1,90;5,3;7,4},100,15,0.48),51,6)",
                "NO VERDICT",
                "overall: 5 % of 5 %, but most orders are not given",
            ),
            Example(
                '=INDEX(HD_VERDICT_IEEE519({1,90;5,3;7,4},100,15,0.48,2022,"no","zero"),51,6)',
                "PASS",
                "overall: 5 % of 5 %, 3 and 4 % of 4 %, all else known to be zero; by hand",
            ),
            Example(
                '=INDEX(HD_VERDICT_IEEE519({1,90;5,1;7,1;11,2.7},100,15,0.48,2014,"yes"),11,4)',
                2.8,
                "1.4 times 2 %, IEEE 519-2014 Table 5 (one secondary source)",
            ),
        ),
        notes=f"{VERDICT_NOTE} {MISSING_NOTE} {GENERATION_NOTE} Raised limits are an option of the standard "
        "where the low orders stay below a quarter of theirs; without that condition nothing is raised, and "
        "the limit of the TDD never is.",
    ),
    WorksheetFunction(
        name="HD_VERDICT_IEEE519_VOLTAGE",
        category=CATEGORY,
        summary="IEEE 519: verdict on a voltage spectrum at the PCC, THD and every order",
        gives=VERDICT_GIVES,
        arguments=(
            Argument("spectrum_pct", PercentSpectrum(), "Voltage in percent of nominal"),
            KV,
            EDITION,
            ORDERS_NOT_LISTED,
            CAUSE,
        ),
        implementation=_ieee519_voltage,
        shape=Shape(MAX_ORDER + 1, VERDICT_COLUMNS),
        examples=(
            Example(
                '=INDEX(HD_VERDICT_IEEE519_VOLTAGE({1,100;5,4;7,3},0.48,2022,"zero"),1,5)',
                3.0,
                "8 % less the root sum square of 4 and 3 %, by hand",
            ),
            Example(
                "=INDEX(HD_VERDICT_IEEE519_VOLTAGE({1,100;5,4;7,3},0.48),51,6)",
                "NO VERDICT",
                "orders 2 to 4, 6 and 8 to 50 are not given",
            ),
        ),
        notes=f"{VERDICT_NOTE} {MISSING_NOTE} {CAUSE_NOTE}",
    ),
    WorksheetFunction(
        name="HD_LIMIT_MULTIPLIER",
        category=CATEGORY,
        summary="IEEE 519: factor on the limits of the other orders where low orders are held down",
        gives="1 where the condition does not hold, else 1.4 to 2.2",
        arguments=(AMPS, DEMAND, ISC_IL, KV, EDITION, ORDERS_NOT_LISTED),
        implementation=_multiplier,
        examples=(
            Example(
                "=HD_LIMIT_MULTIPLIER({1,90;5,1;7,1;11,2},100,15,0.48,2014)",
                1.4,
                "IEEE 519-2014 Table 5 (one secondary source)",
            ),
            Example(
                "=HD_LIMIT_MULTIPLIER({1,90;5,1.1;7,1;11,2},100,15,0.48,2014)",
                1.0,
                "order 5 above a quarter of 4 %, by hand",
            ),
        ),
        notes="Condition: orders 5 and 7 (11, 13, ...) at or below a quarter of their own limits. The factor "
        "does not apply to those orders, to even orders, or to the TDD. An order that is not given is not "
        "held down.",
    ),
    WorksheetFunction(
        name="HD_LIMIT_IEC61000_3_12",
        category=CATEGORY,
        summary="IEC 61000-3-12: limit of one order, THC or PWHC for equipment above 16 to 75 A",
        gives="percent of the reference current; #NUM! for an order without a limit",
        arguments=(
            Argument("item", Choice((*map(str, range(2, 41)), THC, PWHC)), "Order or total"),
            RSCE,
            TABLE,
        ),
        implementation=_equipment_limit,
        examples=(
            Example("=HD_LIMIT_IEC61000_3_12(5,120)", 19.0, "IEC 61000-3-12:2011 Table 3 (one source)"),
            Example('=HD_LIMIT_IEC61000_3_12("THC",93)', 19.0, "midway between 16 and 22 %, by hand"),
        ),
    ),
    WorksheetFunction(
        name="HD_VERDICT_IEC61000_3_12",
        category=CATEGORY,
        summary="IEC 61000-3-12: verdict on the current of equipment above 16 to 75 A per phase",
        gives=VERDICT_GIVES,
        arguments=(AMPS, REFERENCE, RSCE, TABLE, ORDERS_NOT_LISTED),
        implementation=_equipment_verdict,
        shape=VERDICT_SHAPE,
        examples=(
            Example(
                "=INDEX(HD_VERDICT_IEC61000_3_12({1,50;5,10;7,4},50,120),3,5)",
                -1.0,
                "order 5: 19 % less 10 A on 50 A, by hand",
            ),
        ),
        notes=f"{VERDICT_NOTE} {MISSING_NOTE} Refused outside the scope of the standard. Tables 4 and 5 have "
        "conditions on level or angle of the 5th and 7th that you must have checked; see the standard.",
    ),
    WorksheetFunction(
        name="HD_SPECTRUM_SUM_IEC",
        category=CATEGORY,
        summary="Sum of spectra without known angles by the exponents of IEC TR 61000-3-6",
        gives="rows of order, magnitude, angle in degrees (0 for harmonics)",
        arguments=(
            Argument(
                "spectrum_amps",
                Summand(),
                "Spectrum of one source, all in one unit; any number of them",
                repeats=True,
            ),
        ),
        implementation=_exponent_sum,
        shape=Shape(50, ("order", "magnitude", "angle deg")),
        examples=(
            Example(
                "=INDEX(HD_SPECTRUM_SUM_IEC({1,50;7,10},{1,50;7,10}),7,2)",
                16.407,
                "10 x 2^(1/1.4), by hand",
            ),
            Example("=INDEX(HD_SPECTRUM_SUM_IEC({1,50;5,5},{1,50;5,3}),5,2)", 6.645, "exponent 1.4, by hand"),
        ),
        notes=f"{SUMMAND_NOTE} Exponent 1 below order 5, 1.4 for orders 5 to 10, 2 above; the fundamental "
        "adds as a phasor.",
    ),
)
