"""The conducting set: its independent current loops and their differential equation."""

from __future__ import annotations

import numpy as np

from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import DC, SOURCE


@kernel
def build_mode(net: Record, mask: Array, wk: Record) -> int:
    """Fill the loop tables and matrices for the conducting set `mask`.

    Loops of a bridge: one per conducting upper diode through the first conducting lower diode, one per
    further lower diode. Each loop current equals the current of its own diode. Returns the number of loops,
    or -1 where the loop inductance is singular.
    """
    m = 0
    for k in range(mask.size):
        up = -1
        lo = -1
        for x in range(2, -1, -1):
            if mask[k] >> x & 1:
                up = x
            if mask[k] >> (3 + x) & 1:
                lo = x
        wk.upper[k] = up
        wk.lower[k] = lo
        if up < 0:
            continue
        for d in range(6):
            if not mask[k] >> d & 1 or d == 3 + lo:
                continue
            x = d % 3
            sign = 1.0 if d < 3 else -1.0
            wk.loop_diode[m] = 6 * k + d
            wk.loop_bridge[m] = k
            wk.loop_sign[m] = sign
            for i in range(2):
                wk.loop_vector[m, i] = sign * (2.0 / 3.0) * (net.axis[k, x, i] - net.axis[k, lo, i])
            m += 1
    if not _factor(net, wk, m):
        return -1
    for p in range(m):
        for q in range(m):
            wk.g[q, p] = _resistance(net, wk, p, q)
        wk.g[SOURCE, p] = 1.5 * wk.loop_vector[p, 0]
        wk.g[SOURCE + 1, p] = 1.5 * wk.loop_vector[p, 1]
        wk.g[DC, p] = 1.0 if wk.loop_sign[p] > 0 else 0.0
    _substitute(wk, m, 0, m)
    _substitute(wk, m, SOURCE, DC + 1)
    return m


@kernel
def _entry_value(wk: Record, p: int, q: int, shared: float, own: float, choke: float) -> float:
    dot = wk.loop_vector[p, 0] * wk.loop_vector[q, 0] + wk.loop_vector[p, 1] * wk.loop_vector[q, 1]
    value: float = 1.5 * shared * dot
    if wk.loop_bridge[p] == wk.loop_bridge[q]:
        value += 1.5 * own * dot
        if wk.loop_sign[p] > 0 and wk.loop_sign[q] > 0:
            value += choke
    return value


@kernel
def _resistance(net: Record, wk: Record, p: int, q: int) -> float:
    k = wk.loop_bridge[p]
    value = _entry_value(wk, p, q, net.rs, net.bridge[k, 1], net.bridge[k, 3])
    if k == wk.loop_bridge[q]:
        value += net.rd * wk.loop_sign[p] * wk.loop_sign[q]
        if p == q:
            value += net.rd
    return value


@kernel
def _factor(net: Record, wk: Record, m: int) -> bool:
    for p in range(m):
        k = wk.loop_bridge[p]
        for q in range(p + 1):
            value = _entry_value(wk, p, q, net.xs, net.bridge[k, 0], net.bridge[k, 2])
            pivot = value
            for r in range(q):
                value -= wk.chol[p, r] * wk.chol[q, r]
            if p == q:
                if value <= 1e-12 * pivot:
                    return False
                wk.chol[p, p] = np.sqrt(value)
            else:
                wk.chol[p, q] = value / wk.chol[q, q]
    return True


@kernel
def _substitute(wk: Record, m: int, first: int, last: int) -> None:
    chol = wk.chol
    rows = wk.g
    for c in range(first, last):
        for p in range(m):
            for r in range(p):
                rows[c, p] -= chol[p, r] * rows[c, r]
            rows[c, p] /= chol[p, p]
        for p in range(m - 1, -1, -1):
            for r in range(p + 1, m):
                rows[c, p] -= chol[r, p] * rows[c, r]
            rows[c, p] /= chol[p, p]


@kernel
def complete_currents(bridges: int, wk: Record, m: int, loop: Array, y: Array) -> None:
    """Diode currents `y` from loop currents `loop`."""
    for r in range(6 * bridges):
        y[r] = 0.0
    for p in range(m):
        k = wk.loop_bridge[p]
        y[wk.loop_diode[p]] = loop[p]
        y[6 * k + 3 + wk.lower[k]] += wk.loop_sign[p] * loop[p]


@kernel
def may_conduct(net: Record, mask: Array, k: int, d: int) -> bool:
    """False where switching diode `d` on would close a loop without inductance.

    Two legs that conduct both ways short the same two phases twice: the split between the parallel diodes has
    no effect outside the bridge. One such leg needs a choke.
    """
    both: int = (mask[k] | (1 << d)) & ((mask[k] | (1 << d)) >> 3) & 7
    legs = (both & 1) + (both >> 1 & 1) + (both >> 2 & 1)
    choke: float = net.bridge[k, 2]
    return legs == 0 or (legs == 1 and choke > 0.0)


@kernel
def switch(mask: Array, y: Array, j: int) -> None:
    """Turn guard `j` into a change of the conducting set and of the currents."""
    k = j // 6
    d = j % 6
    if mask[k] == 0:
        x = d // 2
        mask[k] = (1 << x) | (1 << (3 + (x + 1 + d % 2) % 3))
        return
    mask[k] ^= 1 << d
    y[j] = 0.0
    if mask[k] & 7 == 0 or mask[k] & 56 == 0:
        mask[k] = 0
        for i in range(6):
            y[6 * k + i] = 0.0
