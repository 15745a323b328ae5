"""Newton shooting for the periodic steady state, over the smallest symmetry map of the circuit.

Let x be the state at angle theta (loop currents, capacitor voltage, states of the source impedance), P(x) the
state after `sectors` times 60 degrees, and S the relabelling of diodes and the rotation of space vectors that
maps that angle onto theta (`symmetry.turn_back`). Six sectors serve on any supply (S is then the identity),
fewer where the supply has the symmetry. A periodic orbit is a fixed point

    F(x) = x - S P(x) = 0,

and Newton's method gives x <- x - (I - M)^-1 F(x) with the monodromy matrix M = d(S P)/dx, which `run`
integrates beside the state (variational equation, `variation.py`). Only the loop currents of the diodes that
conduct are independent, so theta is put into the middle of the longest stretch without events: near the
solution the set is then constant, P smooth, and M small. Steps are cut to `LARGEST_...`. The eigenvalues of M
are the Floquet multipliers of the orbit.

Where the load takes a mean power, its current I is one more unknown with the equation I = P_mean / mean(v);
M gains a row and a column (`demand_row`, `seed_directions`).

References
----------
T. J. Aprille, T. N. Trick, "Steady-state analysis of nonlinear circuits with periodic inputs", Proc. IEEE 60
(1972) 108-114 (from memory).
"""

from __future__ import annotations

import numpy as np

from xlcalc.rectifier.kernels.integrate import SCALE, run
from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import NO_CONVERGENCE, OK
from xlcalc.rectifier.kernels.mode import build_mode, complete_currents
from xlcalc.rectifier.kernels.symmetry import SECTOR, rows_of, turn_back, turn_back_rows

RESIDUAL = 1e-11
LARGEST_VOLT_STEP = 0.1
LARGEST_AMP_STEP = 1.5 * SCALE
LARGEST_LOAD_STEP = 0.3 * SCALE
LEAST_LOAD = 1e-3 * SCALE


@kernel
def cold_start(net: Record, wk: Record, theta: float, y: Array, v: Array, z: Array, mask: Array) -> None:
    """Direct current through the diodes of the highest line voltage, capacitor near its mean.

    A load of constant mean power starts with its current at that voltage.

    The terms of the source impedance start as if the load drew a sinusoidal current in phase.
    """
    bridges = mask.size
    reactance = net.xs + net.bridge[0, 0] / bridges
    load = net.load_power + net.mean_power + 1.35 * net.load_current + 1.35**2 * net.load_conductance
    v[0] = 0.5 * (1.35 + np.sqrt(max(1.35**2 - 3.82 * reactance * load, 0.0)))
    current = load / v[0] / bridges
    if net.mean_power > 0.0:
        net.load_current = net.mean_power / v[0]
    emf = wk.six
    for k in range(bridges):
        for d in range(6):
            y[6 * k + d] = 0.0
        for x in range(3):
            emf[x] = 0.0
            for s in range(net.sources):
                turn = np.exp(1j * net.order[s] * theta)
                for i in range(2):
                    emf[x] += (net.emf[s, i] * turn).real * net.axis[k, x, i]
        high = 0
        low = 0
        for x in range(1, 3):
            high = x if emf[x] > emf[high] else high
            low = x if emf[x] < emf[low] else low
        mask[k] = (1 << high) | (1 << (3 + low))
        y[6 * k + high] = current
        y[6 * k + 3 + low] = current
    for s in range(net.sources):
        if net.order[s] == 1:
            volts = net.emf[s, 0] * np.exp(1j * theta)
            drawn = load / (1.5 * abs(volts) ** 2) * volts
            _start_terms(net, drawn, z)


@kernel
def _start_terms(net: Record, drawn: complex, z: Array) -> None:
    """Steady state of the terms for a positive-sequence current, `drawn` its peak phasor in phase a."""
    for s in range(net.terms):
        for i in range(2):
            turned = drawn if i == 0 else -1j * drawn
            state = turned / (1j - net.pole[s]) + np.conj(turned) / (-1j - net.pole[s])
            state *= 0.5 * net.residue[s]
            z[4 * s + 2 * i] = state.real
            z[4 * s + 2 * i + 1] = state.imag


@kernel
def seed_directions(
    net: Record, wk: Record, diodes: int, states: int, mask: Array, driven: int
) -> tuple[Array, int]:
    """Derivative of the state against its independent parts, with `driven` more directions of zero.

    Where the load has a mean power, its current is one more part: a direction after those of the state.

    It stands in `wk.phi` until the next call. Also fills the loop tables of the conducting set and returns
    their number.
    """
    m = build_mode(net, mask, wk)
    size = m + 1 + states + held_parts(net)
    phi = rows_of(wk.phi, diodes + 1 + states, size + driven)
    for c in range(phi.shape[1]):
        wk.dload[c] = 0.0
    if net.mean_power > 0.0:
        wk.dload[size - 1] = 1.0
    for r in range(phi.shape[0]):
        for c in range(phi.shape[1]):
            phi[r, c] = 0.0
    for p in range(m):
        phi[wk.loop_diode[p], p] = 1.0
        k = wk.loop_bridge[p]
        phi[6 * k + 3 + wk.lower[k], p] += wk.loop_sign[p]
    for r in range(1 + states):
        phi[diodes + r, m + r] = 1.0
    return phi, m


@kernel
def held_parts(net: Record) -> int:
    """Number of unknowns beside the state: the load current where its mean power is given."""
    return 1 if net.mean_power > 0.0 else 0


@kernel
def demanded_current(net: Record, wk: Record, span: float) -> float:
    """Load current that takes the mean power at the mean capacitor voltage of the run just done.

    On a periodic orbit the mean current of the capacitor is zero, and this is the mean voltage of the load.
    """
    return float(net.mean_power * span / wk.area[0])


@kernel
def demand_row(net: Record, wk: Record, span: float, row: Array, directions: int) -> None:
    """Derivative of `demanded_current` in each direction."""
    factor = -demanded_current(net, wk, span) / wk.area[0]
    for c in range(directions):
        row[c] = factor * wk.darea[c]


@kernel
def shoot(
    net: Record,
    wk: Record,
    sectors: int,
    warm_maps: int,
    max_iterations: int,
    theta: Array,
    y: Array,
    v: Array,
    z: Array,
    mask: Array,
    jacobian: Array,
    report: Array,
    quiet: Record,
    undriven: Record,
) -> int:
    """Bring (y, v, z, mask) at angle theta[0] onto the periodic orbit.

    First `warm_maps` plain runs over the map, then at most `max_iterations` of Newton's method; none leaves
    the state where the plain runs ended. A load of constant mean power has its current in `net.load_current`:
    it starts from there, stays in plain runs and is one more unknown of Newton's method, which the map is
    taken to replace by `demanded_current`.

    `jacobian` receives the derivative of the map in the reduced basis, then that of the load current where it
    is unknown; `report` the residual, the number of iterations and the size of the basis without the load
    current. Returns the status.
    """
    span = sectors * SECTOR
    gaps = wk.gaps
    empty = rows_of(wk.phi, y.size + 1 + z.size, 0)
    gaps[0] = -1.0
    for _ in range(warm_maps):
        status = run(net, wk, theta[0], span, y, v, z, mask, empty, gaps, quiet, undriven)
        if status != OK:
            return status
        turn_back(wk, y, z, mask, sectors)
    move = True
    y0, v0, z0, mask0 = second_state(wk, y, z, mask)
    copy_state(y, v, z, mask, y0, v0, z0, mask0)
    last = 1e9
    plain = 0
    strayed = 0
    for iteration in range(max_iterations):
        if move:
            middle = _quiet_angle(gaps, span)
            status = run(net, wk, theta[0], middle, y, v, z, mask, empty, gaps, quiet, undriven)
            if status != OK:
                return status
            theta[0] += middle
            move = False
        phi, m = seed_directions(net, wk, y.size, z.size, mask, 0)
        copy_state(y, v, z, mask, y0, v0, z0, mask0)
        status = run(net, wk, theta[0], span, y, v, z, mask, phi, gaps, quiet, undriven)
        report[1] = iteration + 1
        if status != OK:
            return status
        turn_back(wk, y, z, mask, sectors)
        turn_back_rows(wk, phi, mask.size, sectors)
        residual = abs(v[0] - v0[0])
        for r in range(y.size):
            residual = max(residual, abs(y[r] - y0[r]) / SCALE)
        for r in range(z.size):
            residual = max(residual, abs(z[r] - z0[r]))
        demanded = 0.0
        if net.mean_power > 0.0:
            demanded = demanded_current(net, wk, span)
            residual = max(residual, abs(demanded - net.load_current) / SCALE)
        report[0] = residual
        same = True
        for k in range(mask.size):
            same = same and mask[k] == mask0[k]
        if not same:
            strayed += 1
            move = strayed % 2 == 0
            continue
        build_mode(net, mask, wk)
        size = m + 1 + z.size
        directions = size + held_parts(net)
        if net.mean_power > 0.0:
            demand_row(net, wk, span, jacobian[size], directions)
        for c in range(directions):
            for p in range(m):
                jacobian[p, c] = phi[wk.loop_diode[p], c]
            for r in range(1 + z.size):
                jacobian[m + r, c] = phi[y.size + r, c]
        report[2] = size
        if residual < RESIDUAL:
            copy_state(y0, v0, z0, mask0, y, v, z, mask)
            return OK
        if residual > 2.0 * last and plain < 3:
            plain += 1
            last = residual
            continue
        last = residual
        _newton_step(net, wk, m, mask, jacobian, demanded, y, v, z, y0, v0, z0)
    return NO_CONVERGENCE


@kernel
def second_state(wk: Record, y: Array, z: Array, mask: Array) -> tuple[Array, Array, Array, Array]:
    """Space for a state of the same size."""
    return wk.y0[: y.size], wk.v0, wk.z0[: z.size], wk.mask0[: mask.size]


@kernel
def copy_state(
    y: Array, v: Array, z: Array, mask: Array, to_y: Array, to_v: Array, to_z: Array, to_mask: Array
) -> None:
    to_v[0] = v[0]
    for r in range(z.size):
        to_z[r] = z[r]
    for r in range(y.size):
        to_y[r] = y[r]
    for k in range(mask.size):
        to_mask[k] = mask[k]


@kernel
def _quiet_angle(gaps: Array, span: float) -> float:
    """Middle of the longest stretch without events, from the start of the span; 0 without events."""
    if gaps[0] < 0.0:
        return 0.0
    wrap = span - gaps[1] + gaps[0]
    if wrap > gaps[3] - gaps[2]:
        return float(gaps[1] + 0.5 * wrap)
    return float(0.5 * (gaps[2] + gaps[3]))


@kernel
def _newton_step(
    net: Record,
    wk: Record,
    m: int,
    mask: Array,
    jacobian: Array,
    demanded: float,
    y: Array,
    v: Array,
    z: Array,
    y0: Array,
    v0: Array,
    z0: Array,
) -> None:
    """Replace (y, v, z), the end of the period, by the Newton estimate of its fixed point.

    `demanded` is the load current of the next period where it is unknown.
    """
    states = m + 1 + z.size
    size = states + held_parts(net)
    a = rows_of(wk.system, size, size + 1)
    for p in range(size):
        for q in range(size):
            a[p, q] = (1.0 if p == q else 0.0) - jacobian[p, q]
    for p in range(m):
        a[p, size] = y[wk.loop_diode[p]] - y0[wk.loop_diode[p]]
    a[m, size] = v[0] - v0[0]
    for r in range(z.size):
        a[m + 1 + r, size] = z[r] - z0[r]
    if size > states:
        a[states, size] = demanded - net.load_current
    _eliminate(a)
    factor = 1.0
    for p in range(m + 1):
        limit = LARGEST_AMP_STEP if p < m else LARGEST_VOLT_STEP
        if abs(a[p, size]) * factor > limit:
            factor = limit / abs(a[p, size])
    if size > states:
        if abs(a[states, size]) * factor > LARGEST_LOAD_STEP:
            factor = LARGEST_LOAD_STEP / abs(a[states, size])
        net.load_current = max(net.load_current + factor * a[states, size], LEAST_LOAD)
    for p in range(m):
        wk.loop[p] = y0[wk.loop_diode[p]] + factor * a[p, size]
    v[0] = v0[0] + factor * a[m, size]
    for r in range(z.size):
        z[r] = z0[r] + factor * a[m + 1 + r, size]
    complete_currents(mask.size, wk, m, wk.loop, y)
    _clip(mask, y)


@kernel
def _eliminate(a: Array) -> None:
    """Gauss elimination with row pivoting on the augmented system; the last column becomes the solution."""
    n = a.shape[0]
    for p in range(n):
        best = p
        for r in range(p + 1, n):
            if abs(a[r, p]) > abs(a[best, p]):
                best = r
        if best != p:
            for c in range(n + 1):
                a[p, c], a[best, c] = a[best, c], a[p, c]
        if a[p, p] == 0.0:
            a[p, p] = 1e-12
        for r in range(p + 1, n):
            factor = a[r, p] / a[p, p]
            for c in range(p, n + 1):
                a[r, c] -= factor * a[p, c]
    for p in range(n - 1, -1, -1):
        for c in range(p + 1, n):
            a[p, n] -= a[p, c] * a[c, n]
        a[p, n] /= a[p, p]


@kernel
def _clip(mask: Array, y: Array) -> None:
    """No diode current below zero; upper and lower sums of a bridge agree."""
    for k in range(mask.size):
        negative = False
        upper = 0.0
        lower = 0.0
        for d in range(6):
            if y[6 * k + d] < 0.0:
                negative = True
                y[6 * k + d] = 0.0
            if d < 3:
                upper += y[6 * k + d]
            else:
                lower += y[6 * k + d]
        if not negative:
            continue
        if lower <= 0.0 or upper <= 0.0:
            for d in range(6):
                y[6 * k + d] = 0.0
            continue
        for d in range(3, 6):
            y[6 * k + d] *= upper / lower
