"""IEEE 519: the maximum demand current I_L, from monthly maxima in amperes or from a demand in kW or kVA."""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.standards.ieee519 import HIGHEST_KV

MONTHS = 12
LEAST_GROWTH_PCT = -90.0
MOST_GROWTH_PCT = 500.0
LEAST_POWER_FACTOR = 0.1
MOST_OF_MEDIAN = 100.0
"""One month over the median of the twelve, beyond which it is in another unit; common practice, no source."""


class DemandUnit(StrEnum):
    """Unit of a demand."""

    KW = "kW"
    KVA = "kVA"
    MW = "MW"
    MVA = "MVA"

    @property
    def active(self) -> bool:
        """Whether it is an active power, which needs a power factor."""
        return self in (DemandUnit.KW, DemandUnit.MW)

    @property
    def in_kilo(self) -> float:
        return 1000.0 if self in (DemandUnit.MW, DemandUnit.MVA) else 1.0


def maximum_demand(monthly_maxima: Sequence[float], growth_pct: float = 0.0) -> float:
    """The mean of twelve monthly maxima, with a stated growth.

    The definition of I_L in IEEE 519: the sum of the currents of the maximum demand in each of the twelve
    preceding months, divided by 12; fundamental component at the point of common coupling (a meter manual
    states it as the average current of maximum demand over the preceding 12 months).

    Parameters
    ----------
    monthly_maxima : sequence of float, length 12
        Maximum demand of each month, 0 or more, in any one unit; not all of them 0.
    growth_pct : float
        Growth of the load since those months that the study states, -90 to 500 %. It is no part of the
        definition: a larger I_L permits more harmonic current.

    Returns
    -------
    float
        In the unit of the maxima.

    Raises
    ------
    InputError
        Not twelve values, or one outside its range.

    Examples
    --------
    Six months of 80 A and six of 100 A, then a tenth more load; by hand

    >>> maximum_demand([80.0] * 6 + [100.0] * 6), round(maximum_demand([80.0] * 6 + [100.0] * 6, 10), 9)
    (90.0, 99.0)
    """
    growth = number("growth_pct", growth_pct, unit="%", least=LEAST_GROWTH_PCT, most=MOST_GROWTH_PCT)
    if len(monthly_maxima) != MONTHS:
        raise InputError(
            "monthly_maxima",
            f"{len(monthly_maxima)} values",
            "12 values, the maximum of each month of a year",
        )
    values = [
        number(f"month {month} of monthly_maxima", value, least=0)
        for month, value in enumerate(monthly_maxima, start=1)
    ]
    if not any(values):
        raise InputError("monthly_maxima", "all 0", "one month or more above 0", wrong_kind=False)
    usual, largest = sorted(values)[MONTHS // 2], max(values)
    if usual and largest > MOST_OF_MEDIAN * usual:
        most = f"up to {MOST_OF_MEDIAN:g} times the median of the months, {usual:g}; is it in another unit?"
        raise InputError(f"month {values.index(largest) + 1} of monthly_maxima", largest, most)
    return math.fsum(values) / MONTHS * (1.0 + growth / 100.0)


def demand_amps(demand: float, unit: str, kv: float, power_factor: float | None = None) -> float:
    """Line current of a three-phase demand: ``S / (sqrt3 V)``, with ``S = P / power factor`` for kW and MW.

    Parameters
    ----------
    demand : float
        Three-phase demand, above 0.
    unit : str
        "kW", "kVA", "MW" or "MVA".
    kv : float
        Nominal line-to-line voltage of the point of common coupling, above 0 to 1200 kV.
    power_factor : float, optional
        0.1 to 1, for kW and MW only: the displacement factor gives the fundamental current that I_L is; the
        true power factor gives the rms current, which is larger. Without it there is no answer for kW.

    Returns
    -------
    float
        A rms. From kVA it is the rms current with its harmonics, which exceeds the fundamental by
        ``sqrt(1 + THD^2)``: 0.5 % at a THD of 10 %.

    Raises
    ------
    InputError
        An argument is outside its range, kW without a power factor, or kVA with one.

    Examples
    --------
    1000 kVA at 13.8 kV: 41.84 A; 900 kW at power factor 0.9 is the same; by hand

    >>> round(demand_amps(1000, "kVA", 13.8), 2), round(demand_amps(900, "kW", 13.8, 0.9), 2)
    (41.84, 41.84)
    """
    amount = number("demand", demand, above=0)
    volts = number("kv", kv, unit="kV", above=0, most=HIGHEST_KV)
    try:
        kind = DemandUnit(unit)
    except ValueError:
        raise InputError("unit", unit, "one of " + ", ".join(DemandUnit)) from None
    factor = 1.0
    if kind.active:
        valid = (
            f"a number from {LEAST_POWER_FACTOR:g} to 1: a demand in {kind} says nothing of the current alone"
        )
        if power_factor is None:
            raise InputError("power_factor", None, valid)
        factor = number("power_factor", power_factor, least=LEAST_POWER_FACTOR, most=1)
    elif power_factor is not None:
        raise InputError("power_factor", power_factor, f"left out for {kind}, which has it already")
    return amount * kind.in_kilo / (factor * math.sqrt(3.0) * volts)
