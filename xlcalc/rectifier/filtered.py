"""What the supply sees of a front end behind a passive filter.

The kernels integrate the bridges behind the filter's equivalent; the currents ahead of it follow order by
order, because everything there is linear.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.rectifier.circuit import Circuit, emf_phasors
from xlcalc.rectifier.impedance import ComplexArray, FloatArray

TRACED = 4096
DRAWN_ORDERS = 400
INSTANT = 1e9  # order at which only the inductances are left


def shunt_share(circuit: Circuit, orders: npt.NDArray[Any]) -> ComplexArray:
    """Voltage of the open filter output per unit of the EMF; 1 without a filter."""
    if circuit.filter is None:
        return np.ones(orders.shape, np.complex128)
    upstream, shunt = impedances(circuit, orders)
    return np.asarray(shunt / (upstream + shunt), np.complex128)


def line_phasors(circuit: Circuit, through: ComplexArray, emf: ComplexArray) -> ComplexArray:
    """Current ahead of the filter from that behind it and the EMF, all of shape (3, orders)."""
    upstream, shunt = impedances(circuit, np.arange(1, through.shape[1] + 1))
    driving = emf - np.mean(emf, axis=0)
    return np.asarray((driving + shunt * through) / (upstream + shunt), np.complex128)


def line_response(circuit: Circuit, through: ComplexArray, places: Sequence[tuple[int, int]]) -> ComplexArray:
    """Answer of the line current from that of the current behind the filter.

    Shape (2, places, 2, orders) as in `xlcalc.rectifier.response`.
    """
    if circuit.filter is None:
        return through
    orders = np.arange(1, through.shape[-1] + 1)
    upstream, shunt = impedances(circuit, orders)
    line = shunt / (upstream + shunt) * through
    for p, (order, sequence) in enumerate(places):
        if order <= orders.size:
            own = 1.0 / (upstream + shunt)[order - 1]
            line[0, p, 0 if sequence == 1 else 1, order - 1] += own
            line[1, p, 0 if sequence == 1 else 1, order - 1] += 1j * own
    return np.asarray(line, np.complex128)


def drawn(
    circuit: Circuit, fine: tuple[FloatArray, FloatArray], samples: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Line current and terminal voltage ahead of the filter, (3, count) each.

    From current and voltage at the shunt branch, at `TRACED` angles of the cycle and at the angles wanted.
    What passes in proportion, jumps and kinks too, is taken from the latter; only the remainder, which is
    smooth, from Fourier coefficients.
    """
    current, volts = (
        math.sqrt(2.0) / TRACED * np.fft.rfft(track, axis=1)[:, 1 : DRAWN_ORDERS + 1] for track in fine
    )
    emf = emf_phasors(circuit.supply, DRAWN_ORDERS)
    emf = emf - np.mean(emf, axis=0)
    orders = np.append(np.arange(1.0, DRAWN_ORDERS + 1), INSTANT)
    upstream, shunt = impedances(circuit, orders)
    through = shunt / (upstream + shunt)
    across = circuit.supply.impedance(orders) / upstream
    smooth_current = (through[:-1] - through[-1].real) * current + emf / (upstream + shunt)[:-1]
    smooth_volts = (across[:-1] - across[-1].real) * volts + (1.0 - across[:-1]) * emf
    count = samples[0].shape[1]
    return (
        through[-1].real * samples[0] + _samples(smooth_current, count),
        across[-1].real * samples[1] + _samples(smooth_volts, count),
    )


def _samples(phasors: ComplexArray, count: int) -> FloatArray:
    repeats = -(-2 * (DRAWN_ORDERS + 1) // count)
    size = count * repeats
    full = np.zeros((phasors.shape[0], size // 2 + 1), np.complex128)
    full[:, 1 : DRAWN_ORDERS + 1] = phasors
    return np.asarray(size / math.sqrt(2.0) * np.fft.irfft(full, size, axis=1)[:, ::repeats], float)


def impedances(circuit: Circuit, orders: npt.ArrayLike) -> tuple[ComplexArray, ComplexArray]:
    """Of everything ahead of the shunt branch, and of the branch, ohm."""
    if circuit.filter is None:
        raise InputError("filter", None, "a passive filter")
    s = 2j * math.pi * circuit.supply.hz * np.asarray(orders)
    return circuit.supply.impedance(orders) + circuit.filter.series.at(s), circuit.filter.shunt.at(s)
