"""Taylor series of one step: state, constant-power load, and guards.

Between two events the circuit is d q/d theta = G (e(theta) - 2 Re(sum of the states of the terms) - ...),
linear but for the load P / w. Every quantity is expanded about theta, f = sum f_n (dtheta)^n up to `ORDER`,
and an equation f' = g gives f_(n+1) = g_n / (n + 1). The two that are not linear have recurrences of their
own, from the Cauchy product of series:

* the inverse: from w * inv = 1 follows inv_n = -inv_0 * sum over i = 1..n of w_i inv_(n-i);
* the voltage behind the capacitor's resistance r: from k w^2 - s w + r P = 0 with k = 1 + r G follows
  w_n = (s_n w_0 + sum over i = 1..n-1 of (s_i - k w_i) w_(n-i)) / (2 k w_0 - s_0).

All series are finite sums of the same length, so a step costs ORDER^2 operations; `REACH` bounds the step
where a state decays fast.
"""

from __future__ import annotations

import numpy as np

from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import DC, ORDER, SOURCE
from xlcalc.rectifier.kernels.mode import may_conduct

REACH = 4.0
"""Step times the fastest rate of decay up to which a Taylor series of this order does not grow."""


@kernel
def expand(net: Record, wk: Record, bridges: int, m: int, theta: float, y: Array, v: float, z: Array) -> bool:
    """Taylor coefficients of loop currents and voltages about `theta`; False where the dc voltage collapsed.

    The load takes I0 + G w + P/w at bus voltage w. With capacitor resistance r, w solves
    (1 + r G) w^2 - (v + r (i - I0)) w + r P = 0, order by order; 1/w follows from the quotient recurrence.
    """
    _expand_emf(net, wk, theta)
    power = net.load_power
    constant = net.load_current
    for p in range(m):
        wk.q[0, p] = y[wk.loop_diode[p]]
    wk.v[0] = v
    for r in range(2 * net.terms):
        wk.term[r, 0] = z[2 * r] + 1j * z[2 * r + 1]
    k = 1.0 + net.esr * net.load_conductance
    for n in range(ORDER + 1):
        dc = 0.0
        for p in range(m):
            if wk.loop_sign[p] > 0:
                dc += wk.q[n, p]
        if n == 0:
            s0 = v + net.esr * (dc - constant)
            disc = s0 * s0 - 4.0 * k * net.esr * power
            if disc <= 0.0:
                return False
            wk.w[0] = (s0 + np.sqrt(disc)) / (2.0 * k)
            if wk.w[0] < 0.05:
                return False
            if power > 0.0 and wk.w[0] < net.floor:
                constant = constant + power / net.floor
                power = 0.0
                wk.w[0] = (v + net.esr * (dc - constant)) / k
                s0 = k * wk.w[0]
                if wk.w[0] < 0.05:
                    return False
            wk.s[0] = s0
            wk.inv[0] = 1.0 / wk.w[0]
            wk.load[0] = constant + net.load_conductance * wk.w[0] + power * wk.inv[0]
        else:
            wk.s[n] = wk.v[n] + net.esr * dc
            if power == 0.0:
                wk.w[n] = wk.s[n] / k
            else:
                total = wk.s[n] * wk.w[0]
                for i in range(1, n):
                    total += (wk.s[i] - k * wk.w[i]) * wk.w[n - i]
                wk.w[n] = total / (2.0 * k * wk.w[0] - wk.s[0])
            wk.load[n] = net.load_conductance * wk.w[n]
            if power > 0.0:
                total = 0.0
                for i in range(1, n + 1):
                    total -= wk.w[i] * wk.inv[n - i]
                wk.inv[n] = total * wk.inv[0]
                wk.load[n] += power * wk.inv[n]
        step = 1.0 / (n + 1.0)
        wk.v[n + 1] = (dc - wk.load[n]) / net.susceptance * step
        _expand_terms(net, wk, m, n)
        against = wk.w[n] + (2.0 * net.drop if n == 0 else 0.0)
        for p in range(m):
            value = (
                wk.g[SOURCE, p] * wk.inner[0, n]
                + wk.g[SOURCE + 1, p] * wk.inner[1, n]
                - wk.g[DC, p] * against
            )
            for q in range(m):
                value -= wk.g[q, p] * wk.q[n, q]
            wk.q[n + 1, p] = value * step
    _expand_line(net, wk, bridges, m)
    return True


@kernel
def _expand_terms(net: Record, wk: Record, m: int, n: int) -> None:
    """Voltage of order `n` behind the partial fractions, and their states one order on.

    A term ``r / (s - p)`` and its conjugate: z' = p z + r i, voltage 2 Re z.
    """
    for i in range(2):
        wk.inner[i, n] = wk.emf[i, n]
        if net.terms == 0:
            continue
        current = 0.0
        for p in range(m):
            current += wk.loop_vector[p, i] * wk.q[n, p]
        for s in range(net.terms):
            state = wk.term[2 * s + i, n]
            wk.inner[i, n] -= 2.0 * state.real
            wk.term[2 * s + i, n + 1] = (net.pole[s] * state + net.residue[s] * current) * (1.0 / (n + 1.0))


@kernel
def _expand_emf(net: Record, wk: Record, theta: float) -> None:
    for n in range(ORDER + 1):
        wk.emf[0, n] = 0.0
        wk.emf[1, n] = 0.0
    for s in range(net.sources):
        turn = np.exp(1j * net.order[s] * theta)
        a = net.emf[s, 0] * turn
        b = net.emf[s, 1] * turn
        for n in range(ORDER + 1):
            wk.emf[0, n] += a.real
            wk.emf[1, n] += b.real
            factor = 1j * (net.order[s] / (n + 1.0))
            a *= factor
            b *= factor


@kernel
def _expand_line(net: Record, wk: Record, bridges: int, m: int) -> None:
    for i in range(2):
        for n in range(ORDER + 2):
            wk.it[i, n] = 0.0
            for k in range(bridges):
                wk.ib[k, i, n] = 0.0
        for p in range(m):
            k = wk.loop_bridge[p]
            for n in range(ORDER + 2):
                part = wk.loop_vector[p, i] * wk.q[n, p]
                wk.ib[k, i, n] += part
                wk.it[i, n] += part
        for n in range(ORDER + 1):
            wk.vt[i, n] = wk.inner[i, n] - net.xs * (n + 1) * wk.it[i, n + 1] - net.rs * wk.it[i, n]


@kernel
def expand_guards(net: Record, wk: Record, mask: Array, m: int) -> None:
    """Taylor coefficients of every guard: non-negative while the conducting set holds."""
    phase = wk.phase
    for k in range(mask.size):
        for n in range(ORDER + 1):
            u0 = (
                wk.vt[0, n]
                - net.bridge[k, 0] * (n + 1) * wk.ib[k, 0, n + 1]
                - net.bridge[k, 1] * wk.ib[k, 0, n]
            )
            u1 = (
                wk.vt[1, n]
                - net.bridge[k, 0] * (n + 1) * wk.ib[k, 1, n + 1]
                - net.bridge[k, 1] * wk.ib[k, 1, n]
            )
            for x in range(3):
                phase[x, n] = net.axis[k, x, 0] * u0 + net.axis[k, x, 1] * u1
        if mask[k] == 0:
            for d in range(6):
                x = d // 2
                low = (x + 1 + d % 2) % 3
                for n in range(ORDER + 1):
                    wk.guard[6 * k + d, n] = wk.w[n] - phase[x, n] + phase[low, n]
                wk.guard[6 * k + d, 0] += 2.0 * net.drop
            continue
        _conducting_guards(net, wk, mask, m, k)


@kernel
def _conducting_guards(net: Record, wk: Record, mask: Array, m: int, k: int) -> None:
    phase = wk.phase
    up = wk.upper[k]
    lo = wk.lower[k]
    for d in range(6):
        for n in range(ORDER + 1):
            wk.guard[6 * k + d, n] = 0.0
    for p in range(m):
        if wk.loop_bridge[p] == k:
            for n in range(ORDER + 1):
                wk.guard[wk.loop_diode[p], n] = wk.q[n, p]
                wk.guard[6 * k + 3 + lo, n] += wk.loop_sign[p] * wk.q[n, p]
    for d in range(6):
        if mask[k] >> d & 1:
            continue
        if not may_conduct(net, mask, k, d):
            wk.guard[6 * k + d, 0] = 1.0
            continue
        for n in range(ORDER + 1):
            if d < 3:
                value = phase[up, n] - net.rd * wk.guard[6 * k + up, n] - phase[d, n]
            else:
                value = phase[d - 3, n] - phase[lo, n] - net.rd * wk.guard[6 * k + 3 + lo, n]
            wk.guard[6 * k + d, n] = value


@kernel
def step_length(net: Record, wk: Record, m: int, scale: float, limit: float) -> float:
    """Largest step for which the last two Taylor terms stay below 1e-12 of the scale.

    And short enough for the fastest mode of the circuit: one that has died out does not show in the Taylor
    terms, but in the derivative of the state it would grow.
    """
    fastest = 0.0
    by_source = 0.0
    by_bus = 0.0
    for p in range(m):
        row = abs(wk.g[DC, p]) * net.esr * m
        for q in range(m):
            row += abs(wk.g[q, p])
        fastest = max(fastest, row)
        by_source = max(by_source, abs(wk.g[SOURCE, p]), abs(wk.g[SOURCE + 1, p]))
        by_bus = max(by_bus, abs(wk.g[DC, p]))
    elastance = 0.0
    for s in range(net.terms):
        elastance += 2.0 * abs(net.residue[s])
    fastest += np.sqrt(by_source * elastance + by_bus / net.susceptance)
    length = min(limit, REACH / fastest) if fastest > 0.0 else limit
    for n in range(ORDER - 1, ORDER + 1):
        top = max(abs(wk.v[n]), abs(wk.emf[0, n]), abs(wk.emf[1, n]))
        for p in range(m):
            top = max(top, abs(wk.q[n, p]) / scale)
        for r in range(2 * net.terms):
            top = max(top, abs(wk.term[r, n]))
        if top > 0.0:
            length = min(length, (1e-12 / top) ** (1.0 / n))
    return length


@kernel
def polynomial(c: Array, t: float) -> float:
    """Value of the Taylor series with coefficients `c` after the angle `t`."""
    value: float = c[ORDER]
    for n in range(ORDER - 1, -1, -1):
        value = value * t + c[n]
    return value


@kernel
def integral(c: Array, t: float) -> float:
    """Integral of the Taylor series with coefficients `c` over the angle `t`."""
    value = c[ORDER] / (ORDER + 1.0)
    for n in range(ORDER - 1, -1, -1):
        value = value * t + c[n] / (n + 1.0)
    return float(value * t)


@kernel
def term_value(c: Array, t: float) -> complex:
    """Value of a complex Taylor series after the angle `t`."""
    value: complex = c[ORDER]
    for n in range(ORDER - 1, -1, -1):
        value = value * t + c[n]
    return value
