"""Symmetrical components by order, and the turn that transformer phase shifts give them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from xlcalc.spectrum import ComplexArray

_A = np.exp(2j * np.pi / 3)
_TO_SEQUENCE = np.array([[1, 1, 1], [1, _A, _A**2], [1, _A**2, _A]]) / 3.0
_TO_PHASES = np.array([[1, 1, 1], [1, _A**2, _A], [1, _A, _A**2]])


def components(phases: ComplexArray) -> ComplexArray:
    """Zero, positive and negative sequence of phases a, b, c; both of shape (..., 3, n)."""
    return np.asarray(_TO_SEQUENCE @ phases, dtype=np.complex128)


def phases_of(sequences: ComplexArray) -> ComplexArray:
    """Phases a, b, c of zero, positive and negative sequence; both of shape (..., 3, n)."""
    return np.asarray(_TO_PHASES @ sequences, dtype=np.complex128)


def natural_sequence(order: int) -> int:
    """Sequence of an order in a balanced system: 1 for h = 3k + 1, -1 for h = 3k - 1, 0 for h = 3k.

    Examples
    --------
    >>> [natural_sequence(h) for h in (1, 2, 3, 5, 7)]
    [1, -1, 0, -1, 1]
    """
    return (0, 1, -1)[order % 3]


def to_common_frame(phases: ComplexArray, shift_deg: float) -> ComplexArray:
    """Line currents of a load as seen from a bus whose voltage lags the load's by `shift_deg`.

    The load's angles are against its own voltage. Two turns meet: the whole waveform is earlier by the shift
    (order h turns by ``h shift``), and the transformer turns the positive sequence back by the shift, the
    negative sequence forward by it. A zero sequence does not pass: three-wire loads have none. So the 5th and
    7th of two equal groups 30 degrees apart meet in opposition, the 11th and 13th in phase.

    Parameters
    ----------
    phases : array of complex, shape (..., 3, n)
        Orders 1..n of phases a, b, c.
    shift_deg : float
        Angle by which the load's voltage leads that of the bus (positive sequence).

    Returns
    -------
    array of complex, shape (..., 3, n)

    Examples
    --------
    >>> one = np.zeros((3, 7), dtype=complex)
    >>> one[:, 4] = np.exp(-2j * np.pi / 3 * 5 * np.arange(3))
    >>> one[:, 6] = np.exp(-2j * np.pi / 3 * 7 * np.arange(3))
    >>> to_common_frame(one, 30.0)[0, [4, 6]].real.round(6).tolist()
    [-1.0, -1.0]
    """
    orders = np.arange(1, phases.shape[-1] + 1)
    sequences = components(phases)
    sequences[..., 0, :] = 0.0
    sequences[..., 1, :] *= frame_turn(orders, 1, shift_deg)
    sequences[..., 2, :] *= frame_turn(orders, -1, shift_deg)
    return phases_of(sequences)


def frame_turn(orders: npt.ArrayLike, sequence: int, shift_deg: float) -> ComplexArray:
    """``exp(j (h - s) shift)``: from a load's frame to that of a bus whose voltage lags by `shift_deg`."""
    turn = (np.asarray(orders) - sequence) * np.radians(shift_deg)
    return np.asarray(np.exp(1j * turn), dtype=np.complex128)
