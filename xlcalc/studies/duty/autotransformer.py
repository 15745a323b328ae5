"""The autotransformer ahead of the bridges of a multi-pulse drive: its windings and its share of the kVA.

Each leg has a main winding between two lines (delta) and short windings. An output phase reaches from its
line terminal over two short windings on two legs, so that its voltage keeps its size at any angle. The zero
sequence of each bridge is taken as blocked.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.rectifier.result import FloatArray, SteadyState

ComplexArray = npt.NDArray[np.complex128]

MOST_SHIFT_DEG = 60.0

_LEGS = tuple(math.sqrt(3.0) * cmath.exp(1j * math.radians(angle)) for angle in (30.0, -90.0, 150.0))
"""Voltages of the main windings ab, bc and ca in phase voltages."""


def short_windings(shift_deg: float) -> FloatArray:
    """Turns of the short windings of one output, in turns of a main winding.

    Parameters
    ----------
    shift_deg : float
        Angle by which the output leads, -60 to 60 degrees.

    Returns
    -------
    array, shape (3, 3)
        By output phase a, b, c and leg ab, bc, ca; with the sign of the leg's voltage, away from the line.

    Raises
    ------
    InputError
        An angle outside its range.

    Examples
    --------
    The output is as large as the supply:

    >>> turns = short_windings(20.0)
    >>> leg = np.sqrt(3.0) * np.exp(1j * np.radians([30.0, -90.0, 150.0]))
    >>> output = 1.0 + turns[0] @ leg
    >>> round(float(abs(output)), 12), round(math.degrees(np.angle(output)), 9)
    (1.0, 20.0)
    """
    if not abs(shift_deg) <= MOST_SHIFT_DEG:
        raise InputError(
            "phase shift deg", shift_deg, "bridges within -60 to 60 degrees on an autotransformer"
        )
    wanted = cmath.exp(1j * math.radians(shift_deg)) - 1.0
    second = 2 if shift_deg > 0.0 else 0
    across, along = _LEGS[1], _LEGS[second]
    matrix = np.array([[across.real, along.real], [across.imag, along.imag]])
    turns = np.zeros(3)
    turns[[1, second]] = np.linalg.solve(matrix, [wanted.real, wanted.imag])
    return np.array([np.roll(turns, phase) for phase in range(3)])


def main_currents(turns: FloatArray, outputs: ComplexArray) -> ComplexArray:
    """Currents of the main windings that balance the ampere-turns of their legs.

    Parameters
    ----------
    turns : array, shape (outputs, 3, 3)
        As `short_windings`.
    outputs : array of complex, shape (outputs, 3, orders)
        Currents of the outputs by phase and order.

    Returns
    -------
    array of complex, shape (3, orders)
        Of ab, bc, ca, from the first line to the second.
    """
    return np.asarray(np.einsum("kpl,kph->lh", turns, outputs), np.complex128)


def equivalent_share(turns: FloatArray, volts: float, output_rms: FloatArray, main_rms: FloatArray) -> float:
    """Half the sum of volts times amperes of all windings, VA: the rating of an isolating core of its size.

    Parameters
    ----------
    turns : array, shape (outputs, 3, 3)
    volts : float
        Line to line, V.
    output_rms : array, shape (outputs, 3)
        A rms of the output phases.
    main_rms : array, shape (3,)
        A rms of the main windings.

    Examples
    --------
    Smooth direct current of 1 A, one short winding per output at 15 degrees either way: blocks of 0.5 A over
    120 degrees in the short windings, their differences of 0.5 A over 4 times 30 degrees in the main ones; by
    hand 18.34 % of the direct power at 1.35 / cos 15 V per volt, as Choi, Enjeti and Pitel published in 1996
    (from memory).

    >>> turn = math.tan(math.radians(15.0)) / math.sqrt(3.0)
    >>> turns = np.array([np.roll(np.eye(3) * sign * turn, 1, axis=1) for sign in (1.0, -1.0)])
    >>> main = np.full(3, turn * 0.5 * math.sqrt(4 * 30 / 360))
    >>> va = equivalent_share(turns, 1.0, np.full((2, 3), 0.5 * math.sqrt(2.0 / 3.0)), main)
    >>> round(100.0 * va / (3.0 * math.sqrt(2.0) / math.pi / math.cos(math.radians(15.0))), 2)
    18.34
    """
    short = np.einsum("kpl,kp->", np.abs(turns), output_rms)
    return float(volts * (short + np.sum(main_rms)) / 2.0)


def share_pct(state: SteadyState) -> float:
    """Equivalent rating of the autotransformer ahead of a solved drive, percent of its DC-link power.

    Parameters
    ----------
    state : SteadyState
        Of bridges whose phase shifts lie within -60 and 60 degrees.

    Raises
    ------
    InputError
        An angle outside that, or no phase shift at all.
    """
    turns = np.array([short_windings(bridge.shift_deg) for bridge in state.circuit.bridges])
    if not turns.any():
        raise InputError("phase shift deg", 0.0, "an angle other than 0 at 6 pulses: nothing to transform")
    main = np.linalg.norm(main_currents(turns, state.bridge_phasors), axis=1)
    return (
        100.0 * equivalent_share(turns, state.circuit.supply.volts, state.bridge_rms, main) / state.dc_watts
    )
