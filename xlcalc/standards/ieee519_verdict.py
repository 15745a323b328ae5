"""IEEE 519: verdicts for a current and for a voltage spectrum at the point of common coupling."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from xlcalc.errors import InputError
from xlcalc.spectrum import MAX_ORDER, FloatArray
from xlcalc.standards import ieee519
from xlcalc.standards.ieee519_multiplier import held_orders_multiplier
from xlcalc.standards.loader import Limit, weakest
from xlcalc.standards.verdict import Judgement, Verdict

CURRENT = "current harmonic"
TDD = "TDD"
VOLTAGE = "voltage harmonic"
VOLTAGE_THD = "voltage THD"


def judge_current(
    current_pct: npt.ArrayLike,
    isc_il: float,
    kv: float,
    edition: str = ieee519.DEFAULT_EDITION,
    *,
    raise_other_limits: bool = False,
) -> Judgement:
    """TDD and every order of a current against IEEE 519.

    Parameters
    ----------
    current_pct : array of float, shape (n,)
        Orders 1..n in percent of the maximum demand current; orders above 50 are ignored.
    isc_il, kv, edition
        As in `xlcalc.standards.ieee519.current_limit`.
    raise_other_limits : bool
        Apply the multiplier for held-down low orders where its condition holds; the limit of the TDD stays.

    Returns
    -------
    Judgement
        TDD first, then the orders.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    Isc/IL below 20: 5 % of order 11 against 2 %, by edition 2014

    >>> percent = np.zeros(50)
    >>> percent[10] = 5.0
    >>> judge_current(percent, 15, 0.48, "2014").binding.name
    'current harmonic, order 11'
    """
    values = _magnitudes("current_pct", current_pct)
    by_order = {h: float(values[h - 1]) for h in range(2, values.size + 1)}
    held = held_orders_multiplier(by_order, isc_il, kv, edition) if raise_other_limits else None
    tdd = float(np.linalg.norm(values[1:]))
    verdicts = [Verdict.against(TDD, None, tdd, ieee519.tdd_limit(isc_il, kv, edition))]
    for h, value in by_order.items():
        limit = ieee519.current_limit(h, isc_il, kv, edition)
        if held is not None and held.on(h) != 1.0:
            limit = Limit(held.on(h) * limit.value, weakest(limit.origin, [held.origin]))
        verdicts.append(Verdict.against(CURRENT, h, value, limit))
    return Judgement(tuple(verdicts))


def judge_voltage(voltage_pct: npt.ArrayLike, kv: float, edition: str = ieee519.DEFAULT_EDITION) -> Judgement:
    """THD and every order of a voltage against IEEE 519.

    Parameters
    ----------
    voltage_pct : array of float, shape (n,)
        Orders 1..n in percent of the nominal voltage; orders above 50 are ignored.
    kv, edition
        As in `xlcalc.standards.ieee519.voltage_limit`.

    Returns
    -------
    Judgement
        THD first, then the orders.

    Raises
    ------
    InputError
        An argument is outside its range.
    """
    values = _magnitudes("voltage_pct", voltage_pct)
    thd = float(np.linalg.norm(values[1:]))
    verdicts = [Verdict.against(VOLTAGE_THD, None, thd, ieee519.voltage_limit(kv, edition=edition))]
    verdicts += [
        Verdict.against(VOLTAGE, h, values[h - 1], ieee519.voltage_limit(kv, h, edition))
        for h in range(2, values.size + 1)
    ]
    return Judgement(tuple(verdicts))


def _magnitudes(name: str, values: npt.ArrayLike) -> FloatArray:
    found = np.abs(np.asarray(values, dtype=float))
    if found.ndim != 1 or not np.all(np.isfinite(found)):
        raise InputError(name, "no row of finite numbers", "one finite number per order")
    return np.asarray(found[:MAX_ORDER], dtype=np.float64)
