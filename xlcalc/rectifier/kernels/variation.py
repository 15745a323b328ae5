"""The variational equation: how a step changes with the state that it begins in, and with the EMF.

Directions are followed in blocks: column `i` of a block is direction `first + i` of the derivative.
"""

from __future__ import annotations

from xlcalc.rectifier.kernels.forcing import Forcing, add_integrals, expand_forcing, prepare_integrals
from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import BLOCK, DC, ORDER, SOURCE


@kernel
def prepare_variation(net: Record, wk: Record) -> None:
    """Series of dw/ds (bus voltage against the voltage behind the capacitor resistance) and d(load)/dw."""
    power = net.load_power
    if wk.w[0] < net.floor:
        power = 0.0
    k = 1.0 + net.esr * net.load_conductance
    for n in range(ORDER + 1):
        square = 0.0
        if power > 0.0:
            for i in range(n + 1):
                square += wk.inv[i] * wk.inv[n - i]
        wk.slope[n] = -power * square
        if net.esr > 0.0:
            total = wk.w[n]
            for i in range(1, n + 1):
                total -= (2.0 * k * wk.w[i] - wk.s[i]) * wk.gain[n - i]
            wk.gain[n] = total / (2.0 * k * wk.w[0] - wk.s[0])
    wk.slope[0] += net.load_conductance


@kernel
def advance_derivative(
    net: Record, wk: Record, forcing: Forcing, m: int, phi: Array, theta: float, length: float
) -> None:
    """Replace the derivative `phi` of the state at `theta` by the one after a step of the given length."""
    columns = phi.shape[1]
    integrated = forcing.wanted.size > 0 and m > 0
    if integrated:
        prepare_integrals(forcing, theta, length)
    undriven = columns - forcing.order.size
    for first in range(0, columns, BLOCK):
        width = min(BLOCK, columns - first)
        expand_forcing(wk, forcing, first - undriven, width, theta)
        _expand_variation(net, wk, m, phi, first, width)
        if integrated:
            add_integrals(wk, m, first, width, length, forcing)
        _at_end(net, wk, m, phi, first, width, length)


@kernel
def _expand_variation(net: Record, wk: Record, m: int, phi: Array, first: int, width: int) -> None:
    """Taylor coefficients of a block of directions, from its columns of `phi`.

    `wk.demf` drives it. Without a load of constant power `gain` and `slope` are constant over a step.
    """
    linear = net.load_power == 0.0 or wk.w[0] < net.floor
    for p in range(m):
        for i in range(width):
            wk.dq[0, p, i] = phi[wk.loop_diode[p], first + i]
    terms = phi.shape[0] - 4 * net.terms
    for i in range(width):
        wk.dv[0, i] = phi[terms - 1, first + i]
    for r in range(2 * net.terms):
        for i in range(width):
            wk.dterm[r, 0, i] = phi[terms + 2 * r, first + i] + 1j * phi[terms + 2 * r + 1, first + i]
    for n in range(ORDER + 1):
        for i in range(width):
            wk.ddc[i] = 0.0
        for p in range(m):
            if wk.loop_sign[p] > 0:
                for i in range(width):
                    wk.ddc[i] += wk.dq[n, p, i]
        _vary_bus(net, wk, n, first, width, linear)
        step = 1.0 / (n + 1.0)
        per_volt = step / net.susceptance
        for i in range(width):
            wk.dv[n + 1, i] = (wk.ddc[i] - wk.total[i]) * per_volt
        for axis in range(2):
            _vary_terms(net, wk, m, n, axis, width)
        for p in range(m):
            alpha = wk.g[SOURCE, p] * step
            beta = wk.g[SOURCE + 1, p] * step
            bus = wk.g[DC, p] * step
            for i in range(width):
                wk.dq[n + 1, p, i] = alpha * wk.lost[0, i] + beta * wk.lost[1, i] - bus * wk.dw[n, i]
            for q in range(m):
                by_loop = wk.g[q, p] * step
                for i in range(width):
                    wk.dq[n + 1, p, i] -= by_loop * wk.dq[n, q, i]


@kernel
def _vary_bus(net: Record, wk: Record, n: int, first: int, width: int, linear: bool) -> None:
    """Variation of the bus voltage at order `n`, and in `wk.total` of the load current."""
    if n == 0:
        for i in range(width):
            wk.total[i] = wk.dload[first + i]
    else:
        for i in range(width):
            wk.total[i] = 0.0
    if net.esr == 0.0:
        for i in range(width):
            wk.dw[n, i] = wk.dv[n, i]
    else:
        for i in range(width):
            wk.ds[n, i] = wk.dv[n, i] + net.esr * (wk.ddc[i] - wk.total[i])
            wk.dw[n, i] = wk.gain[0] * wk.ds[n, i]
        if not linear:
            for j in range(1, n + 1):
                for i in range(width):
                    wk.dw[n, i] += wk.gain[j] * wk.ds[n - j, i]
    for j in range(1 if linear else n + 1):
        for i in range(width):
            wk.total[i] += wk.slope[j] * wk.dw[n - j, i]


@kernel
def _vary_terms(net: Record, wk: Record, m: int, n: int, axis: int, width: int) -> None:
    """Variation of the voltage behind the terms, in `wk.lost`; advances their states by one order."""
    for i in range(width):
        wk.lost[axis, i] = wk.demf[axis, n, i]
    if net.terms == 0:
        return
    for i in range(width):
        wk.line[0, axis, i] = 0.0
    for p in range(m):
        for i in range(width):
            wk.line[0, axis, i] += wk.loop_vector[p, axis] * wk.dq[n, p, i]
    step = 1.0 / (n + 1.0)
    for s in range(net.terms):
        for i in range(width):
            state = wk.dterm[2 * s + axis, n, i]
            wk.lost[axis, i] -= 2.0 * state.real
            grown = net.pole[s] * state + net.residue[s] * wk.line[0, axis, i]
            wk.dterm[2 * s + axis, n + 1, i] = grown * step


@kernel
def _at_end(net: Record, wk: Record, m: int, phi: Array, first: int, width: int, length: float) -> None:
    """Values of a block's series at the end of the step, into its columns of `phi`."""
    size = phi.shape[0] - 4 * net.terms - 1
    total = wk.total
    for r in range(size):
        for i in range(width):
            phi[r, first + i] = 0.0
    for p in range(m):
        for i in range(width):
            total[i] = wk.dq[ORDER, p, i]
        for n in range(ORDER - 1, -1, -1):
            for i in range(width):
                total[i] = total[i] * length + wk.dq[n, p, i]
        k = wk.loop_bridge[p]
        for i in range(width):
            phi[wk.loop_diode[p], first + i] = total[i]
            phi[6 * k + 3 + wk.lower[k], first + i] += wk.loop_sign[p] * total[i]
    for i in range(width):
        phi[size, first + i] = wk.dv[ORDER, i]
    for n in range(ORDER - 1, -1, -1):
        for i in range(width):
            phi[size, first + i] = phi[size, first + i] * length + wk.dv[n, i]
    if net.mean_power > 0.0:
        for i in range(width):
            total[i] = wk.dv[ORDER, i] / (ORDER + 1.0)
        for n in range(ORDER - 1, -1, -1):
            for i in range(width):
                total[i] = total[i] * length + wk.dv[n, i] / (n + 1.0)
        for i in range(width):
            wk.darea[first + i] += total[i] * length
    for r in range(2 * net.terms):
        for i in range(width):
            state = wk.dterm[r, ORDER, i]
            for n in range(ORDER - 1, -1, -1):
                state = state * length + wk.dterm[r, n, i]
            phi[size + 1 + 2 * r, first + i] = state.real
            phi[size + 2 + 2 * r, first + i] = state.imag
