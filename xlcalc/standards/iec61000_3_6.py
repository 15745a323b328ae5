"""Emission limits of one installation by IEC TR 61000-3-6: stage 1 by its size, stage 2 by its share.

The harmonic voltage that all installations of a medium-voltage network may make together is what the planning
level leaves after the distortion that comes from above, by the summation law,

    G_h = (L_h^a - (T L_h,up)^a)^(1/a),

and an installation of agreed power S_i among S_t gets E_h = G_h (S_i / S_t)^(1/a), so that all shares,
summed with the exponent a of the order, make G_h again. Structure and stage 1 from memory (high); levels and
exponents are the tables of `xlcalc.standards`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.orders_given import OrdersNotListed, by_order, gap_text
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.standards.loader import Limit, Origin, Row, column_number, read_table, weakest
from xlcalc.standards.order_limits import order_table
from xlcalc.standards.verdict import Judgement, Verdict

RULES = "iec61000_3_6_rules"
EMISSION = "emission current"


def _rule(name: str) -> Row:
    return next(row for row in read_table(RULES) if row["rule"] == name)


STAGE_1_PCT = column_number(_rule("weighted power over short-circuit power"), "pct")
"""Weighted distorting power over short-circuit power up to which stage 1 accepts."""

LEAST_PCT = column_number(_rule("least share of an installation"), "pct")
"""Voltage that every installation may make, percent."""


@dataclass(frozen=True)
class EmissionLimit:
    """What one installation may make at one order.

    Parameters
    ----------
    order : int
        Harmonic order.
    planning_pct : float
        Planning level of the network, percent of its nominal voltage.
    voltage_pct : float
        Share of the installation, percent of the nominal voltage.
    amps : float
        The same as a current into the short-circuit impedance, taken as inductive, A.
    origin : Origin
        As little verified as the least verified of levels, exponents and rule.
    """

    order: int
    planning_pct: float
    voltage_pct: float
    amps: float
    origin: Origin


def summation_exponents() -> FloatArray:
    """Exponent of orders 1..50 in the summation law; 1 at the fundamental."""
    orders = np.arange(1, MAX_ORDER + 1)
    alpha = np.ones(MAX_ORDER)
    for row in read_table("summation_exponents"):
        covered = (column_number(row, "h_from") <= orders) & (column_number(row, "h_to") >= orders)
        alpha[covered] = column_number(row, "alpha")
    return alpha


def emission_limit(
    order: int,
    *,
    agreed_mva: float,
    total_mva: float,
    short_circuit_mva: float,
    kv: float,
    transfer: float = 1.0,
) -> EmissionLimit:
    """Stage 2 at a medium-voltage network with indicative planning levels.

    Parameters
    ----------
    order : int
        2 to 50.
    agreed_mva, total_mva : float
        Agreed power of the installation, and what the network supplies in all, above 0 MVA; the first is not
        above the second.
    short_circuit_mva : float
        At the point of evaluation, above 0 MVA.
    kv : float
        Nominal voltage, above 1 to 35 kV.
    transfer : float
        Share of the upstream level that arrives, 0 to 3.

    Raises
    ------
    InputError
        An argument is outside its range.
    NoSolutionError
        The document gives no level for the order.

    Examples
    --------
    A quarter of the power at order 5 (5 % here, 2 % above): (5^1.4 - 2^1.4)^(1/1.4) / 4^(1/1.4), by hand

    >>> quarter = emission_limit(5, agreed_mva=10, total_mva=40, short_circuit_mva=200, kv=20)
    >>> round(quarter.voltage_pct, 3)
    1.473
    """
    h = whole_number("order", order, least=2, most=MAX_ORDER)
    total = number("total_mva", total_mva, unit="MVA", above=0)
    agreed = number("agreed_mva", agreed_mva, unit="MVA", above=0, most=total)
    strength = number("short_circuit_mva", short_circuit_mva, unit="MVA", above=0)
    volts = number("kv", kv, unit="kV", above=1, most=35)
    arriving = number("transfer", transfer, least=0, most=3)
    levels = order_table("iec61000_3_6")
    here, above = levels.limit(h, "MV"), levels.limit(h, "HV-EHV")
    if here is None or above is None:
        raise NoSolutionError(f"IEC TR 61000-3-6 gives no planning level for order {h}")
    alpha = float(summation_exponents()[h - 1])
    left = max(0.0, here.value**alpha - (arriving * above.value) ** alpha)
    voltage = max((left * agreed / total) ** (1.0 / alpha), min(LEAST_PCT, here.value))
    amps = voltage / 100.0 * strength / (h * math.sqrt(3.0) * volts) * 1000.0
    rule = Origin.of_row(_rule("least share of an installation"))
    origin = weakest(here.origin, [above.origin, rule])
    return EmissionLimit(order=h, planning_pct=here.value, voltage_pct=voltage, amps=amps, origin=origin)


def judge_emission(
    current_amps: npt.ArrayLike,
    limits: Sequence[EmissionLimit],
    *,
    orders_not_listed: str = OrdersNotListed.NOT_GIVEN,
) -> Judgement:
    """Currents of an installation against what stage 2 leaves it.

    Parameters
    ----------
    current_amps : array of float, shape (n,)
        Orders 1..n, A. NaN, and orders above n, were not given.
    limits : sequence of EmissionLimit
        One for each order that is judged.
    orders_not_listed : str
        "not given", or "zero" where all orders that were not given are known to be zero.

    Raises
    ------
    InputError
        Values that are no row of numbers, or no limit.
    """
    amps = by_order("current_amps", current_amps, MAX_ORDER, orders_not_listed)
    verdicts = tuple(
        Verdict.against(EMISSION, one.order, amps[one.order - 1], Limit(one.amps, one.origin, "A"))
        for one in limits
    )
    gap = gap_text(amps, [one.order for one in limits], "current")
    return Judgement(verdicts, gaps=(gap,) if gap else ())


def weights() -> Mapping[str, float]:
    """Weighting factor of stage 1 by kind of load."""
    return {row["load"]: column_number(row, "weight") for row in read_table("iec61000_3_6_weights")}


def stage_1_pct(loads: Mapping[str, float], short_circuit_mva: float) -> float:
    """Weighted distorting power over short-circuit power, percent; accepted up to `STAGE_1_PCT`.

    Parameters
    ----------
    loads : mapping of str to float
        Power by kind of load (a key of `weights`), 0 MVA or more.
    short_circuit_mva : float
        At the point of evaluation, above 0 MVA.

    Raises
    ------
    InputError
        Unknown kind, or a power outside its range.

    Examples
    --------
    0.5 MVA of drives with and 0.2 MVA without reactor on 600 MVA: (0.5 + 2 x 0.2) / 600, by hand

    >>> drives = {"6-pulse, capacitor, reactor or choke above 3 %": 0.5, "6-pulse, capacitor": 0.2}
    >>> round(stage_1_pct(drives, 600.0), 3)
    0.15
    """
    strength = number("short_circuit_mva", short_circuit_mva, unit="MVA", above=0)
    known = weights()
    weighted = 0.0
    for kind, mva in loads.items():
        if kind not in known:
            raise InputError("kind of load", kind, "one of " + "; ".join(known))
        weighted += known[kind] * number(f"power of {kind}", mva, unit="MVA", least=0)
    return 100.0 * weighted / strength
