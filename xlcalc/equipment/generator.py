"""Generators that feed converters: voltage distortion on the subtransient reactance, heating of the rotor."""

from __future__ import annotations

import math

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.spectrum import Spectrum


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

    ``I_2eq = sqrt(I_2^2 + sum of sqrt(n/2) (I_(n-1) + I_(n+1))^2)``, n = 6, 12, ... (3, 9, ... for even
    orders): the rotor sees the negative sequence of order h = n - 1 and the positive one of h = n + 1 both at
    order n, where they add, in phase at worst; triplens have no rotating field. The loss of a solid rotor
    grows with the square of the current and the root of the frequency, and the fundamental negative sequence
    is seen at n = 2. Textbook relation. Squares added one by one, as recalled of IEEE C50.13 (no text read),
    hold for angles at random and are never larger.

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
    10 % each of order 5 and 7, both seen at order 6: 0.2 x sqrt(sqrt 3), by hand

    >>> amps = Spectrum.from_orders([(1, 100.0), (5, 10.0), (7, 10.0)])
    >>> round(negative_sequence_equivalent(amps, 100.0), 3)
    26.321
    """
    rated = number("rated_amps", rated_amps, unit="A", above=0)
    unbalance = number("negative_sequence_amps", negative_sequence_amps, unit="A", least=0)
    h = current_amps.orders[1:]
    seen = np.where(h % 3 == 2, h + 1, np.where(h % 3 == 1, h - 1, 0))
    together = np.bincount(seen, weights=current_amps.magnitude[1:])
    squares = float(np.sum(np.sqrt(np.arange(together.size) / 2.0) * together**2))
    return 100.0 * math.sqrt(unbalance**2 + squares) / rated
