"""One span of the supply angle: Taylor steps from event to event, with the derivative of the end state."""

from __future__ import annotations

from xlcalc.rectifier.kernels.events import bus_derivative, first_zero, guard_sensitivity, immediate
from xlcalc.rectifier.kernels.forcing import inner_derivative
from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import (
    CHATTER,
    COLLAPSE,
    DC,
    OK,
    ORDER,
    SINGULAR,
    SOURCE,
    TOO_FAST,
)
from xlcalc.rectifier.kernels.mode import build_mode, complete_currents, switch
from xlcalc.rectifier.kernels.quadrature import accumulate
from xlcalc.rectifier.kernels.series import (
    expand,
    expand_guards,
    integral,
    polynomial,
    step_length,
    term_value,
)
from xlcalc.rectifier.kernels.variation import advance_derivative, prepare_variation

MAX_STEP = 0.35  # radians: sampled closely enough to see every zero of a guard
FORCED_TURN = 3.0  # radians of a driving order that its Taylor series covers to 1e-5
WANTED_TURN = 6.0  # radians of a wanted order that the nodes of a step integrate to 1e-5
MOST_STEPS = 1500  # in 60 degrees
MAX_CHAIN = 60  # switchings at one instant before it counts as chatter
SCALE = 0.74  # typical direct current in per unit of load power and line voltage


@kernel
def run(
    net: Record,
    wk: Record,
    theta: float,
    span: float,
    y: Array,
    v: Array,
    z: Array,
    mask: Array,
    phi: Array,
    gaps: Array,
    tally: Record,
    forcing: Record,
) -> int:
    """Advance the state (y, v, z, mask) from `theta` by `span`, in place.

    Parameters
    ----------
    y, v, z, mask : arrays (6n,), (1,), (4 terms,), (n,)
        Diode currents, capacitor voltage, terms of the source impedance, conducting diodes of each bridge.
    phi : array (6n + 1 + 4 terms, directions)
        Derivative of the state; updated where it has columns. `wk.dload` says how the constant load current
        changes in each direction; `wk.area` and `wk.darea` receive the integral of the capacitor voltage and
        its derivative where the load has a mean power.
    gaps : array (4,)
        First and last event, start and end of the longest stretch between events, relative to `theta`.
    tally : Tally
        Integrals over the span; skipped where it has no orders.
    forcing : Forcing
        Changes of the EMF that drive the last directions, and the integrals of all directions.

    Returns
    -------
    int
        Status.
    """
    directions = phi.shape[1]
    done = 0.0
    chain = 0
    steps = 0
    most_steps = MOST_STEPS * (1 + int(span))
    pending = False
    size = y.size
    for i in range(4):
        gaps[i] = 0.0
    gaps[0] = -1.0
    wk.area[0] = 0.0
    for c in range(directions):
        wk.darea[c] = 0.0
    limit = MAX_STEP if tally.order.size == 0 else min(MAX_STEP, 17.0 / tally.order[-1])
    for f in range(forcing.order.size):
        limit = min(limit, FORCED_TURN / forcing.order[f])
    if forcing.wanted.size > 0:
        limit = min(limit, WANTED_TURN / forcing.wanted[-1])
    while True:
        m = build_mode(net, mask, wk)
        if m < 0:
            return SINGULAR
        if not expand(net, wk, mask.size, m, theta + done, y, v[0], z):
            return COLLAPSE
        expand_guards(net, wk, mask, m)
        j, forced = immediate(wk, mask)
        if j >= 0 and forced:
            chain += 1
            if chain > MAX_CHAIN:
                return CHATTER
            switch(mask, y, j)
            continue
        if pending:
            _saltate(wk, m, phi, size)
            pending = False
        if j >= 0:
            chain += 1
            if chain > MAX_CHAIN:
                return CHATTER
            if directions > 0:
                prepare_variation(net, wk)
                _event(net, wk, forcing, mask, m, phi, j, theta + done, 0.0, size)
                pending = True
            switch(mask, y, j)
            continue
        if span - done <= 1e-13:
            return OK
        steps += 1
        if steps > most_steps:
            return TOO_FAST
        length, j = first_zero(wk, mask, step_length(net, wk, m, SCALE, min(limit, span - done)))
        if tally.order.size > 0:
            accumulate(net, wk, mask, m, theta + done, length, tally)
        if directions > 0:
            prepare_variation(net, wk)
            advance_derivative(net, wk, forcing, m, phi, theta + done, length)
            if j >= 0:
                _event(net, wk, forcing, mask, m, phi, j, theta + done, length, size)
                pending = True
        for p in range(m):
            total = wk.q[ORDER, p]
            for n in range(ORDER - 1, -1, -1):
                total = total * length + wk.q[n, p]
            wk.loop[p] = total
        complete_currents(mask.size, wk, m, wk.loop, y)
        v[0] = polynomial(wk.v, length)
        if net.mean_power > 0.0:
            wk.area[0] += integral(wk.v, length)
        for r in range(2 * net.terms):
            state = term_value(wk.term[r], length)
            z[2 * r] = state.real
            z[2 * r + 1] = state.imag
        done += length
        chain = chain + 1 if length < 1e-12 else 0
        if j >= 0:
            if chain > MAX_CHAIN:
                return CHATTER
            if gaps[0] < 0.0:
                gaps[0] = done
            elif done - gaps[1] > gaps[3] - gaps[2]:
                gaps[2] = gaps[1]
                gaps[3] = done
            gaps[1] = done
            switch(mask, y, j)


@kernel
def _event(
    net: Record,
    wk: Record,
    forcing: Record,
    mask: Array,
    m: int,
    phi: Array,
    j: int,
    theta: float,
    instant: float,
    size: int,
) -> None:
    """Sensitivity of the event instant, and the rates of change just before it."""
    for p in range(m):
        total = 0.0
        for n in range(ORDER, 0, -1):
            total = total * instant + n * wk.q[n, p]
        wk.loop[p] = total
    complete_currents(mask.size, wk, m, wk.loop, wk.before)
    for c in range(phi.shape[1]):
        bus = bus_derivative(net, wk, m, phi, c, instant)
        by_a = inner_derivative(net, forcing, phi, c, 0, theta + instant)
        by_b = inner_derivative(net, forcing, phi, c, 1, theta + instant)
        for p in range(m):
            total = wk.g[SOURCE, p] * by_a + wk.g[SOURCE + 1, p] * by_b - wk.g[DC, p] * bus
            for q in range(m):
                total -= wk.g[q, p] * phi[wk.loop_diode[q], c]
            wk.rate[p, c] = total
    slope = 0.0
    for n in range(ORDER, 0, -1):
        slope = slope * instant + n * wk.guard[j, n]
    guard_sensitivity(net, wk, forcing, mask, m, phi, j, theta, instant)
    if abs(slope) < 1e-9:
        slope = -1e-9
    for c in range(phi.shape[1]):
        wk.shift[c] = -wk.row[c] / slope


@kernel
def _saltate(wk: Record, m: int, phi: Array, size: int) -> None:
    """Phi <- Phi + (rate before - rate after) * (sensitivity of the instant)."""
    for p in range(m):
        wk.loop[p] = wk.q[1, p]
    complete_currents(size // 6, wk, m, wk.loop, wk.after)
    for r in range(size):
        jump = wk.before[r] - wk.after[r]
        if jump != 0.0:
            for c in range(phi.shape[1]):
                phi[r, c] += jump * wk.shift[c]
