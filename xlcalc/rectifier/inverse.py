"""The reactor that a distortion needs: the steady state solved backwards."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd, solve_front_ends
from xlcalc.rectifier.result import SteadyState

LARGEST_REACTOR_PCT = 30.0
GRID_POINTS = 31
TOLERANCE_PCT = 1e-6


def reactor_for_thd(front_end: FrontEnd, target_pct: float, *, accept_doubt: bool = False) -> float:
    """Smallest line reactor with which no phase of the line current exceeds a total harmonic distortion.

    Parameters
    ----------
    front_end : FrontEnd
        The drive and its supply; its own `reactor_pct` is not used.
    target_pct : float
        Distortion to meet, above 0 to 200 % of the fundamental, orders 2 to 50.
    accept_doubt : bool
        Take solutions with uneven pulses, or beside a second one, for what they are; see `rectifier.doubts`.

    Returns
    -------
    float
        Reactor in percent of the drive's base, 0 to 30 %; within 1e-6 points above the exact value. A reactor
        with which the drive has no stable steady state, or a doubtful one, does not meet any target.

    Raises
    ------
    InputError
        An argument is outside its range.
    NoSolutionError
        No reactor up to 30 % meets the target; the message names the lowest distortion that was found.
    """
    target = number("target_pct", target_pct, unit="%", above=0, most=200)
    grid = np.linspace(0.0, LARGEST_REACTOR_PCT, GRID_POINTS)
    excess = [distortion - target for distortion in _distortions(front_end, grid, accept_doubt)]
    first = next((index for index, value in enumerate(excess) if value <= 0.0), None)
    if first is None:
        best = int(np.argmin(excess))
        if not np.isfinite(excess[best]):
            raise NoSolutionError(
                "no reactor up to 30 % gives the drive a stable steady state without uneven pulses"
            )
        raise NoSolutionError(
            f"no reactor up to {LARGEST_REACTOR_PCT:g} % brings the distortion down to {target:g} %; "
            f"the lowest is {excess[best] + target:.2f} % with {grid[best]:g} %"
        )
    if first == 0:
        return 0.0
    return _first_crossing(front_end, target, float(grid[first - 1]), float(grid[first]), accept_doubt)


def _first_crossing(
    front_end: FrontEnd, target: float, fails: float, meets: float, accept_doubt: bool
) -> float:
    """Reactor between one that fails and one that meets the target, on the side that meets it."""
    from scipy.optimize import brentq

    def excess(reactor: float) -> float:
        return min(_distortions(front_end, [reactor], accept_doubt)[0], 1e3) - target

    root = float(brentq(excess, fails, meets, xtol=TOLERANCE_PCT / 4))
    step = TOLERANCE_PCT / 4
    while root < meets and excess(root) > 0.0:
        root, step = min(root + step, meets), 2.0 * step
    return root


def _distortions(front_end: FrontEnd, reactors: np.typing.ArrayLike, accept_doubt: bool) -> list[float]:
    """Largest distortion of the three phases for each reactor; infinite where there is none to trust."""
    variants = [replace(front_end, reactor_pct=float(pct)) for pct in np.asarray(reactors, float)]
    return [
        max(result.thd_pct)
        if isinstance(result, SteadyState) and (accept_doubt or not doubt_of(result))
        else float("inf")
        for result in solve_front_ends(variants)
    ]
