"""IEC 61000-3-12: harmonic currents of equipment above 16 A up to 75 A on the public low-voltage network."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.orders_given import OrdersNotListed, by_order, gap_text, root_sum_square
from xlcalc.core.spectrum import FloatArray, ListedSpectrum
from xlcalc.standards.loader import Limit, weakest
from xlcalc.standards.order_limits import OrderTable, order_table
from xlcalc.standards.verdict import Judgement, Verdict

LOWEST_AMPS = 16.0
HIGHEST_AMPS = 75.0
LAST_ORDER = 40
FIRST_WEIGHTED = 14
CURRENT = "current harmonic"
THC = "THC"
PWHC = "PWHC"


class Equipment(StrEnum):
    """Which table applies."""

    UNBALANCED = "Table 2"
    BALANCED = "Table 3"
    BALANCED_ABC = "Table 4"
    BALANCED_DEF = "Table 5"


def applicable_table(spectra: Sequence[ListedSpectrum]) -> Equipment:
    """Table for balanced equipment whose 5th and 7th are known, at one load point or at several.

    Conditions a, c, d and f of the standard (two public extracts): levels of the 5th and 7th below 5 or 3 %
    of the fundamental, or the angle of the 5th against the phase voltage. Where two hold, the table with more
    orders. That its angle is free, conditions b and e, cannot be seen in a spectrum.

    Parameters
    ----------
    spectra : sequence of ListedSpectrum
        Each with orders 1, 5 and 7; angles with the phase voltage at its crest at time zero.

    Raises
    ------
    InputError
        No spectrum, or one without order 1, 5 or 7.

    Examples
    --------
    >>> from xlcalc.core.spectrum import Spectrum
    >>> bridge = Spectrum.from_orders([(1, 100.0), (5, 30 * np.exp(1j * np.radians(98))), (7, 10.0)])
    >>> applicable_table([ListedSpectrum(bridge.phasors, given=frozenset((1, 5, 7)))]).value
    'Table 4'
    """
    if not spectra:
        raise InputError("spectra", "empty", "one spectrum or more")
    highest, angles = [], []
    for spectrum in spectra:
        lacking = [h for h in (1, 5, 7) if h not in spectrum.given]
        if lacking or spectrum.fundamental <= 0.0:
            raise InputError(
                "spectrum", f"without order {lacking[0] if lacking else 1}", "with orders 1, 5 and 7"
            )
        share = spectrum.magnitude[[4, 6]] / spectrum.fundamental
        highest.append(100.0 * float(share.max()))
        angles.append(float(np.degrees(np.angle(spectrum.phasors[4]))) % 360.0)
    for equipment, below, (low, high) in (
        (Equipment.BALANCED_DEF, 3.0, (150.0, 210.0)),
        (Equipment.BALANCED_ABC, 5.0, (90.0, 150.0)),
    ):
        if max(highest) < below or all(low <= angle <= high for angle in angles):
            return equipment
    return Equipment.BALANCED


def judge_equipment(
    current_pct: npt.ArrayLike,
    reference_amps: float,
    short_circuit_ratio: float,
    equipment: Equipment = Equipment.BALANCED,
    *,
    orders_not_listed: str = OrdersNotListed.NOT_GIVEN,
) -> Judgement:
    """Currents of one piece of equipment against the table for its kind.

    Tables 4 and 5 have conditions (level or angle of the 5th and 7th) that the caller must have checked.

    Parameters
    ----------
    current_pct : array of float, shape (n,)
        Orders 1..40 (more are ignored) in percent of the reference current. NaN, and orders above n, were not
        given: an order with a limit is then judged neither PASS nor FAIL, and THC and PWHC may fail but not
        pass.
    reference_amps : float
        Reference current per phase, above 16 to 75 A: the scope of the standard.
    short_circuit_ratio : float
        R_sce = short-circuit level over the rating of the equipment, 33 or more.
    equipment : Equipment
        Table that applies.
    orders_not_listed : str
        "not given", or "zero" where all orders that were not given are known to be zero.

    Returns
    -------
    Judgement
        Every order that the table limits, THC (orders 2..40) and PWHC (orders 14..40 weighted by the order);
        limits between two rows are interpolated on a straight line.

    Raises
    ------
    InputError
        Outside the scope, or values that are no row of numbers.

    Examples
    --------
    >>> currents = np.zeros(40)
    >>> currents[[4, 6]] = 16.5, 5.0
    >>> judgement = judge_equipment(currents, 50.0, 93)
    >>> judgement.word, judgement.binding_order.order, judgement.binding_order.limit
    ('PASS', 5, 16.5)
    """
    amps = number("reference_amps", reference_amps, unit="A")
    if not LOWEST_AMPS < amps <= HIGHEST_AMPS:
        raise InputError("reference_amps", reference_amps, "above 16 to 75 A, the scope of IEC 61000-3-12")
    ratio = number("short_circuit_ratio", short_circuit_ratio, least=33)
    values = by_order("current_pct", current_pct, LAST_ORDER, orders_not_listed)
    verdicts = []
    for h in range(2, LAST_ORDER + 1):
        limit = equipment_limit(h, ratio, equipment)
        if limit is not None:
            verdicts.append(Verdict.against(CURRENT, h, values[h - 1], limit))
    lacking_thc = root_sum_square(values, 2, LAST_ORDER)[1]
    lacking_pwhc = tuple(h for h in lacking_thc if h >= FIRST_WEIGHTED)
    for name, value, lacking in (
        (THC, total_current(values), lacking_thc),
        (PWHC, weighted_current(values), lacking_pwhc),
    ):
        limit = equipment_limit(name, ratio, equipment)
        if limit is not None:
            verdicts.append(Verdict.against(name, None, value, limit, at_least=bool(lacking)))
    gap = gap_text(values, range(2, LAST_ORDER + 1), "current")
    return Judgement(tuple(verdicts), gaps=(gap,) if gap else ())


def equipment_limit(
    item: int | str, short_circuit_ratio: float, equipment: Equipment = Equipment.BALANCED
) -> Limit | None:
    """Limit of one order or total, percent of the reference current.

    Parameters
    ----------
    item : int or str
        Order from 2 to 40, "THC" or "PWHC".
    short_circuit_ratio : float
        R_sce, 33 or more; between two rows the limit is interpolated on a straight line.
    equipment : Equipment
        Table that applies.

    Returns
    -------
    Limit or None
        None where the table gives no limit for the order.

    Raises
    ------
    InputError
        Unknown total, or a ratio or order outside its range.

    Examples
    --------
    >>> equipment_limit(5, 93).value, equipment_limit("THC", 33).value, equipment_limit(17, 33)
    (16.5, 13.0, None)
    """
    ratio = number("short_circuit_ratio", short_circuit_ratio, least=33)
    table = order_table("iec61000_3_12", equipment.value)
    low, high = _rows_around(table, ratio)
    if isinstance(item, str):
        return _interpolated(ratio, low, high, table.total(item, low), table.total(item, high))
    order = whole_number("order", item, least=2, most=LAST_ORDER)
    ends = table.limit(order, low), table.limit(order, high)
    if ends[0] is None or ends[1] is None:
        return None
    return _interpolated(ratio, low, high, ends[0], ends[1])


def total_current(values: FloatArray) -> float:
    """THC: root sum square of orders 2..40, from values of orders 1..n.

    Of the orders that are not NaN; NaN where all are.
    """
    return root_sum_square(values, 2, LAST_ORDER)[0]


def weighted_current(values: FloatArray) -> float:
    """PWHC: root of the sum of h I_h^2, orders 14..40, from values of orders 1..n.

    Of the orders that are not NaN; NaN where all are.

    Examples
    --------
    >>> one = np.zeros(40)
    >>> one[24] = 2.0
    >>> weighted_current(one)
    10.0
    """
    orders = np.arange(FIRST_WEIGHTED, LAST_ORDER + 1, dtype=float)
    return root_sum_square(values, FIRST_WEIGHTED, LAST_ORDER, orders)[0]


def _rows_around(table: OrderTable, ratio: float) -> tuple[str, str]:
    """Columns of the table on either side of a short-circuit ratio; the last one twice above it."""
    columns = sorted(table.columns, key=float)
    low = max((c for c in columns if float(c) <= ratio), key=float)
    return low, min((c for c in columns if float(c) >= ratio), key=float, default=low)


def _interpolated(ratio: float, low: str, high: str, at_low: Limit, at_high: Limit) -> Limit:
    origin = weakest(at_low.origin, [at_high.origin])
    if low == high:
        return Limit(at_low.value, origin)
    share = (ratio - float(low)) / (float(high) - float(low))
    return Limit(at_low.value + share * (at_high.value - at_low.value), origin)
