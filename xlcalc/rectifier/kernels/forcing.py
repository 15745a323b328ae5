"""Small changes of the source EMF that the variational equation carries, and their Fourier integrals."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import ORDER, RESPONSE_ABSCISSA, RESPONSE_NODES, RESPONSE_WEIGHT


class Forcing(NamedTuple):
    """The last columns of the derivative of the state are driven, one by each change."""

    order: Any  # (f,) order of each change
    emf: Any  # (f, 2) complex: its peak space-vector components, the time origin at angle zero
    wanted: Any  # (h,) orders of the integrals
    integral: (
        Any  # (2, h, 2, directions): of the line current's space vector times exp(-j h theta), re and im
    )
    turn: Any  # (RESPONSE_NODES, h) complex: scratch


@kernel
def expand_forcing(wk: Record, forcing: Record, first: int, width: int, theta: float) -> None:
    """Taylor coefficients about `theta` of the changes from `first` on; zero for a direction not driven."""
    for i in range(width):
        f = first + i
        if f < 0:
            for n in range(ORDER + 1):
                wk.demf[0, n, i] = 0.0
                wk.demf[1, n, i] = 0.0
            continue
        order = forcing.order[f]
        turn = np.exp(1j * order * theta)
        a = forcing.emf[f, 0] * turn
        b = forcing.emf[f, 1] * turn
        for n in range(ORDER + 1):
            wk.demf[0, n, i] = a.real
            wk.demf[1, n, i] = b.real
            factor = 1j * (order / (n + 1.0))
            a *= factor
            b *= factor


@kernel
def inner_derivative(net: Record, forcing: Record, phi: Array, c: int, i: int, angle: float) -> float:
    """Derivative of the voltage behind the partial fractions in axis `i`, direction `c`, at an angle."""
    value: float = -_term_derivative(net, phi, c, i)
    f = c - phi.shape[1] + forcing.order.size
    if f >= 0:
        value += (forcing.emf[f, i] * np.exp(1j * forcing.order[f] * angle)).real
    return value


@kernel
def _term_derivative(net: Record, phi: Array, c: int, i: int) -> float:
    """Derivative of the voltage across the terms in axis `i`, direction `c`."""
    first = phi.shape[0] - 4 * net.terms
    value = 0.0
    for s in range(net.terms):
        value += 2.0 * phi[first + 4 * s + 2 * i, c]
    return value


@kernel
def prepare_integrals(forcing: Record, theta: float, length: float) -> None:
    """Weighted turns of all orders at the nodes of a step."""
    for node in range(RESPONSE_NODES):
        t = length * RESPONSE_ABSCISSA[node]
        weight = length * RESPONSE_WEIGHT[node]
        for k in range(forcing.wanted.size):
            forcing.turn[node, k] = weight * np.exp(-1j * forcing.wanted[k] * (theta + t))


@kernel
def add_integrals(wk: Record, m: int, first: int, width: int, length: float, forcing: Record) -> None:
    """Add a step of a block of directions, whose series stand in `wk.dq`."""
    for node in range(RESPONSE_NODES):
        t = length * RESPONSE_ABSCISSA[node]
        for axis in range(2):
            for i in range(width):
                wk.line[node, axis, i] = 0.0
        for p in range(m):
            for i in range(width):
                wk.total[i] = wk.dq[ORDER, p, i]
            for n in range(ORDER - 1, -1, -1):
                for i in range(width):
                    wk.total[i] = wk.total[i] * t + wk.dq[n, p, i]
            for axis in range(2):
                for i in range(width):
                    wk.line[node, axis, i] += wk.loop_vector[p, axis] * wk.total[i]
    for axis in range(2):
        for k in range(forcing.wanted.size):
            for node in range(RESPONSE_NODES):
                turn = forcing.turn[node, k]
                for i in range(width):
                    forcing.integral[axis, k, 0, first + i] += turn.real * wk.line[node, axis, i]
                    forcing.integral[axis, k, 1, first + i] += turn.imag * wk.line[node, axis, i]
