"""Where the conducting set ends: the first zero of any guard, and how the instant moves with the state."""

from __future__ import annotations

from xlcalc.rectifier.kernels.forcing import inner_derivative
from xlcalc.rectifier.kernels.jit import Array, Record, kernel
from xlcalc.rectifier.kernels.layout import ORDER
from xlcalc.rectifier.kernels.series import polynomial

TOLERANCE = 1e-10
NOTHING = 1e-18
SOON = 1e-7  # radians: the sign of a guard that starts at zero is taken this much later
SAMPLES = 6


@kernel
def immediate(wk: Record, mask: Array) -> tuple[int, bool]:
    """Guard that is violated at the start of a step: (index or -1, forced by the previous switching)."""
    own = -1
    for j in range(6 * mask.size):
        start = wk.guard[j, 0]
        if start > TOLERANCE:
            continue
        if start < -TOLERANCE:
            return j, True
        soon = ((wk.guard[j, 3] * SOON + wk.guard[j, 2]) * SOON + wk.guard[j, 1]) * SOON
        if soon < -NOTHING:
            own = j
    return own, False


@kernel
def first_zero(wk: Record, mask: Array, length: float) -> tuple[float, int]:
    """(instant, guard) of the first zero of any guard within the step; guard -1 where there is none."""
    best = length
    which = -1
    for j in range(6 * mask.size):
        bound = 0.0
        power = 1.0
        for n in range(1, ORDER + 1):
            power *= best
            bound += abs(wk.guard[j, n]) * power
        if wk.guard[j, 0] > bound:
            continue
        instant = _zero_of(wk.guard, j, best)
        if instant < best:
            best = instant
            which = j
    return best, which


@kernel
def _zero_of(guard: Array, j: int, length: float) -> float:
    """First zero of guard `j`, which starts non-negative, in (0, length); `length` where there is none."""
    left = 0.0
    value_left = guard[j, 0]
    slope_left = guard[j, 1]
    if value_left <= TOLERANCE:
        slope_left = max(slope_left, 0.0)  # a guard that has just been passed
    for i in range(1, SAMPLES + 1):
        right = length * i / SAMPLES
        value, slope = _value_and_slope(guard, j, right)
        if value < 0.0:
            return _refine(guard, j, left, right)
        if slope_left < 0.0 and slope > 0.0:
            middle = left + (right - left) * slope_left / (slope_left - slope)
            if 3.0 * min(value_left, value) < (right - left) * (slope - slope_left):
                low, tilt = _value_and_slope(guard, j, middle)
                if low >= -1e-13:
                    if tilt > 0.0:
                        middle = left + (middle - left) * slope_left / (slope_left - tilt)
                    else:
                        middle = middle + (right - middle) * tilt / (tilt - slope)
                    low, tilt = _value_and_slope(guard, j, middle)
                if low < -1e-13:
                    return _refine(guard, j, left, middle)
        left = right
        value_left = value
        slope_left = slope
    return length


@kernel
def _value_and_slope(guard: Array, j: int, t: float) -> tuple[float, float]:
    value = guard[j, ORDER]
    slope = 0.0
    for n in range(ORDER - 1, -1, -1):
        slope = slope * t + value
        value = value * t + guard[j, n]
    return value, slope


@kernel
def _refine(guard: Array, j: int, left: float, right: float) -> float:
    if left == 0.0 and guard[j, 0] <= TOLERANCE:
        left = 0.5 * right
        for _ in range(60):
            if _value_and_slope(guard, j, left)[0] > 0.0:
                break
            right = left
            left *= 0.5
        if _value_and_slope(guard, j, left)[0] <= 0.0:
            return 0.0
    t = 0.5 * (left + right)
    for _ in range(80):
        value, slope = _value_and_slope(guard, j, t)
        if value > 0.0:
            left = t
        else:
            right = t
        trial = t - value / slope if slope != 0.0 else left
        if not left < trial < right:
            trial = 0.5 * (left + right)
        if abs(trial - t) <= 1e-15 * (1.0 + t):
            return trial
        t = trial
    return t


@kernel
def guard_sensitivity(
    net: Record,
    wk: Record,
    forcing: Record,
    mask: Array,
    m: int,
    phi: Array,
    j: int,
    theta: float,
    instant: float,
) -> None:
    """Derivative of guard `j` against the initial state, with `phi` the state's derivative at that instant.

    Reads `wk.rate`, fills `wk.row`; `instant` is counted from the start of the step, at angle `theta`.
    """
    directions = phi.shape[1]
    k = j // 6
    d = j % 6
    if mask[k] >> d & 1:
        for c in range(directions):
            wk.row[c] = phi[j, c]
        return
    if mask[k] == 0:
        high = d // 2
        low = (high + 1 + d % 2) % 3
        for c in range(directions):
            wk.row[c] = bus_derivative(net, wk, m, phi, c, instant)
    elif d < 3:
        high = d
        low = wk.upper[k]
        for c in range(directions):
            wk.row[c] = -net.rd * phi[6 * k + low, c]
    else:
        high = wk.lower[k]
        low = d - 3
        for c in range(directions):
            wk.row[c] = -net.rd * phi[6 * k + 3 + high, c]
    a0 = net.axis[k, low, 0] - net.axis[k, high, 0]
    a1 = net.axis[k, low, 1] - net.axis[k, high, 1]
    for c in range(directions):
        wk.row[c] += a0 * inner_derivative(net, forcing, phi, c, 0, theta + instant)
        wk.row[c] += a1 * inner_derivative(net, forcing, phi, c, 1, theta + instant)
    for p in range(m):
        dot = a0 * wk.loop_vector[p, 0] + a1 * wk.loop_vector[p, 1]
        x = net.xs * dot
        r = net.rs * dot
        if wk.loop_bridge[p] == k:
            x += net.bridge[k, 0] * dot
            r += net.bridge[k, 1] * dot
        for c in range(directions):
            wk.row[c] -= x * wk.rate[p, c] + r * phi[wk.loop_diode[p], c]


@kernel
def bus_derivative(net: Record, wk: Record, m: int, phi: Array, c: int, instant: float) -> float:
    """Derivative of the bus voltage in direction `c`."""
    volts: float = phi[phi.shape[0] - 4 * net.terms - 1, c]
    if net.esr > 0.0:
        for p in range(m):
            if wk.loop_sign[p] > 0:
                volts += net.esr * phi[wk.loop_diode[p], c]
        volts -= net.esr * wk.dload[c]
        volts *= polynomial(wk.gain, instant)
    return volts
