"""What a plant does over what nameplates leave open: its P95, and what each assumption moves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from xlcalc.studies.nameplate.assumption import Assumption
from xlcalc.studies.plant import ScheduledDrive


@dataclass(frozen=True, kw_only=True)
class Move:
    """What one assumption moves, all others at their typical values.

    Parameters
    ----------
    unknown : Assumption
    at_low, at_high : float
        The binding quantity with the lowest and the highest value, in its unit; NaN without a solution.
    """

    unknown: Assumption
    at_low: float
    at_high: float

    @property
    def distance(self) -> float:
        """How far it moves the binding quantity; infinite where an end has no solution."""
        reach = abs(self.at_high - self.at_low)
        return reach if np.isfinite(reach) else float("inf")

    def text(self, binding: str) -> str:
        """In words."""
        values = (self.at_low, self.at_high)
        ends = " to ".join(f"{x:.3g}" if np.isfinite(x) else "no solution" for x in values)
        return f"{self.unknown.text}: moves {binding} from {ends} %"


@dataclass(frozen=True, kw_only=True, eq=False)
class Spread:
    """A plant over what is unknown of its drives.

    Parameters
    ----------
    binding : str
        The quantity nearest to its limit with typical values.
    moves : tuple of Move
        Every assumption, the one that moves most first.
    tdd_pct, thdv_pct : float
        P95, percent; infinite where more than 5 % of the samples have no solution.
    drives : tuple of ScheduledDrive
        Those of the sample at P95 of the value nearest to its limit.
    samples : int
    """

    binding: str
    moves: tuple[Move, ...]
    tdd_pct: float
    thdv_pct: float
    drives: tuple[ScheduledDrive, ...]
    samples: int

    @property
    def names(self) -> str:
        """What is assumed, in a few words."""
        return ", ".join(dict.fromkeys(move.unknown.name for move in self.moves))

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a reader of the verdict must know."""
        levels = f"TDD {self.tdd_pct:.3g} %, voltage THD {self.thdv_pct:.3g} %"
        return (
            f"with assumed {self.names}: P95 over {self.samples} samples {levels} (each drive as if alone)",
            *(move.text(self.binding) for move in self.moves),
        )
