"""Integrals of the Taylor polynomials: Fourier coefficients, rms, means, extremes, losses."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import (
    ABSCISSA,
    CAPACITOR_SQUARE,
    DC_POWER,
    DC_VOLTS,
    LINE_SQUARE,
    LOSS,
    NODES,
    ORDER,
    SOURCE_POWER,
    TERMINAL_SQUARE,
    WEIGHT,
)
from xlcalc.rectifier.kernels.series import polynomial

SQRT3_2 = float(np.sqrt(0.75))


class Tally(NamedTuple):
    """Integrals over the angle; divide by the span for the mean."""

    order: Any  # (n,) orders wanted
    current: Any  # (bridges, 3, n) complex: integral of i exp(-j h theta), each bridge's own phases
    square: Any  # (bridges, 3): of i^2
    mean: Any  # (MEANS,)
    extreme: Any  # (2 + bridges * 3,): lowest and highest bus voltage, peak current of each bridge phase
    sample: Any  # (count, 5 + bridges), see `_sample`; count 0 = none


@kernel
def accumulate(
    net: Record, wk: Record, mask: Array, m: int, theta: float, length: float, tally: Record
) -> None:
    """Add one Taylor step of the given length."""
    bridges = mask.size
    own = wk.own
    for node in range(NODES):
        t = length * ABSCISSA[node]
        weight = length * WEIGHT[node]
        for k in range(bridges):
            a = polynomial(wk.ib[k, 0], t)
            b = polynomial(wk.ib[k, 1], t)
            for x in range(3):
                current = net.axis[k, x, 0] * a + net.axis[k, x, 1] * b
                own[k, x] = current
                tally.square[k, x] += weight * current * current
                tally.extreme[2 + 3 * k + x] = max(tally.extreme[2 + 3 * k + x], abs(current))
        _fourier(theta + t, weight, bridges, own, tally)
        _means(net, wk, mask, m, t, weight, tally)
    _sample(net, wk, mask, theta, length, tally)


@kernel
def _fourier(angle: float, weight: float, bridges: int, own: Array, tally: Record) -> None:
    turn = np.exp(-1j * angle)
    square = turn * turn
    power = weight * turn
    order = 1
    for i in range(tally.order.size):
        gap = tally.order[i] - order
        while gap >= 2:
            power *= square
            gap -= 2
        if gap == 1:
            power *= turn
        order = tally.order[i]
        for k in range(bridges):
            if own[k, 0] == 0.0 and own[k, 1] == 0.0:
                continue
            tally.current[k, 0, i] += power * own[k, 0]
            tally.current[k, 1, i] += power * own[k, 1]
            tally.current[k, 2, i] += power * own[k, 2]


@kernel
def _means(net: Record, wk: Record, mask: Array, m: int, t: float, weight: float, tally: Record) -> None:
    ia = polynomial(wk.it[0], t)
    ib = polynomial(wk.it[1], t)
    da = 0.0
    db = 0.0
    for n in range(ORDER, 0, -1):
        da = da * t + n * wk.it[0, n]
        db = db * t + n * wk.it[1, n]
    ea = polynomial(wk.emf[0], t)
    eb = polynomial(wk.emf[1], t)
    na = polynomial(wk.inner[0], t)
    nb = polynomial(wk.inner[1], t)
    ta = na - net.xt * da - net.rt * ia
    tb = nb - net.xt * db - net.rt * ib
    for x in range(3):
        ca = 1.0 if x == 0 else -0.5
        cb = 0.0 if x == 0 else (SQRT3_2 if x == 1 else -SQRT3_2)
        tally.mean[LINE_SQUARE + x] += weight * (ca * ia + cb * ib) ** 2
        tally.mean[TERMINAL_SQUARE + x] += weight * (ca * ta + cb * tb) ** 2
    volts = polynomial(wk.w, t)
    load = polynomial(wk.load, t)
    tally.mean[DC_VOLTS] += weight * volts
    tally.mean[DC_POWER] += weight * volts * load
    tally.mean[SOURCE_POWER] += weight * 1.5 * (ea * ia + eb * ib)
    loss = 1.5 * (net.rs * (ia * ia + ib * ib) + (ea - na) * ia + (eb - nb) * ib)
    dc = 0.0
    for k in range(mask.size):
        if mask[k] == 0:
            continue
        total = 0.0
        low = 0.0
        for p in range(m):
            if wk.loop_bridge[p] != k:
                continue
            current = wk.q[ORDER, p]
            for n in range(ORDER - 1, -1, -1):
                current = current * t + wk.q[n, p]
            loss += net.rd * current * current
            low += wk.loop_sign[p] * current
            if wk.loop_sign[p] > 0:
                total += current
        loss += net.rd * low * low + 2.0 * net.drop * total + net.bridge[k, 3] * total * total
        a = polynomial(wk.ib[k, 0], t)
        b = polynomial(wk.ib[k, 1], t)
        loss += 1.5 * net.bridge[k, 1] * (a * a + b * b)
        dc += total
    capacitor_square = (dc - load) ** 2
    loss += net.esr * capacitor_square
    tally.mean[CAPACITOR_SQUARE] += weight * capacitor_square
    tally.mean[LOSS] += weight * loss
    tally.extreme[0] = min(tally.extreme[0], volts)
    tally.extreme[1] = max(tally.extreme[1], volts)


@kernel
def _sample(net: Record, wk: Record, mask: Array, theta: float, length: float, tally: Record) -> None:
    """Fill the grid points inside this step.

    Columns: angle (given), line current a and b, terminal voltage a and b, conducting diodes of each bridge.
    """
    for i in range(tally.sample.shape[0]):
        t = tally.sample[i, 0] - theta
        if t < -1e-12 or t > length + 1e-12:
            continue
        for n in range(2):
            tally.sample[i, 1 + n] = polynomial(wk.it[n], t)
            slope = 0.0
            for r in range(ORDER, 0, -1):
                slope = slope * t + r * wk.it[n, r]
            tally.sample[i, 3 + n] = (
                polynomial(wk.inner[n], t) - net.xt * slope - net.rt * tally.sample[i, 1 + n]
            )
        for k in range(mask.size):
            tally.sample[i, 5 + k] = mask[k]
