"""IEEE 519: the maximum demand current by which it judges currents, and its limits by edition."""

from __future__ import annotations

from xlcalc.schema.inputs.quantities import EDITIONS, HARMONIC_ORDER
from xlcalc.schema.inputs.settings import INSTALLATION as INSTALLATION_FIELD
from xlcalc.schema.inputs.settings import INVERTER_PCT
from xlcalc.schema.kinds import Choice, Number
from xlcalc.standards import ieee519
from xlcalc.standards.ieee519_demand import (
    LEAST_GROWTH_PCT,
    LEAST_POWER_FACTOR,
    MONTHS,
    MOST_GROWTH_PCT,
    DemandUnit,
    demand_amps,
    maximum_demand,
)
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.number_ranges import Monthly
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Limits"
ANY = "any"
DEMAND_CATEGORY = "Maximum demand current"
ORDER = Argument("order", HARMONIC_ORDER, "Harmonic order")

ISC_IL = Argument(
    "isc_il",
    Number(1, 1e9),
    "Short-circuit current over maximum demand current at the PCC",
)

KV = Argument(
    "kv", Number(0, ieee519.HIGHEST_KV, "kV", above=True), "Nominal line-to-line voltage of the PCC"
)

EDITION = Argument("edition", EDITIONS, "Edition of IEEE 519", default=ieee519.DEFAULT_EDITION)

INSTALLATION = Argument.of(INSTALLATION_FIELD)
INVERTERS = Argument("inverter_pct", INVERTER_PCT.kind, INVERTER_PCT.doc, default=None)

GENERATION_NOTE = (
    "Power generation has the first row whatever Isc/IL is (two secondary sources). Edition 2022 leaves "
    "sites whose inverter-based generation covers 10 % of the annual average load or more to IEEE 1547 or "
    "2800: #NUM! there."
)

CAUSE = Argument(
    "cause",
    Choice((ANY, ieee519.HVDC)),
    "HVDC terminal: the distortion comes from one, above 161 kV, and is attenuated where users may connect",
    default=ANY,
)
CAUSE_NOTE = (
    "Above 161 kV the THD may reach 2 % where an HVDC terminal causes it and its effect is attenuated at "
    "points where users may be connected later (footnote, recalled: compare with a licensed copy)."
)


def cause_of(name: str) -> str:
    """The word in the table for an argument."""
    return ieee519.HVDC if name == ieee519.HVDC else ieee519.ANY_CAUSE


GROWTH = Argument(
    "growth_pct",
    Number(LEAST_GROWTH_PCT, MOST_GROWTH_PCT, "%"),
    "Growth of the load since, as the study states it",
    default=0.0,
)


def _from_power(
    demand: tuple[float, ...], unit: str, kv: float, power_factor: float | None, growth: float
) -> float:
    months = demand if len(demand) == MONTHS else demand * MONTHS
    return demand_amps(maximum_demand(months, growth), unit, kv, power_factor)


DEFINITION = (
    "IEEE 519 divides the sum of the currents of maximum demand in the twelve preceding months by 12 "
    "(fundamental, at the PCC). One IL belongs to a PCC, whatever the case. Growth is no part of the "
    "definition: a larger IL permits more harmonic current, so state where it comes from."
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_DEMAND_AMPS",
        category=DEMAND_CATEGORY,
        summary="Maximum demand current IL from the maxima of twelve months, as IEEE 519 defines it",
        gives="amperes: the mean of the twelve maxima, with the growth",
        arguments=(
            Argument(
                "monthly_maxima", Monthly(), "Current of the maximum demand in each of the 12 months, amperes"
            ),
            GROWTH,
        ),
        implementation=maximum_demand,
        examples=(
            Example(
                "=HD_DEMAND_AMPS({80,80,80,80,80,80,100,100,100,100,100,100})", 90.0, "1080 A / 12, by hand"
            ),
            Example(
                "=HD_DEMAND_AMPS({80;80;80;80;80;80;100;100;100;100;100;100},10)", 99.0, "1.1 x 90 A, by hand"
            ),
        ),
        notes=f"{DEFINITION} Fewer or more than 12 values, or a blank month, are refused.",
    ),
    WorksheetFunction(
        name="HD_DEMAND_AMPS_FROM_POWER",
        category=DEMAND_CATEGORY,
        summary="Maximum demand current IL from a demand in kW or kVA, one figure or those of twelve months",
        gives="amperes at the stated voltage",
        arguments=(
            Argument(
                "demand", Monthly(or_one=True), "Three-phase demand, or the maximum of each of 12 months"
            ),
            Argument("unit", Choice(tuple(DemandUnit)), "Unit of the demand"),
            Argument(
                "kv",
                Number(0, ieee519.HIGHEST_KV, "kV", above=True),
                "Nominal line-to-line voltage of the PCC, not that of the loads",
            ),
            Argument(
                "power_factor",
                Number(LEAST_POWER_FACTOR, 1),
                "Displacement factor at that demand, for kW and MW only; needed there",
                default=None,
            ),
            GROWTH,
        ),
        implementation=_from_power,
        examples=(
            Example(
                '=HD_DEMAND_AMPS_FROM_POWER(1000,"kVA",13.8)', 41.8370, "1000 / (sqrt(3) x 13.8), by hand"
            ),
            Example(
                '=HD_DEMAND_AMPS_FROM_POWER(900,"kW",13.8,0.9,20)',
                50.2044,
                "1.2 x 900 / (0.9 x sqrt(3) x 13.8), by hand",
            ),
        ),
        notes=f"{DEFINITION} From kVA, or with the true power factor, the current contains its harmonics and "
        "is larger than the fundamental: by 0.5 % at a THD of 10 %.",
    ),
    WorksheetFunction(
        name="HD_LIMIT_TDD",
        category=CATEGORY,
        summary="IEEE 519 limit of the total demand distortion of the current",
        gives="percent of the maximum demand current",
        arguments=(ISC_IL, KV, EDITION, INSTALLATION, INVERTERS),
        implementation=lambda isc_il, kv, edition, installation, inverters: (
            ieee519.tdd_limit(ieee519.ratio_of(installation, isc_il, inverters, edition), kv, edition).value
        ),
        examples=(
            Example("=HD_LIMIT_TDD(60,13.8)", 12.0, "IEEE 519-2022 Table 2 (secondary sources)"),
            Example(
                '=HD_LIMIT_TDD(60,13.8,2022,"generation")',
                5.0,
                "first row of Table 2 for generation (two secondary sources)",
            ),
        ),
        notes=GENERATION_NOTE,
    ),
    WorksheetFunction(
        name="HD_LIMIT_CURRENT",
        category=CATEGORY,
        summary="IEEE 519 limit of one harmonic current, with the even-order rule of the edition",
        gives="percent of the maximum demand current",
        arguments=(ORDER, ISC_IL, KV, EDITION, INSTALLATION, INVERTERS),
        implementation=lambda order, isc_il, kv, edition, installation, inverters: (
            ieee519.current_limit(
                order, ieee519.ratio_of(installation, isc_il, inverters, edition), kv, edition
            ).value
        ),
        examples=(
            Example("=HD_LIMIT_CURRENT(13,60,13.8)", 4.5, "IEEE 519-2022 Table 2 (secondary sources)"),
            Example(
                "=HD_LIMIT_CURRENT(4,15,0.48,2014)",
                1.0,
                "a quarter of 4 %, IEEE 519-2014 (secondary sources)",
            ),
        ),
        notes=GENERATION_NOTE,
    ),
    WorksheetFunction(
        name="HD_LIMIT_VOLTAGE",
        category=CATEGORY,
        summary="IEEE 519 limit of the voltage distortion at the PCC; without an order the limit of the THD",
        gives="percent of the nominal voltage",
        arguments=(
            KV,
            Argument("order", HARMONIC_ORDER, "Harmonic order; left out: THD", default=None),
            EDITION,
            CAUSE,
        ),
        implementation=lambda kv, order, edition, cause: (
            ieee519.voltage_limit(kv, order, edition, cause_of(cause)).value
        ),
        examples=(
            Example("=HD_LIMIT_VOLTAGE(0.48)", 8.0, "IEEE 519-2022 Table 1 (secondary sources)"),
            Example("=HD_LIMIT_VOLTAGE(13.8,5)", 3.0, "IEEE 519-2022 Table 1 (secondary sources)"),
            Example(
                '=HD_LIMIT_VOLTAGE(230,,2022,"HVDC terminal")',
                2.0,
                "footnote of Table 1 on HVDC terminals (recalled)",
            ),
        ),
        notes=CAUSE_NOTE,
    ),
)
