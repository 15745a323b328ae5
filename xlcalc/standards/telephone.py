"""Telephone interference: the weights of 1960 by frequency, and the two figures formed with them."""

from __future__ import annotations

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.spectrum import FloatArray, Spectrum
from xlcalc.standards.loader import column_number, read_table

HIGHEST_HZ = 60.0
LOWEST_HZ = 50.0


def telephone_weights(hz: float, orders: int) -> FloatArray:
    """Weight of orders 1 to `orders`; between two tabulated frequencies on a straight line.

    Parameters
    ----------
    hz : float
        Fundamental frequency, 50 to 60 Hz.
    orders : int
        Highest order; 50 at most, where the table ends.

    Raises
    ------
    InputError
        A frequency outside its range.

    Examples
    --------
    1000 Hz is the 20th of 50 Hz; 5 f C with the message weight C = 1 there (definition; recalled)

    >>> float(telephone_weights(50.0, 20)[-1])
    5000.0
    """
    fundamental = number("hz", hz, unit="Hz", least=LOWEST_HZ, most=HIGHEST_HZ)
    rows = read_table("telephone_weights")
    table = np.array([[column_number(row, "hz"), column_number(row, "weight")] for row in rows])
    return np.asarray(np.interp(fundamental * np.arange(1, orders + 1), table[:, 0], table[:, 1]))


def weighted_amps(current_amps: Spectrum, hz: float = 60.0) -> float:
    """IT product: ``sqrt(sum (w_h I_h)^2)``, all orders and the fundamental, weighted A.

    Parameters
    ----------
    current_amps : Spectrum
        Current, A rms.
    hz : float
        Fundamental frequency, 50 to 60 Hz.

    Raises
    ------
    InputError
        A frequency outside its range.

    Examples
    --------
    5 A of the 5th and 3 A of the 7th at 60 Hz: sqrt((225 x 5)^2 + (650 x 3)^2), by hand

    >>> round(weighted_amps(Spectrum.from_orders([(5, 5.0), (7, 3.0)])), 1)
    2251.2
    """
    weights = telephone_weights(hz, current_amps.max_order)
    return float(np.linalg.norm(weights * current_amps.magnitude))


def influence_factor(spectrum: Spectrum, hz: float = 60.0) -> float:
    """Telephone influence factor: the weighted over the total rms value, for a voltage or a current.

    Parameters
    ----------
    spectrum : Spectrum
        Any unit.
    hz : float
        Fundamental frequency, 50 to 60 Hz.

    Raises
    ------
    InputError
        A frequency outside its range.

    Examples
    --------
    A fundamental of 60 Hz alone has its own weight

    >>> influence_factor(Spectrum.from_orders([(1, 100.0)]))
    0.5
    """
    return weighted_amps(spectrum, hz) / spectrum.rms
