"""Generators that feed converters: voltage distortion on the subtransient reactance, heating of the rotor."""

from __future__ import annotations

import math

import numpy as np

from xlcalc.checks import number
from xlcalc.spectrum import Spectrum


def generator_voltage(current_amps: Spectrum, rated_amps: float, subtransient_pu: float) -> Spectrum:
    """Harmonic voltage of a generator: ``V_h = h X''d I_h``, per unit of its rated voltage.

    Textbook relation; resistance and saliency are left out, and the fundamental of the result is 1.

    Parameters
    ----------
    current_amps : Spectrum
        Current of the generator, A.
    rated_amps : float
        Its rated current, above 0 A.
    subtransient_pu : float
        Subtransient reactance X''d on the generator's rating, above 0 to 1.

    Returns
    -------
    Spectrum
        Per unit. Angles against the EMF where those of the current are.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    5th of 0.0875 per unit on 15 %: 6.56 % (constructed case, by hand)

    >>> volts = generator_voltage(Spectrum.from_orders([(1, 50.0), (5, 8.75)]), 100.0, 0.15)
    >>> round(volts.thd_pct, 2)
    6.56
    """
    rated = number("rated_amps", rated_amps, unit="A", above=0)
    reactance = number("subtransient_pu", subtransient_pu, above=0, most=1)
    drop = -1j * current_amps.orders * reactance * current_amps.phasors / rated
    drop[0] = 1.0
    return Spectrum(drop)


def negative_sequence_equivalent(
    current_amps: Spectrum, rated_amps: float, negative_sequence_amps: float = 0.0
) -> float:
    """Negative-sequence fundamental that heats the rotor surface as the harmonics do, percent of rated.

    ``I_2eq = sqrt(I_2^2 + sum of sqrt(n/2) I_h^2)``, where n is the order at which the rotor sees a harmonic:
    h + 1 for the negative sequence (h = 3k - 1), h - 1 for the positive one (h = 3k + 1); triplens have no
    rotating field. The loss of a solid rotor grows with the square of the current and the root of the
    frequency, and the negative sequence is seen at n = 2. Textbook relation; its form is also recalled from
    IEEE C50.13 (no text read).

    Parameters
    ----------
    current_amps : Spectrum
        Current of the generator, A; balanced, natural sequence.
    rated_amps : float
        Rated current, above 0 A.
    negative_sequence_amps : float
        Fundamental negative-sequence current, 0 A or more.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    10 % each of order 5 and 7, both seen at order 6: sqrt(2 x 0.01 x sqrt3), by hand

    >>> amps = Spectrum.from_orders([(1, 100.0), (5, 10.0), (7, 10.0)])
    >>> round(negative_sequence_equivalent(amps, 100.0), 3)
    18.612
    """
    rated = number("rated_amps", rated_amps, unit="A", above=0)
    unbalance = number("negative_sequence_amps", negative_sequence_amps, unit="A", least=0)
    h = current_amps.orders[1:]
    seen = np.where(h % 3 == 2, h + 1, np.where(h % 3 == 1, h - 1, 0))
    squares = float(np.sum(np.sqrt(seen / 2.0) * current_amps.magnitude[1:] ** 2))
    return 100.0 * math.sqrt(unbalance**2 + squares) / rated
