"""Measured values against IEEE 519, EN 50160 and IEC 61000-2-4 by the percentiles of days and weeks.

A period is judged by its values. Where some are missing, it passes only if it would whatever they were, and
fails only if it would in any case; else there is no verdict. Flagged intervals are left out of the count,
as IEC 61000-4-30 has it, and named; where they are many they count as missing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.core.orders_given import orders_text
from xlcalc.core.plausible import LEAST_RECORDED_PCT, VOLTAGE_PCT, slip
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.measurement.aggregation import LENGTHS, Series
from xlcalc.measurement.percentiles import Bounds, percentile_bounds
from xlcalc.standards import ieee519
from xlcalc.standards.ieee519_verdict import CURRENT, TDD, VOLTAGE, VOLTAGE_THD
from xlcalc.standards.loader import Limit
from xlcalc.standards.order_limits import order_table
from xlcalc.standards.statistics import EN_50160, IEEE_519, SECONDS, Statistic, statistics
from xlcalc.standards.verdict import Judgement, Verdict, within

LEAST_FUNDAMENTAL_PCT: Final = {CURRENT: LEAST_RECORDED_PCT, VOLTAGE: 50.0}
"""Of the base, the largest of a record: below, ratio, unit or base are wrong; common practice, no source."""
MOST_VOLTAGE_PCT: Final = 150.0
"""Fundamental of a voltage over the nominal one; common practice, no source."""
LEAST_TOTAL: Final = 0.8
"""Total distortion that a log states over that of its orders; common practice, no source."""
MOST_FLAGGED: Final = 0.05
"""Share of the values of a period that may be flagged and left out; common practice, no source."""
THREE_PHASES: Final = ("a", "b", "c")


@dataclass(frozen=True, kw_only=True)
class _Document:
    """Limits and statistics of one quantity in one document."""

    what: str
    total: str
    orders: dict[int, Limit]
    total_limit: Limit
    total_last: int
    rules: tuple[Statistic, ...]


def judge_ieee519_current(
    series: Sequence[Series],
    isc_il: float,
    kv: float,
    edition: str = ieee519.DEFAULT_EDITION,
    *,
    phases: Sequence[str] = THREE_PHASES,
) -> Judgement:
    """Measured currents against IEEE 519: every order and the TDD of every phase, by percentiles.

    Parameters
    ----------
    series : sequence of Series
        Values of 3 s and of 10 minutes, percent of the maximum demand current.
    isc_il, kv
        As in `xlcalc.standards.ieee519.current_limit`.
    edition : str
        "2014" or "2022".
    phases : sequence of str
        Phases that must be there.

    Returns
    -------
    Judgement
        One verdict per phase, statistic, period, order and TDD. Periods follow each other from the first
        value of a phase. A last, incomplete one after a complete one can only fail. Where Isc/IL is within
        10 % of an edge of the table, the harder of the two rows counts.

    Raises
    ------
    InputError
        An argument is outside its range, or two series are of one phase and length.
    """
    judge = partial(_ieee519_current, series, kv=kv, edition=edition, phases=phases)
    near = ieee519.neighbouring_rows(isc_il, kv, edition)
    ratio = max((isc_il, *near), key=lambda each: judge(each).binding.ratio)
    found = judge(ratio)
    if not near:
        return found
    row = ieee519.current_row_text(ratio, kv, edition)
    remark = (
        f"Isc/IL {isc_il:.4g} is within 10 % of an edge of the limit table: judged on the harder row {row}"
    )
    return replace(found, remarks=(*found.remarks, remark))


def _ieee519_current(
    series: Sequence[Series], isc_il: float, *, kv: float, edition: str, phases: Sequence[str]
) -> Judgement:
    orders = {h: ieee519.current_limit(h, isc_il, kv, edition) for h in range(2, MAX_ORDER + 1)}
    document = _Document(
        what=CURRENT,
        total=TDD,
        orders=orders,
        total_limit=ieee519.tdd_limit(isc_il, kv, edition),
        total_last=MAX_ORDER,
        rules=statistics(IEEE_519, "current", edition),
    )
    return _judged(series, document, phases)


def judge_ieee519_voltage(
    series: Sequence[Series],
    kv: float,
    edition: str = ieee519.DEFAULT_EDITION,
    *,
    phases: Sequence[str] = THREE_PHASES,
) -> Judgement:
    """Measured voltages against IEEE 519; percent of the nominal voltage; else as `judge_ieee519_current`."""
    document = _Document(
        what=VOLTAGE,
        total=VOLTAGE_THD,
        orders={h: ieee519.voltage_limit(kv, h, edition) for h in range(2, MAX_ORDER + 1)},
        total_limit=ieee519.voltage_limit(kv, edition=edition),
        total_last=MAX_ORDER,
        rules=statistics(IEEE_519, "voltage", edition),
    )
    return _judged(series, document, phases)


def judge_levels(
    series: Sequence[Series],
    column: str = "LV",
    *,
    document: str = EN_50160,
    phases: Sequence[str] = THREE_PHASES,
) -> Judgement:
    """Measured voltages against EN 50160 or IEC 61000-2-4: 95 % of the 10-minute values of each week.

    Parameters
    ----------
    series : sequence of Series
        Values of 10 minutes, percent of the fundamental; others are not needed.
    column : str
        "LV" or "MV" of EN 50160; "class 1", "class 2" or "class 3" of IEC 61000-2-4.
    document : str
        `EN_50160` or `IEC_61000_2_4`.
    phases : sequence of str
        Phases that must be there.

    Raises
    ------
    InputError
        An argument is outside its range.
    """
    table = order_table(document.removesuffix("_statistics"))
    limits = {h: table.limit(h, column) for h in range(2, MAX_ORDER + 1)}
    total = next(row for row in table.rows if row.column == column and row.quantity == "THD")
    return _judged(
        series,
        _Document(
            what=VOLTAGE,
            total="THD",
            orders={h: limit for h, limit in limits.items() if limit is not None},
            total_limit=table.total("THD", column),
            total_last=total.h_to,
            rules=statistics(document, "voltage", total.origin.edition),
        ),
        phases,
    )


def _judged(series: Sequence[Series], document: _Document, phases: Sequence[str]) -> Judgement:
    by_key: dict[tuple[str, str], Series] = {}
    for one in series:
        if by_key.setdefault((one.phase, one.length), one) is not one:
            raise InputError("series", f"phase {one.phase} twice with {one.length} values", "each once")
    wanted = list(dict.fromkeys([*phases, *(one.phase for one in series)]))
    if not wanted:
        raise InputError("phases", "empty", "one phase or more")
    parts = [
        _judged_by(by_key.get((phase, rule.window)), document, rule, phase)
        for phase in wanted
        for rule in document.rules
    ]
    doubts = tuple(told for one in series for told in [_doubt(one, document)] if told)
    return Judgement(
        tuple(verdict for part in parts for verdict in part.verdicts),
        gaps=tuple(gap for part in parts for gap in part.gaps),
        doubts=doubts,
        remarks=tuple(remark for part in parts for remark in part.remarks),
    )


def _doubt(series: Series, document: _Document) -> str:
    """Why the values of a phase cannot be what they are said to be; empty where they can."""
    name = f"phase {series.phase}, {series.length} values"
    known = series.percent[np.isfinite(series.percent).any(axis=1)]
    harmonics = known[:, 1:][np.isfinite(known[:, 1:])]
    if not harmonics.size:
        return ""
    if not harmonics.any():
        return f"{name}: every order is 0 all the time; is the channel connected?"
    first = known[:, 0][np.isfinite(known[:, 0])]
    largest = float(first.max()) if first.size else math.nan
    least = LEAST_FUNDAMENTAL_PCT[document.what]
    if largest < least or (document.what == VOLTAGE and largest > MOST_VOLTAGE_PCT):
        return (
            f"{name}: the fundamental is at most {largest:.3g} % of the base; is it the ratio of a "
            "transformer, the unit, a base of another voltage level, or are percent written as fractions?"
        )
    told = slip(float(harmonics.max()), "%", VOLTAGE_PCT) if document.what == VOLTAGE else ""
    if told:
        return f"{name}: the largest order is {harmonics.max():.3g} %: usually {told.partition(' (if')[0]}"
    return _total_doubt(series, name, document.total_last)


def _total_doubt(series: Series, name: str, last: int) -> str:
    """A total that is stated and less than its own orders."""
    if series.total is None:
        return ""
    orders = np.sqrt(np.nansum(series.percent[:, 1:last] ** 2, axis=1))
    low = np.flatnonzero(series.total < LEAST_TOTAL * orders - 0.1)
    if not low.size:
        return ""
    at = np.datetime_as_string(series.time[low[0]], unit="s")
    stated = f"{series.total[low[0]]:.3g} % at {at}, its orders make {orders[low[0]]:.3g} %"
    return f"{name}: the total distortion is {stated}; is it written as a fraction?"


def _judged_by(series: Series | None, document: _Document, rule: Statistic, phase: str) -> Judgement:
    """One phase by one statistic, period by period."""
    if series is None or not series.time.size:
        gap = f"phase {phase}: no {rule.window} values, which the statistic {rule.text} needs"
        nothing = np.empty((0, MAX_ORDER + 1))
        return Judgement(
            tuple(_verdicts(nothing, 1, document, f"phase {phase}, {rule.text}", rule)), gaps=(gap,)
        )
    verdicts: list[Verdict] = []
    gaps: list[str] = []
    remarks: list[str] = []
    values = series.with_total(document.total_last)
    for period in _periods(series, rule):
        rows = values[period.rows & ~series.left_out]
        known = int(np.sum(np.isfinite(rows).any(axis=1)))
        name = f"phase {phase}, {rule.text}, from {np.datetime_as_string(period.begin, unit='m')}"
        at_least = series.total is None and _lacks_orders(rows, document.total_last)
        found = list(_verdicts(rows, period.judged, document, name, rule, at_least))
        coverage = f"{name}: {known} of {period.count} values known{period.flagged_text}"
        if period.rest:
            found = [verdict for verdict in found if verdict.passes is False]
            coverage += "; after complete periods this rest can only fail"
        verdicts += found
        if any(verdict.passes is None for verdict in found):
            gaps.append(coverage + _orders_gap(rows, document))
        elif known < period.count:
            remarks.append(coverage)
    return Judgement(tuple(verdicts), gaps=tuple(gaps), remarks=tuple(remarks))


@dataclass(frozen=True)
class _Period:
    """A day or week: its rows, how many values it has, how many are flagged, whether it is a rest."""

    begin: np.datetime64
    rows: npt.NDArray[np.bool_]
    count: int
    flagged: int
    rest: bool

    @property
    def judged(self) -> int:
        """Number of values of which the percentile is one."""
        few = self.flagged <= MOST_FLAGGED * self.count
        return max(1, self.count - self.flagged) if few else self.count

    @property
    def flagged_text(self) -> str:
        if not self.flagged:
            return ""
        few = self.judged < self.count
        return f", {self.flagged} flagged " + ("and left out" if few else "and, being many, taken as missing")


def _periods(series: Series, rule: Statistic) -> Iterator[_Period]:
    """Consecutive periods from the first value on; of a last one that is not complete `rest` is true."""
    seconds, length = SECONDS[rule.period], LENGTHS[rule.window]
    after = (series.time - series.time[0]) / np.timedelta64(1, "s")
    numbers = (after // seconds).astype(int)
    for number_ in range(int(numbers[-1]) + 1):
        rows = numbers == number_
        flagged = int(np.sum(series.left_out[rows]))
        count = max(round(seconds / length), int(rows.sum()))
        early = after[-1] < (number_ + 1) * seconds - 1.5 * length
        begin = series.time[0] + np.timedelta64(round(number_ * seconds), "s")
        yield _Period(begin, rows, count, flagged, bool(early and number_ > 0 and number_ == numbers[-1]))


def _verdicts(
    rows: FloatArray, count: int, document: _Document, name: str, rule: Statistic, at_least: bool = False
) -> Iterator[Verdict]:
    """The total and each order that has a limit; `rows` has orders 1 to 50 and the total."""
    bounds = percentile_bounds(rows, rule.percentile, count)

    def verdict(quantity: str, order: int | None, column: int, own: Limit, least: bool = False) -> Verdict:
        limit = rule.limit(own)
        return percentile_verdict(f"{quantity}, {name}", order, bounds, column, limit, at_least=least)

    yield verdict(document.total, None, MAX_ORDER, document.total_limit, at_least)
    for order, limit in document.orders.items():
        yield verdict(document.what, order, order - 1, limit)


def percentile_verdict(
    quantity: str, order: int | None, bounds: Bounds, column: int, limit: Limit, *, at_least: bool = False
) -> Verdict:
    """A percentile against its limit.

    Its value is the upper bound where that keeps the limit; else the lower bound, which may fail but not pass
    while the two differ.

    Parameters
    ----------
    quantity : str
    order : int, optional
    bounds : Bounds
    column : int
        Which of the quantities of the bounds.
    limit : Limit
        With the multiplier of the statistic.
    at_least : bool
        The values are totals that lack orders.
    """
    low, high = float(bounds.low[column]), float(bounds.high[column])
    value = high if not at_least and within(high, limit.value) else low
    uncertain = at_least or (low < high and value == low)
    known = value if bounds.known[column] else math.nan
    return Verdict.against(quantity, order, known, limit, at_least=uncertain)


def _lacks_orders(rows: FloatArray, last: int) -> bool:
    """Whether an interval of which something is known lacks an order of the total."""
    harmonics = np.isfinite(rows[:, 1:last])
    return bool(np.any(harmonics.any(axis=1) & ~harmonics.all(axis=1)))


def _orders_gap(rows: FloatArray, document: _Document) -> str:
    if not np.isfinite(rows).any():
        return ""
    lacking = [h for h in document.orders if not np.isfinite(rows[:, h - 1]).any()]
    return f"; orders {orders_text(lacking)} not known" if lacking else ""
