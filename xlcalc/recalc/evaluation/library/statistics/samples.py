"""Samples: ranks in percent, trimmed means, variances that count text as 0, tests between two samples.

Rules as in the function descriptions of Excel (support.microsoft.com, from memory).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np
import scipy

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.aggregates import Numbers, ascending
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    is_number,
    lifted,
    number,
    numbers_of,
    rows_of,
    whole,
)
from xlcalc.schema.values import ErrorCode


def _percent_rank(ordered: Numbers, x: Raw, significance: Raw, *, exclusive: bool) -> float:
    """The share of the values below a number, cut to so many digits."""
    sought, digits = number(x), whole(significance)
    if not len(ordered) or digits < 1:
        fail(ErrorCode.NUM)
    if not ordered[0] <= sought <= ordered[-1]:
        fail(ErrorCode.NA)
    below = int(np.searchsorted(ordered, sought))
    if ordered[below] == sought:
        place = float(below)
    else:
        low, high = float(ordered[below - 1]), float(ordered[below])
        place = below - 1 + (sought - low) / (high - low)
    if exclusive:
        share = (place + 1) / (len(ordered) + 1)
    elif len(ordered) == 1:
        return 1.0
    else:
        share = place / (len(ordered) - 1)
    scaled = share * 10.0**digits
    near = round(scaled)
    if near != scaled and math.isclose(scaled, near, rel_tol=1e-14):
        scaled = near
    return math.floor(scaled) / 10.0**digits


def percent_rank(values: Raw, x: Raw, significance: Raw = 3.0) -> Raw:
    """PERCENTRANK and PERCENTRANK.INC."""
    found = ascending(values)
    return lifted(lambda a, b: _percent_rank(found, a, b, exclusive=False), (x, significance), (0, 1))


def percent_rank_exclusive(values: Raw, x: Raw, significance: Raw = 3.0) -> Raw:
    """PERCENTRANK.EXC."""
    found = ascending(values)
    return lifted(lambda a, b: _percent_rank(found, a, b, exclusive=True), (x, significance), (0, 1))


def trimmed_mean(values: Raw, share: Raw) -> Raw:
    """TRIMMEAN: the mean without so large a share of the highest and lowest values together."""
    found, cut = sorted(numbers_of(values)), number(share)
    if not 0 <= cut < 1 or not found:
        fail(ErrorCode.NUM)
    each_end = math.floor(round(len(found) * cut, 9) / 2)
    kept = found[each_end : len(found) - each_end]
    return math.fsum(kept) / len(kept)


def skewness_of_all(*arguments: Raw) -> Raw:
    """SKEW.P."""
    values = [value for argument in arguments for value in numbers_of(argument)]
    if len(values) < 3 or len(set(values)) == 1:
        fail(ErrorCode.DIV0)
    return float(scipy.stats.skew(values))


def _with_text(arguments: Sequence[Raw]) -> list[float]:
    """Numbers, logicals as 1 and 0, text in ranges as 0."""
    found: list[float] = []
    for argument in arguments:
        if isinstance(argument, str):
            raise Uncertain("one text where numbers are expected")
        for cell in cells_of(argument):
            if is_error(cell):
                raise ErrorShown(cell)
            if cell is not None:
                found.append(0.0 if isinstance(cell, str) else float(cell))
    return found


def _spread_with_text(*, sample: bool, root: bool) -> Callable[..., Raw]:
    def computed(*arguments: Raw) -> Raw:
        values = _with_text(arguments)
        if len(values) < (2 if sample else 1):
            fail(ErrorCode.DIV0)
        variance = float(np.var(values, ddof=1 if sample else 0))
        return math.sqrt(variance) if root else variance

    return computed


def most_frequent(*arguments: Raw) -> Raw:
    """MODE.MULT: the most frequent numbers, one below the other."""
    counts = Counter(value for argument in arguments for value in numbers_of(argument))
    best = max(counts.values(), default=0)
    if best < 2:
        fail(ErrorCode.NA)
    found = [value for value, count in counts.items() if count == best]
    if len(found) > 1 and found != sorted(found):
        raise Uncertain("several numbers that are equally frequent, whose order programs choose differently")
    return [[value] for value in found] if len(found) > 1 else found[0]


def probability(values: Raw, shares: Raw, low: Raw, high: Raw = LEFT_OUT) -> Raw:
    """PROB: the shares of the values between two limits."""
    pairs = _paired(values, shares)
    first, last = number(low), number(low if high is LEFT_OUT else high)
    if last < first:
        raise Uncertain("an upper limit below the lower one")
    if any(not 0 < share <= 1 for _, share in pairs):
        fail(ErrorCode.NUM)
    if abs(math.fsum(share for _, share in pairs) - 1) > 1e-7:
        fail(ErrorCode.NUM)
    return math.fsum(share for value, share in pairs if first <= value <= last)


def _paired(first: Raw, second: Raw) -> list[tuple[float, float]]:
    """Numbers that stand at the same place of two ranges; #N/A where these differ in size."""
    a, b = list(cells_of(first)), list(cells_of(second))
    for cell in (*a, *b):
        if is_error(cell):
            raise ErrorShown(cell)
    if len(a) != len(b):
        fail(ErrorCode.NA)
    pairs = list(zip(a, b, strict=True))
    if not all(is_number(x) and is_number(y) for x, y in pairs):
        raise Uncertain("blank cells, text or logicals in one of two ranges that belong together")
    return [(float(x), float(y)) for x, y in pairs]


def z_test(values: Raw, mean: Raw, deviation: Raw = LEFT_OUT) -> Raw:
    """Z.TEST and ZTEST."""
    found, expected = numbers_of(values), number(mean)
    if len(found) < 2:
        raise Uncertain("a test of fewer than two numbers")
    if deviation is LEFT_OUT:
        spread = float(np.std(found, ddof=1))
    else:
        spread = number(deviation)
        if spread <= 0:
            fail(ErrorCode.NUM)
    if spread == 0:
        fail(ErrorCode.DIV0)
    place = (math.fsum(found) / len(found) - expected) / (spread / math.sqrt(len(found)))
    return float(scipy.special.ndtr(-place))


def t_test(first: Raw, second: Raw, tails: Raw, kind: Raw) -> Raw:
    """T.TEST and TTEST."""
    count, wanted = whole(tails), whole(kind)
    if count not in (1, 2) or wanted not in (1, 2, 3):
        fail(ErrorCode.NUM)
    if wanted == 1:
        pairs = _paired(first, second)
        if len(pairs) < 2:
            fail(ErrorCode.DIV0)
        difference = [a - b for a, b in pairs]
        if len(set(difference)) == 1:
            fail(ErrorCode.DIV0)
        found = scipy.stats.ttest_1samp(difference, 0.0)
    else:
        a, b = numbers_of(first), numbers_of(second)
        if len(a) < 2 or len(b) < 2 or len(set(a)) == len(set(b)) == 1:
            fail(ErrorCode.DIV0)
        found = scipy.stats.ttest_ind(a, b, equal_var=wanted == 2)
    return float(found.pvalue) / 2 * count


def f_test(first: Raw, second: Raw) -> Raw:
    """F.TEST and FTEST: twice the smaller tail of the ratio of two variances."""
    a, b = numbers_of(first), numbers_of(second)
    if len(a) < 2 or len(b) < 2:
        fail(ErrorCode.DIV0)
    one, other = float(np.var(a, ddof=1)), float(np.var(b, ddof=1))
    if one == 0 or other == 0:
        fail(ErrorCode.DIV0)
    tail = float(scipy.stats.f.sf(one / other, len(a) - 1, len(b) - 1))
    return 2 * min(tail, 1 - tail)


def chi_square_test(actual: Raw, expected: Raw) -> Raw:
    """CHISQ.TEST and CHITEST."""
    seen, due = rows_of(actual), rows_of(expected)
    pairs = _paired(actual, expected)
    if (len(seen), len(seen[0])) != (len(due), len(due[0])) or len(pairs) < 2:
        fail(ErrorCode.NA)
    if any(y == 0 for _, y in pairs):
        fail(ErrorCode.DIV0)
    if any(y < 0 for _, y in pairs):
        raise Uncertain("an expected count below 0")
    distance = math.fsum((x - y) ** 2 / y for x, y in pairs)
    height, width = len(seen), len(seen[0])
    freedom = (height - 1) * (width - 1) if height > 1 and width > 1 else len(pairs) - 1
    return float(scipy.stats.chi2.sf(distance, freedom))


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "PERCENTRANK": percent_rank,
    "PERCENTRANK.INC": percent_rank,
    "PERCENTRANK.EXC": percent_rank_exclusive,
    "TRIMMEAN": trimmed_mean,
    "SKEW.P": skewness_of_all,
    "VARA": _spread_with_text(sample=True, root=False),
    "VARPA": _spread_with_text(sample=False, root=False),
    "STDEVA": _spread_with_text(sample=True, root=True),
    "STDEVPA": _spread_with_text(sample=False, root=True),
    "MODE.MULT": most_frequent,
    "PROB": probability,
    "Z.TEST": z_test,
    "ZTEST": z_test,
    "T.TEST": t_test,
    "TTEST": t_test,
    "F.TEST": f_test,
    "FTEST": f_test,
    "CHISQ.TEST": chi_square_test,
    "CHITEST": chi_square_test,
}
