"""The maximum demand current IL, by which IEEE 519 judges currents."""

from __future__ import annotations

from xlcalc.standards.ieee519 import HIGHEST_KV
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
from xlcalc.worksheet.kinds import Choice, Number
from xlcalc.worksheet.monthly import Monthly
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Maximum demand current"

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
        category=CATEGORY,
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
        category=CATEGORY,
        summary="Maximum demand current IL from a demand in kW or kVA, one figure or those of twelve months",
        gives="amperes at the stated voltage",
        arguments=(
            Argument(
                "demand", Monthly(or_one=True), "Three-phase demand, or the maximum of each of 12 months"
            ),
            Argument("unit", Choice(tuple(DemandUnit)), "Unit of the demand"),
            Argument(
                "kv",
                Number(0, HIGHEST_KV, "kV", above=True),
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
)
