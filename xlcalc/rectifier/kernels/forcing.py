"""Small changes of the source EMF that the variational equation carries, and their Fourier integrals."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import NODES, ORDER
from xlcalc.rectifier.kernels.nodes import ABSCISSA, WEIGHT
from xlcalc.rectifier.kernels.series import term_derivative


class Forcing(NamedTuple):
    """The last columns of the derivative of the state are driven, one by each change."""

    order: Any  # (f,) order of each change
    emf: Any  # (f, 2) complex: its peak space-vector components, the time origin at angle zero
    wanted: Any  # (h,) orders of the integrals
    integral: Any  # (directions, 2, h) complex: of the line current's space vector times exp(-j h theta)
    turn: Any  # (NODES, h) complex: scratch


@kernel
def expand_forcing(wk: Record, forcing: Record, f: int, theta: float) -> None:
    """Taylor coefficients of change `f` about `theta`; zero for a direction that is not driven, f < 0."""
    if f < 0:
        for n in range(ORDER + 1):
            wk.demf[0, n] = 0.0
            wk.demf[1, n] = 0.0
        return
    order = forcing.order[f]
    turn = np.exp(1j * order * theta)
    a = forcing.emf[f, 0] * turn
    b = forcing.emf[f, 1] * turn
    for n in range(ORDER + 1):
        wk.demf[0, n] = a.real
        wk.demf[1, n] = b.real
        factor = 1j * (order / (n + 1.0))
        a *= factor
        b *= factor


@kernel
def inner_derivative(net: Record, forcing: Record, phi: Array, c: int, i: int, angle: float) -> float:
    """Derivative of the voltage behind the partial fractions in axis `i`, direction `c`, at an angle."""
    value: float = -term_derivative(net, phi, c, i)
    f = c - phi.shape[1] + forcing.order.size
    if f >= 0:
        value += (forcing.emf[f, i] * np.exp(1j * forcing.order[f] * angle)).real
    return value


@kernel
def prepare_integrals(forcing: Record, theta: float, length: float) -> None:
    """Weighted turns of all orders at the nodes of a step."""
    for node in range(NODES):
        t = length * ABSCISSA[node]
        weight = length * WEIGHT[node]
        for k in range(forcing.wanted.size):
            forcing.turn[node, k] = weight * np.exp(-1j * forcing.wanted[k] * (theta + t))


@kernel
def add_integrals(wk: Record, m: int, c: int, length: float, forcing: Record) -> None:
    """Add a step of direction `c`, whose series stands in `wk.dq`."""
    for node in range(NODES):
        t = length * ABSCISSA[node]
        a = 0.0
        b = 0.0
        for p in range(m):
            current = wk.dq[ORDER, p]
            for n in range(ORDER - 1, -1, -1):
                current = current * t + wk.dq[n, p]
            a += wk.loop_vector[p, 0] * current
            b += wk.loop_vector[p, 1] * current
        for k in range(forcing.wanted.size):
            forcing.integral[c, 0, k] += forcing.turn[node, k] * a
            forcing.integral[c, 1, k] += forcing.turn[node, k] * b
