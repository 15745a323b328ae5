"""Short-circuit arithmetic on levels in volt-amperes, and the parallel resonance of a capacitor bank."""

from __future__ import annotations

import math
from collections.abc import Iterable

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError


def transformer_level(rating_va: float, impedance_pct: float) -> float:
    """Short-circuit level behind a transformer on an infinite source: ``S / z``.

    Parameters
    ----------
    rating_va : float
        Rated power, above 0 VA.
    impedance_pct : float
        Impedance, above 0 to 50 %.

    Returns
    -------
    float
        Three-phase short-circuit level, VA.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    >>> round(transformer_level(1e6, 5.3) / 1e6, 3)
    18.868
    """
    rating = number("rating_va", rating_va, unit="VA", above=0)
    z = number("impedance_pct", impedance_pct, unit="%", above=0, most=50)
    return 100.0 * rating / z


def series_level(levels_va: Iterable[float]) -> float:
    """Short-circuit level of elements in series: ``1/S = sum of 1/S_i``.

    All elements count with one X/R ratio; the plant solution adds impedances as complex numbers.

    Parameters
    ----------
    levels_va : iterable of float
        Short-circuit levels, each above 0 VA, one or more.

    Raises
    ------
    InputError
        No level, or one outside its range.

    Examples
    --------
    >>> series_level([200e6, 50e6]) / 1e6
    40.0
    """
    levels = [number("levels_va", level, unit="VA", above=0) for level in levels_va]
    if not levels:
        raise InputError("levels_va", None, "one short-circuit level or more", wrong_kind=True)
    return 1.0 / sum(1.0 / level for level in levels)


def short_circuit_amps(level_va: float, volts: float) -> float:
    """Three-phase short-circuit current ``S / (sqrt3 V)``, A.

    Parameters
    ----------
    level_va : float
        Short-circuit level, above 0 VA.
    volts : float
        Line-to-line rms voltage, above 0 V.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    The utility of the IEEE PES 13-bus test system, 1000 MVA at 69 kV:

    >>> round(short_circuit_amps(1000e6, 69e3), 1)
    8367.4
    """
    level = number("level_va", level_va, unit="VA", above=0)
    return level / (math.sqrt(3.0) * number("volts", volts, unit="V", above=0))


def resonance_order(level_va: float, capacitor_var: float) -> float:
    """Order of the parallel resonance of a capacitor bank with the supply: ``sqrt(S_sc / Q_c)``.

    Parameters
    ----------
    level_va : float
        Short-circuit level at the bank, supply and transformer in series, above 0 VA.
    capacitor_var : float
        Rating of the bank, above 0 var.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    1000 kVA, 5.3 %, infinite source and 100 kvar (public worked example, printed 13.7):

    >>> round(resonance_order(transformer_level(1e6, 5.3), 100e3), 3)
    13.736
    """
    level = number("level_va", level_va, unit="VA", above=0)
    return math.sqrt(level / number("capacitor_var", capacitor_var, unit="var", above=0))
