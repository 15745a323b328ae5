"""Continuous probability distributions: densities, cumulated shares and their inverses, computed by scipy.

Arguments and valid ranges as in the function descriptions of Excel (support.microsoft.com, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import scipy

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.statistics.probabilities import (
    density,
    freedom_of,
    inner_share,
    need,
    positive,
    result,
    share_of,
)
from xlcalc.recalc.evaluation.library.values import (
    Uncertain,
    fail,
    logical,
    number,
    over_arrays,
    whole,
)
from xlcalc.schema.values import ErrorCode

_LARGEST_EXPONENT = 700.0


def t_density(x: Raw, degrees: Raw, cumulated: Raw) -> Raw:
    """T.DIST."""
    value, freedom = number(x), freedom_of(degrees)
    return float(
        scipy.stats.t.cdf(value, freedom) if logical(cumulated) else scipy.stats.t.pdf(value, freedom)
    )


def t_right(x: Raw, degrees: Raw) -> Raw:
    """T.DIST.RT."""
    return float(scipy.stats.t.sf(number(x), freedom_of(degrees)))


def t_both(x: Raw, degrees: Raw) -> Raw:
    """T.DIST.2T."""
    value, freedom = number(x), freedom_of(degrees)
    need(value >= 0)
    return float(2 * scipy.stats.t.sf(value, freedom))


def t_tails(x: Raw, degrees: Raw, tails: Raw) -> Raw:
    """TDIST."""
    value, freedom, count = number(x), freedom_of(degrees), whole(tails)
    need(value >= 0, count in (1, 2))
    return float(count * scipy.stats.t.sf(value, freedom))


def t_inverse(share: Raw, degrees: Raw) -> Raw:
    """T.INV."""
    p, freedom = share_of(share), freedom_of(degrees)
    return result(scipy.stats.t.ppf(p, freedom))


def t_inverse_both(share: Raw, degrees: Raw) -> Raw:
    """T.INV.2T and TINV."""
    p, freedom = share_of(share), freedom_of(degrees)
    return result(scipy.stats.t.isf(p / 2, freedom))


def chi_square(x: Raw, degrees: Raw, cumulated: Raw) -> Raw:
    """CHISQ.DIST."""
    value, freedom = number(x), freedom_of(degrees)
    need(value >= 0)
    if logical(cumulated):
        return float(scipy.stats.chi2.cdf(value, freedom))
    return density(scipy.stats.chi2.pdf(value, freedom))


def chi_square_right(x: Raw, degrees: Raw) -> Raw:
    """CHISQ.DIST.RT and CHIDIST."""
    value, freedom = number(x), freedom_of(degrees)
    need(value >= 0)
    return float(scipy.stats.chi2.sf(value, freedom))


def chi_square_inverse(share: Raw, degrees: Raw) -> Raw:
    """CHISQ.INV."""
    return result(scipy.stats.chi2.ppf(share_of(share), freedom_of(degrees)))


def chi_square_inverse_right(share: Raw, degrees: Raw) -> Raw:
    """CHISQ.INV.RT and CHIINV."""
    return result(scipy.stats.chi2.isf(share_of(share), freedom_of(degrees)))


def f_density(x: Raw, first: Raw, second: Raw, cumulated: Raw) -> Raw:
    """F.DIST."""
    value, a, b = number(x), freedom_of(first), freedom_of(second)
    need(value >= 0)
    return (
        float(scipy.stats.f.cdf(value, a, b))
        if logical(cumulated)
        else density(scipy.stats.f.pdf(value, a, b))
    )


def f_right(x: Raw, first: Raw, second: Raw) -> Raw:
    """F.DIST.RT and FDIST."""
    value, a, b = number(x), freedom_of(first), freedom_of(second)
    need(value >= 0)
    return float(scipy.stats.f.sf(value, a, b))


def f_inverse(share: Raw, first: Raw, second: Raw) -> Raw:
    """F.INV."""
    p, a, b = inner_share(share), freedom_of(first), freedom_of(second)
    return float(scipy.stats.f.ppf(p, a, b))


def f_inverse_right(share: Raw, first: Raw, second: Raw) -> Raw:
    """F.INV.RT and FINV."""
    return result(scipy.stats.f.isf(share_of(share), freedom_of(first), freedom_of(second)))


def exponential(x: Raw, rate: Raw, cumulated: Raw) -> Raw:
    """EXPON.DIST and EXPONDIST."""
    value, [steepness] = number(x), positive(rate)
    need(value >= 0)
    if logical(cumulated):
        return -math.expm1(-steepness * value)
    return steepness * math.exp(-steepness * value)


def weibull(x: Raw, alpha: Raw, beta: Raw, cumulated: Raw) -> Raw:
    """WEIBULL.DIST and WEIBULL."""
    value, [shape, scale] = number(x), positive(alpha, beta)
    need(value >= 0)
    if logical(cumulated):
        return float(scipy.stats.weibull_min.cdf(value, shape, scale=scale))
    if value == 0 and shape <= 1:
        raise Uncertain("the density at 0, for which programs differ")
    if abs(shape * math.log(scale)) > _LARGEST_EXPONENT:
        raise Uncertain("a density whose parts are too large or small for numbers")
    return density(scipy.stats.weibull_min.pdf(value, shape, scale=scale))


def gamma_law(x: Raw, alpha: Raw, beta: Raw, cumulated: Raw) -> Raw:
    """GAMMA.DIST and GAMMADIST."""
    value, [shape, scale] = number(x), positive(alpha, beta)
    need(value >= 0)
    if logical(cumulated):
        return float(scipy.stats.gamma.cdf(value, shape, scale=scale))
    if value == 0 and shape <= 1:
        raise Uncertain("the density at 0, for which programs differ")
    return density(scipy.stats.gamma.pdf(value, shape, scale=scale))


def gamma_inverse(share: Raw, alpha: Raw, beta: Raw) -> Raw:
    """GAMMA.INV and GAMMAINV."""
    p, [shape, scale] = share_of(share), positive(alpha, beta)
    return result(scipy.stats.gamma.ppf(p, shape, scale=scale))


def gamma_function(x: Raw) -> Raw:
    """GAMMA."""
    value = number(x)
    need(value > 0 or not value.is_integer())
    return result(scipy.special.gamma(value))


def gamma_logarithm(x: Raw) -> Raw:
    """GAMMALN and GAMMALN.PRECISE."""
    [value] = positive(x)
    return math.lgamma(value)


def _beta_place(x: Raw, low: Raw, high: Raw) -> tuple[float, float]:
    """Where a value lies between two limits, from 0 to 1, and how far these are apart."""
    value, a, b = number(x), number(low), number(high)
    need(a < b, a <= value <= b)
    return (value - a) / (b - a), b - a


def beta_law(x: Raw, alpha: Raw, beta: Raw, cumulated: Raw, low: Raw = 0.0, high: Raw = 1.0) -> Raw:
    """BETA.DIST."""
    [first, second] = positive(alpha, beta)
    place, width = _beta_place(x, low, high)
    if logical(cumulated):
        return float(scipy.stats.beta.cdf(place, first, second))
    if place in (0, 1):
        raise Uncertain("the density at an end, for which programs differ")
    return density(scipy.stats.beta.pdf(place, first, second)) / width


def beta_cumulated(x: Raw, alpha: Raw, beta: Raw, low: Raw = 0.0, high: Raw = 1.0) -> Raw:
    """BETADIST."""
    return beta_law(x, alpha, beta, True, low, high)


def beta_inverse(share: Raw, alpha: Raw, beta: Raw, low: Raw = 0.0, high: Raw = 1.0) -> Raw:
    """BETA.INV and BETAINV."""
    p, [first, second], a, b = inner_share(share), positive(alpha, beta), number(low), number(high)
    need(a < b)
    return a + (b - a) * float(scipy.stats.beta.ppf(p, first, second))


def lognormal(x: Raw, mean: Raw, deviation: Raw, cumulated: Raw) -> Raw:
    """LOGNORM.DIST."""
    [value, spread], centre = positive(x, deviation), number(mean)
    place = (math.log(value) - centre) / spread
    if logical(cumulated):
        return float(scipy.special.ndtr(place))
    return _bell(place) / (spread * value)


def lognormal_inverse(share: Raw, mean: Raw, deviation: Raw) -> Raw:
    """LOGNORM.INV and LOGINV."""
    p, centre, [spread] = share_of(share), number(mean), positive(deviation)
    need(0 < p < 1)
    return result(math.exp(centre + spread * float(scipy.special.ndtri(p))))


def normal(x: Raw, mean: Raw, deviation: Raw, cumulated: Raw) -> Raw:
    """NORM.DIST and NORMDIST."""
    value, centre, [spread] = number(x), number(mean), positive(deviation)
    place = (value - centre) / spread
    return float(scipy.special.ndtr(place)) if logical(cumulated) else _bell(place) / spread


def normal_inverse(share: Raw, mean: Raw, deviation: Raw) -> Raw:
    """NORM.INV and NORMINV."""
    p, centre, [spread] = share_of(share), number(mean), positive(deviation)
    need(0 < p < 1)
    return centre + spread * float(scipy.special.ndtri(p))


def standard_normal(x: Raw, cumulated: Raw) -> Raw:
    """NORM.S.DIST."""
    return float(scipy.special.ndtr(number(x))) if logical(cumulated) else _bell(number(x))


def standard_normal_inverse(share: Raw) -> Raw:
    """NORM.S.INV and NORMSINV."""
    return normal_inverse(share, 0.0, 1.0)


def _bell(place: float) -> float:
    return math.exp(-place * place / 2) / math.sqrt(2 * math.pi)


def confidence(alpha: Raw, deviation: Raw, size: Raw) -> Raw:
    """CONFIDENCE and CONFIDENCE.NORM."""
    share, [spread], count = number(alpha), positive(deviation), whole(size)
    need(0 < share < 1, count >= 1)
    return -float(scipy.special.ndtri(share / 2)) * spread / math.sqrt(count)


def confidence_t(alpha: Raw, deviation: Raw, size: Raw) -> Raw:
    """CONFIDENCE.T."""
    share, [spread], count = number(alpha), positive(deviation), whole(size)
    need(0 < share < 1, count >= 1)
    if count == 1:
        return fail(ErrorCode.DIV0)
    return float(scipy.stats.t.isf(share / 2, count - 1)) * spread / math.sqrt(count)


def standardized(x: Raw, mean: Raw, deviation: Raw) -> Raw:
    """STANDARDIZE."""
    value, centre, [spread] = number(x), number(mean), positive(deviation)
    return (value - centre) / spread


def normal_density(x: Raw) -> Raw:
    """PHI."""
    return _bell(number(x))


def above_the_mean(x: Raw) -> Raw:
    """GAUSS."""
    return math.erf(number(x) / math.sqrt(2)) / 2


def fisher(x: Raw) -> Raw:
    """FISHER."""
    value = number(x)
    need(-1 < value < 1)
    return math.atanh(value)


_DISTRIBUTIONS: dict[str, Callable[..., Raw]] = {
    "T.DIST": t_density,
    "T.DIST.RT": t_right,
    "T.DIST.2T": t_both,
    "TDIST": t_tails,
    "T.INV": t_inverse,
    "T.INV.2T": t_inverse_both,
    "TINV": t_inverse_both,
    "CHISQ.DIST": chi_square,
    "CHISQ.DIST.RT": chi_square_right,
    "CHIDIST": chi_square_right,
    "CHISQ.INV": chi_square_inverse,
    "CHISQ.INV.RT": chi_square_inverse_right,
    "CHIINV": chi_square_inverse_right,
    "F.DIST": f_density,
    "F.DIST.RT": f_right,
    "FDIST": f_right,
    "F.INV": f_inverse,
    "F.INV.RT": f_inverse_right,
    "FINV": f_inverse_right,
    "EXPON.DIST": exponential,
    "EXPONDIST": exponential,
    "WEIBULL.DIST": weibull,
    "WEIBULL": weibull,
    "GAMMA.DIST": gamma_law,
    "GAMMADIST": gamma_law,
    "GAMMA.INV": gamma_inverse,
    "GAMMAINV": gamma_inverse,
    "GAMMA": gamma_function,
    "GAMMALN": gamma_logarithm,
    "GAMMALN.PRECISE": gamma_logarithm,
    "BETA.DIST": beta_law,
    "BETADIST": beta_cumulated,
    "BETA.INV": beta_inverse,
    "BETAINV": beta_inverse,
    "NORM.DIST": normal,
    "NORMDIST": normal,
    "NORM.INV": normal_inverse,
    "NORMINV": normal_inverse,
    "NORM.S.DIST": standard_normal,
    "NORMSDIST": lambda x: standard_normal(x, True),
    "NORM.S.INV": standard_normal_inverse,
    "NORMSINV": standard_normal_inverse,
    "LOGNORM.DIST": lognormal,
    "LOGNORMDIST": lambda x, mean, deviation: lognormal(x, mean, deviation, True),
    "LOGNORM.INV": lognormal_inverse,
    "LOGINV": lognormal_inverse,
    "CONFIDENCE": confidence,
    "CONFIDENCE.NORM": confidence,
    "CONFIDENCE.T": confidence_t,
    "STANDARDIZE": standardized,
    "PHI": normal_density,
    "GAUSS": above_the_mean,
    "FISHER": fisher,
    "FISHERINV": lambda x: math.tanh(number(x)),
}

FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(_DISTRIBUTIONS)
