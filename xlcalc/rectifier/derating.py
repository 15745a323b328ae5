"""How much an unbalanced or distorted supply overloads one phase or one bridge of a front end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd, solve_front_ends
from xlcalc.rectifier.result import SteadyState

PHASES = ("a", "b", "c")


@dataclass(frozen=True)
class Loading:
    """Largest rms currents in per unit of the same drive on a balanced, undistorted supply.

    The balanced case has matched windings too.

    Parameters
    ----------
    line, bridge : float
        Of the line current, and of the current of a bridge in the phases of its own winding.
    line_phase, bridge_phase : str
        The phase that carries it: 'a', 'b' or 'c'.
    bridge_number : int
        The bridge, counted from 1.
    """

    line: float
    line_phase: str
    bridge: float
    bridge_number: int
    bridge_phase: str

    @property
    def load_factor(self) -> float:
        """Share of the load at which the most loaded phase carries its balanced full-load current.

        Taken in proportion to the current, an estimate: the unevenness itself grows towards light load.
        """
        return min(1.0, 1.0 / max(self.line, self.bridge))


def loading(front_end: FrontEnd, *, accept_doubt: bool = False) -> Loading:
    """Most loaded phase and bridge against the balanced case.

    Parameters
    ----------
    front_end : FrontEnd
    accept_doubt : bool
        Take solutions with uneven pulses, or beside a second one, for what they are; see `rectifier.doubts`.

    Raises
    ------
    NoSolutionError
        The drive or its balanced twin has no stable steady state, or a doubtful one.

    Examples
    --------
    >>> on_bad_supply = loading(FrontEnd(12, 0.5, choke_pct=4.0, unbalance_pct=2.0))
    >>> round(on_bad_supply.bridge, 2) > 1.05
    True
    """
    actual, balanced = solve_front_ends([front_end, front_end.balanced()])
    for result in (actual, balanced):
        if isinstance(result, NoSolutionError):
            raise result
        if doubt_of(result) and not accept_doubt:
            raise NoSolutionError(doubt_of(result))
    assert isinstance(actual, SteadyState)
    assert isinstance(balanced, SteadyState)
    line = actual.line_rms / balanced.line_rms
    bridge = actual.bridge_rms / balanced.bridge_rms
    number, phase = np.unravel_index(int(np.argmax(bridge)), bridge.shape)
    return Loading(
        float(line.max()),
        PHASES[int(line.argmax())],
        float(bridge.max()),
        int(number) + 1,
        PHASES[int(phase)],
    )
