"""Transformers under harmonic load: loss factors, permitted current, K rating, European factor K."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import Spectrum
from xlcalc.standards.loader import Limit, Origin, column_number, read_table, weakest
from xlcalc.standards.verdict import within


class Winding(StrEnum):
    """Conductor of the windings, for the European factor K."""

    WIRE = "wire"
    FOIL = "foil"


def stray_loss_factor(current: Spectrum) -> float:
    """Harmonic loss factor of the other stray losses: ``sum(I_h^2 h^0.8) / sum(I_h^2)`` (IEEE C57.110).

    Parameters
    ----------
    current : Spectrum
        Load current in any unit.

    Raises
    ------
    InputError
        The spectrum is all zero.

    Examples
    --------
    One ampere each of the fundamental and of order 32, where h^0.8 is 16:

    >>> round(stray_loss_factor(Spectrum.from_orders([(1, 1.0), (32, 1.0)])), 9)
    8.5
    """
    return _loss_factor(current, _exponent("stray").value)


def permitted_dry(current: Spectrum, eddy_pu: float) -> Limit:
    """Permitted rms current of a dry-type transformer: ``sqrt((1 + P) / (1 + F_HL P))`` (IEEE C57.110).

    Parameters
    ----------
    current : Spectrum
        Load current in any unit; only its shape counts.
    eddy_pu : float
        Winding eddy-current loss at rated current and rated frequency, per unit of the ohmic loss, at the
        hottest spot; 0 to 10.

    Returns
    -------
    Limit
        Percent of the rated current, rms of all orders; at most 100.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    The example spectrum of IEEE C57.110 (recalled; result computed):

    >>> pairs = [(1, 0.978), (5, 0.171), (7, 0.108), (11, 0.044), (13, 0.028), (17, 0.015), (19, 0.0098)]
    >>> round(permitted_dry(Spectrum.from_orders(pairs), 0.15).value, 2)
    90.35
    """
    eddy = number("eddy_pu", eddy_pu, least=0, most=10)
    permitted = math.sqrt((1.0 + eddy) / (1.0 + _eddy_factor(current) * eddy))
    return Limit(100.0 * permitted, weakest(_exponent("load loss").origin, [_exponent("eddy").origin]))


@dataclass(frozen=True)
class LiquidTransformer:
    """A liquid-filled transformer; losses per unit of its ohmic winding loss at rated current.

    Parameters
    ----------
    eddy_pu : float
        Winding eddy-current loss at rated current, 0 to 10.
    stray_pu : float
        Other stray loss (tank, clamps, structure) at rated current, 0 to 10.
    no_load_pu : float
        No-load loss, 0 to 10.
    top_oil_k, gradient_k : float
        Rated rise of the top oil over ambient and of the winding over the top oil, above 0 to 150 K.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    eddy_pu: float
    stray_pu: float
    no_load_pu: float
    top_oil_k: float
    gradient_k: float

    def __post_init__(self) -> None:
        for name in ("eddy_pu", "stray_pu", "no_load_pu"):
            number(name, getattr(self, name), least=0, most=10)
        for name in ("top_oil_k", "gradient_k"):
            number(name, getattr(self, name), unit="K", above=0, most=150)

    def load_loss(self, current: Spectrum, load_pu: float) -> float:
        """Load loss per unit of the rated ohmic loss: ``I^2 (1 + F_HL P_EC + F_HL-STR P_OSL)``."""
        eddy = _eddy_factor(current) * self.eddy_pu
        return load_pu**2 * (1.0 + eddy + stray_loss_factor(current) * self.stray_pu)

    def top_oil_rise(self, current: Spectrum, load_pu: float) -> float:
        """Rise of the top oil over ambient, K, at an rms current of `load_pu` times rated.

        Rated rise times ``((P_LL + P_NL) / (P_LL-R + P_NL))^0.8``.
        """
        rated = 1.0 + self.eddy_pu + self.stray_pu + self.no_load_pu
        ratio = (self.load_loss(current, load_pu) + self.no_load_pu) / rated
        return self.top_oil_k * math.pow(ratio, _exponent("oil").value)

    def winding_gradient(self, current: Spectrum, load_pu: float) -> float:
        """Rise of the winding over the top oil, K: rated rise times ``(winding loss / rated)^0.8``."""
        loss = load_pu**2 * (1.0 + _eddy_factor(current) * self.eddy_pu)
        return self.gradient_k * math.pow(loss / (1.0 + self.eddy_pu), _exponent("winding").value)


def permitted_liquid(transformer: LiquidTransformer, current: Spectrum) -> Limit:
    """Permitted rms current of a liquid-filled transformer by the temperature rises of IEEE C57.110.

    The largest current at which neither the top oil nor the winding (both rises together) is warmer than at
    rated sinusoidal load.

    Parameters
    ----------
    transformer : LiquidTransformer
        Losses and rated rises.
    current : Spectrum
        Load current in any unit; only its shape counts.

    Returns
    -------
    Limit
        Percent of the rated current, rms of all orders; at most 100.

    Raises
    ------
    InputError
        The spectrum is all zero.

    Examples
    --------
    A sine may load the transformer fully:

    >>> oil = LiquidTransformer(0.1, 0.1, 0.3, 55, 25)
    >>> round(permitted_liquid(oil, Spectrum.from_orders([(1, 1.0)])).value, 6)
    100.0
    """
    from scipy.optimize import brentq

    rated_rise = transformer.top_oil_k + transformer.gradient_k

    def excess(load_pu: float) -> float:
        oil = transformer.top_oil_rise(current, load_pu)
        return oil + transformer.winding_gradient(current, load_pu) - rated_rise

    full = 1.0 + transformer.eddy_pu + transformer.stray_pu
    by_oil = math.sqrt(full / transformer.load_loss(current, 1.0))
    by_winding = 1.0 if excess(1.0) <= 0.0 else float(brentq(excess, 0.0, 1.0, xtol=1e-12))
    parts = [_exponent(name).origin for name in ("eddy", "stray", "oil", "winding")]
    return Limit(100.0 * min(by_oil, by_winding), weakest(_exponent("load loss").origin, parts))


def added_load_watts(
    current_amps: Spectrum, rated_amps: float, ohmic_watts: float, eddy_pu: float, stray_pu: float = 0.0
) -> float:
    """Load loss that the harmonics add to that of the fundamental alone, W.

    ``P_R sum over h >= 2 of (I_h / I_R)^2 (1 + P_EC h^2 + P_OSL h^0.8)``, the separation of losses of
    IEEE C57.110.

    Parameters
    ----------
    current_amps : Spectrum
        Load current, A.
    rated_amps : float
        Rated current on the same side, above 0 A.
    ohmic_watts : float
        Ohmic loss of both windings at rated current, three phases, 0 W or more.
    eddy_pu, stray_pu : float
        Winding eddy-current and other stray loss at rated current per unit of the ohmic loss, 0 to 10.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    20 % of order 5, 10 % eddy loss: 1000 W x 0.04 x (1 + 0.1 x 25) = 140 W, by hand

    >>> round(added_load_watts(Spectrum.from_orders([(1, 100.0), (5, 20.0)]), 100.0, 1000.0, 0.1), 9)
    140.0
    """
    rated = number("rated_amps", rated_amps, unit="A", above=0)
    ohmic = number("ohmic_watts", ohmic_watts, unit="W", least=0)
    eddy = number("eddy_pu", eddy_pu, least=0, most=10)
    stray = number("stray_pu", stray_pu, least=0, most=10)
    h = current_amps.orders[1:].astype(float)
    growth = 1.0 + eddy * h ** _exponent("eddy").value + stray * h ** _exponent("stray").value
    return ohmic * float(np.sum((current_amps.magnitude[1:] / rated) ** 2 * growth))


def european_factor_k(current: Spectrum, eddy_ratio: float, winding: Winding = Winding.WIRE) -> Limit:
    """European factor K: rated over permitted rms current, not the K-factor of UL 1561.

    ``K = sqrt(1 + e/(1+e) (I_1/I)^2 sum over n >= 2 of n^q (I_n/I_1)^2)``.

    Parameters
    ----------
    current : Spectrum
        Load current in any unit.
    eddy_ratio : float
        e, eddy loss over ohmic loss at rated fundamental current, 0 to 10.
    winding : Winding
        Exponent q: 1.7 for round or rectangular wire, 1.5 for foil.

    Returns
    -------
    Limit
        1 or more, without unit. The transformer carries 1/K of its rated current.

    Raises
    ------
    InputError
        An argument is outside its range, or the spectrum is all zero.

    Examples
    --------
    Six-pulse currents 1/h up to order 13, 10 % eddy loss, foil: K^2 = 1 + (0.1/1.1) 1.4040 / 1.0746, by hand

    >>> pairs = [(h, 1.0 / h) for h in (1, 5, 7, 11, 13)]
    >>> round(european_factor_k(Spectrum.from_orders(pairs), 0.1, Winding.FOIL).value, 3)
    1.058
    """
    e = number("eddy_ratio", eddy_ratio, least=0, most=10)
    exponent = _exponent(Winding(winding).value)
    total = _checked_square_sum(current)
    n = current.orders[1:].astype(float)
    weighted = float(np.sum(n**exponent.value * current.magnitude[1:] ** 2))
    return Limit(math.sqrt(1.0 + e / (1.0 + e) * weighted / total), exponent.origin, "")


def k_rating(k_factor: float) -> Limit:
    """The smallest standard K rating that covers a K-factor (UL 1561).

    Parameters
    ----------
    k_factor : float
        0 or more.

    Raises
    ------
    InputError
        A negative K-factor.
    NoSolutionError
        Above the largest standard rating.

    Examples
    --------
    >>> k_rating(8.35).value
    9.0
    """
    k = number("k_factor", k_factor, least=0)
    rows = sorted(read_table("transformer_k_ratings"), key=lambda row: column_number(row, "k_rating"))
    for row in rows:
        rating = column_number(row, "k_rating")
        if within(k, rating):
            return Limit(rating, Origin.of_row(row), "")
    raise NoSolutionError(f"a K-factor of {k:.4g} is above the largest standard rating, {rating:g}")


def _eddy_factor(current: Spectrum) -> float:
    return _loss_factor(current, _exponent("eddy").value)


def _loss_factor(current: Spectrum, exponent: float) -> float:
    total = _checked_square_sum(current)
    return float(np.sum(current.magnitude**2 * current.orders.astype(float) ** exponent)) / total


def _checked_square_sum(current: Spectrum) -> float:
    total = float(np.sum(current.magnitude**2))
    if total == 0.0:
        raise InputError("current", "all zero", "at least one order above zero")
    return total


@cache
def _exponent(name: str) -> Limit:
    """Exponent whose quantity starts with `name`."""
    row = next(row for row in read_table("transformer_loading") if row["quantity"].startswith(name))
    return Limit(column_number(row, "value"), Origin.of_row(row), "")
