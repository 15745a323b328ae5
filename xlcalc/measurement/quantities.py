"""Unbalance, powers and notches of a window, by the relations that the calculated values use too."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import ComplexArray, FloatArray, Spectrum
from xlcalc.equipment.notch import Notch, line_notches
from xlcalc.equipment.power import PhasePower, ThreePhasePower
from xlcalc.measurement.recording import CURRENT, VOLTAGE, Recording
from xlcalc.measurement.windows import Window
from xlcalc.network.sequence import components

NOTCH_THRESHOLD: Final = 0.05
"""Of the crest: smaller deviations are distortion and noise, no notch; common practice, no source."""
_SMOOTH_ORDERS: Final = 13
_TRIPLES: Final = (("a", "b", "c"), ("ab", "bc", "ca"))


def sequence_components(phasors: npt.ArrayLike) -> ComplexArray:
    """Zero, positive and negative sequence.

    Parameters
    ----------
    phasors : array of complex, shape (3,)
        rms phasors of phases a, b, c, or of ab, bc, ca.

    Raises
    ------
    InputError
        No three finite phasors.
    """
    found = np.asarray(phasors, dtype=np.complex128)
    if found.shape != (3,) or not np.all(np.isfinite(found)):
        raise InputError("phasors", "no three finite numbers", "the phasors of three phases")
    return components(found[:, None])[:, 0]


def unbalance_pct(phasors: npt.ArrayLike) -> float:
    """Negative over positive sequence, percent (IEC 61000-4-30).

    Raises
    ------
    InputError
        No three finite phasors.
    NoSolutionError
        There is no positive sequence, or less of it than of the negative: two phases are swapped.

    Examples
    --------
    Phases of 100, 100 and 90 V, 120 degrees apart: 10 / 290 (by hand)

    >>> a = np.exp(2j * np.pi / 3)
    >>> round(unbalance_pct([100.0, 100.0 / a, 90.0 * a]), 6)
    3.448276
    """
    _, positive, negative = np.abs(sequence_components(phasors))
    if not positive > negative:
        raise NoSolutionError(
            f"the positive sequence ({positive:.4g}) is not above the negative ({negative:.4g}): two phases "
            "are swapped, or there is no rotating voltage"
        )
    return float(100.0 * negative / positive)


def unbalance_of_magnitudes_pct(line_volts: npt.ArrayLike) -> float:
    """The same from the magnitudes of the three line-to-line voltages, which have no zero sequence.

    ``sqrt((1 - sqrt(3 - 6 b)) / (1 + sqrt(3 - 6 b)))`` with b the sum of the fourth powers over the square
    of the sum of the squares (IEC 61000-4-30; from memory, and identical to `unbalance_pct` by geometry).

    Raises
    ------
    InputError
        No three magnitudes of a closed triangle.
    """
    size = np.asarray(line_volts, dtype=float)
    if size.shape != (3,) or not np.all(np.isfinite(size)) or np.any(size <= 0.0):
        raise InputError("line_volts", "no three magnitudes", "three line-to-line voltages above 0 V")
    square = float(np.sum(size**2))
    rest = 3.0 - 6.0 * float(np.sum(size**4)) / square**2
    if rest < 0.0:
        raise InputError("line_volts", "no closed triangle", "three line-to-line voltages of one instant")
    root = min(1.0, math.sqrt(rest))
    return 100.0 * math.sqrt((1.0 - root) / (1.0 + root))


def triple(recording: Recording, quantity: str) -> tuple[int, int, int] | None:
    """Columns of the phases a, b, c of a quantity, else of ab, bc, ca; None where neither is complete."""
    for phases in _TRIPLES:
        found = [recording.index(quantity, phase) for phase in phases]
        if None not in found:
            a, b, c = (column for column in found if column is not None)
            return a, b, c
    return None


def phase_power(recording: Recording, window: Window, phase: str) -> PhasePower:
    """Powers of IEEE 1459 of one phase, with its true and displacement power factor.

    Raises
    ------
    InputError
        The recording lacks voltage or current of the phase, or the window lacks its samples.
    """
    return PhasePower(
        _spectrum(recording, window, VOLTAGE, phase), _spectrum(recording, window, CURRENT, phase)
    )


def three_phase_power(recording: Recording, window: Window, *, four_wire: bool) -> ThreePhasePower:
    """Powers of IEEE 1459 with the effective voltage and current of three phases.

    Raises
    ------
    InputError
        As `phase_power`, for any of the phases; or, with three wires, currents whose sum is not zero.
    """
    volts = [_spectrum(recording, window, VOLTAGE, phase) for phase in "abc"]
    amps = [_spectrum(recording, window, CURRENT, phase) for phase in "abc"]
    return ThreePhasePower((volts[0], volts[1], volts[2]), (amps[0], amps[1], amps[2]), four_wire=four_wire)


def _spectrum(recording: Recording, window: Window, quantity: str, phase: str) -> Spectrum:
    column = recording.index(quantity, phase)
    if column is None:
        raise InputError("phase", phase, f"a phase whose {quantity} was recorded")
    if not np.all(np.isfinite(window.lines[column])):
        where = f"{window.start_s:.3f} s to {window.start_s + window.cycles / window.hz:.3f} s"
        raise InputError("window", f"{where}, which lacks samples of {quantity} {phase}", "a complete window")
    return window.spectrum(column)


def measured_notches(
    line_volts: FloatArray,
    rate: float,
    hz: float,
    nominal_volts: float,
    threshold: float = NOTCH_THRESHOLD,
) -> tuple[Notch, ...]:
    """Notches in recorded line-to-line voltages.

    What would be there without notches is taken from the samples outside them: orders up to 13, fitted
    anew until the notches no longer change. A notch lasts as long as the deviation exceeds the threshold,
    so that its width, and its area, are known to a sample at either end.

    Parameters
    ----------
    line_volts : array of float, shape (3, n)
        Voltages ab, bc, ca, V: one cycle or more, of which whole cycles are used.
    rate, hz, nominal_volts : float
        Samples per second; Hz; nominal line-to-line rms voltage, V.
    threshold : float
        Of the crest of the nominal voltage, 0.01 to 0.5.

    Raises
    ------
    InputError
        Less than a cycle, missing samples, fewer than 100 samples in a cycle, or an argument outside its
        range.
    """
    crest = math.sqrt(2.0) * number("nominal_volts", nominal_volts, unit="V", above=0)
    least = number("threshold", threshold, least=0.01, most=0.5) * crest
    per_cycle = number("rate", rate, above=0) / number("hz", hz, unit="Hz", above=0)
    cycles = int(line_volts.shape[-1] / per_cycle + 1e-6)
    if line_volts.ndim != 2 or line_volts.shape[0] != 3 or cycles < 1 or per_cycle < 100:
        raise InputError(
            "line_volts", f"of shape {line_volts.shape}", "three rows of a cycle or more, 100 samples a cycle"
        )
    volts = line_volts[:, : round(cycles * per_cycle)]
    if not np.all(np.isfinite(volts)):
        raise InputError("line_volts", "with missing samples", "samples without a gap")
    smooth, deep = np.zeros_like(volts), np.zeros(volts.shape, bool)
    share = np.arange(volts.shape[1]) / per_cycle
    angle = 2.0 * np.pi * np.outer(share, np.arange(1, _SMOOTH_ORDERS + 1))
    basis = np.hstack([np.cos(angle), np.sin(angle)])
    for row in range(3):
        orders = 1
        for _ in range(20):
            kept = ~deep[row]
            columns = np.r_[0:orders, _SMOOTH_ORDERS : _SMOOTH_ORDERS + orders]
            found = np.linalg.lstsq(basis[kept][:, columns], volts[row, kept], rcond=None)[0]
            smooth[row] = basis[:, columns] @ found
            now = np.abs(volts[row] - smooth[row]) > least
            if orders == _SMOOTH_ORDERS and np.array_equal(now, deep[row]):
                break
            orders, deep[row] = min(orders + 2, _SMOOTH_ORDERS), now
    return line_notches(smooth, volts, deep, hz / cycles, nominal_volts)
