"""Discrete probability distributions, computed by scipy.

Arguments and valid ranges as in the function descriptions of Excel (support.microsoft.com, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import scipy

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.statistics.probabilities import inner_share, need, share_of
from xlcalc.recalc.evaluation.library.values import Uncertain, logical, number, over_arrays, whole

_SAME = object()
_LARGEST_COUNT = 2.0**53


def _count(raw: Raw) -> int:
    if -1 < number(raw) < 0:
        raise Uncertain("a count between -1 and 0")
    if abs(number(raw)) > _LARGEST_COUNT:
        raise Uncertain("a count beyond 2^53")
    return whole(raw)


def binomial(successes: Raw, trials: Raw, share: Raw, cumulated: Raw) -> Raw:
    """BINOM.DIST and BINOMDIST."""
    count, tried, p = _count(successes), _count(trials), share_of(share)
    need(0 <= count <= tried)
    found = (
        scipy.stats.binom.cdf(count, tried, p)
        if logical(cumulated)
        else scipy.stats.binom.pmf(count, tried, p)
    )
    return float(found)


def binomial_between(trials: Raw, share: Raw, first: Raw, last: Raw = _SAME) -> Raw:
    """BINOM.DIST.RANGE."""
    tried, p, low = _count(trials), share_of(share), _count(first)
    high = low if last is _SAME else _count(last)
    need(tried >= 0, 0 <= low <= high <= tried)
    return math.fsum(float(scipy.stats.binom.pmf(count, tried, p)) for count in range(low, high + 1))


def binomial_inverse(trials: Raw, share: Raw, criterion: Raw) -> Raw:
    """BINOM.INV and CRITBINOM: the smallest count whose cumulated share reaches the criterion."""
    tried, p, wanted = _count(trials), inner_share(share), inner_share(criterion)
    need(tried >= 0)
    return float(scipy.stats.binom.ppf(wanted, tried, p))


def negative_binomial(failures: Raw, successes: Raw, share: Raw, cumulated: Raw) -> Raw:
    """NEGBINOM.DIST."""
    failed, wanted, p = _count(failures), _count(successes), inner_share(share)
    need(failed >= 0, wanted >= 1)
    found = (
        scipy.stats.nbinom.cdf(failed, wanted, p)
        if logical(cumulated)
        else scipy.stats.nbinom.pmf(failed, wanted, p)
    )
    return float(found)


def hypergeometric(found: Raw, drawn: Raw, marked: Raw, total: Raw, cumulated: Raw) -> Raw:
    """HYPGEOM.DIST."""
    k, n, m, size = _count(found), _count(drawn), _count(marked), _count(total)
    need(0 <= k <= min(n, m), 0 < n <= size, 0 < m <= size, k >= n - size + m)
    law = scipy.stats.hypergeom(size, m, n)
    return float(law.cdf(k) if logical(cumulated) else law.pmf(k))


def poisson(count: Raw, mean: Raw, cumulated: Raw) -> Raw:
    """POISSON.DIST and POISSON."""
    events, expected = _count(count), number(mean)
    need(events >= 0, expected >= 0)
    if expected == 0:
        raise Uncertain("a mean of 0, for which programs differ")
    found = (
        scipy.stats.poisson.cdf(events, expected)
        if logical(cumulated)
        else scipy.stats.poisson.pmf(events, expected)
    )
    return float(found)


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(
    {
        "BINOM.DIST": binomial,
        "BINOMDIST": binomial,
        "BINOM.DIST.RANGE": binomial_between,
        "BINOM.INV": binomial_inverse,
        "CRITBINOM": binomial_inverse,
        "NEGBINOM.DIST": negative_binomial,
        "NEGBINOMDIST": lambda failures, successes, share: negative_binomial(
            failures, successes, share, False
        ),
        "HYPGEOM.DIST": hypergeometric,
        "HYPGEOMDIST": lambda found, drawn, marked, total: hypergeometric(found, drawn, marked, total, False),
        "POISSON.DIST": poisson,
        "POISSON": poisson,
    }
)
