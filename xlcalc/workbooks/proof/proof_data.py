"""What a field proof holds: intervals, windows, orders beside their prediction, waveforms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

PHASES: Final = 3
ORDERS: Final = 50
WEEK: Final = 1_008
"""Values of 10 minutes in a week: the room for each phase."""
MOST_TREND: Final = 1_500
MOST_STRIPES: Final = 168
WAVE_POINTS: Final = 256


@dataclass(frozen=True, kw_only=True)
class ProofData:
    """Plain numbers of a record, and of the study beside it.

    Parameters
    ----------
    inputs : mapping of str to value
        Names of `xlcalc.schema.inputs.proof.PROOF_FIELDS`.
    facts : mapping of str to str
        What the record is: file, start, windows and so on.
    sentences : tuple of str
        Agreement with the prediction, findings and remarks.
    phases : tuple of str
        Names of up to three phases.
    hours : array of float, shape (t,)
        Start of each interval of 10 minutes after the first; t up to `WEEK`.
    percent : array of float, shape (3, t, 50)
        Currents by phase, interval and order, percent of the base; NaN where missing, or flagged.
    trend : array of float, shape (w, 5)
        Hours, fundamental current A and current THD % of the phase with most, frequency Hz, flagged (0 or 1).
    spectrum : array of float, shape (50, 5)
        Measured rms of the phase with most, A; predicted, lowest and highest possible, A; outside by, A.
    wave : array of float, shape (n, 3)
        Degrees, measured and predicted current of phase a, A.
    days : tuple of (str, str, int, float)
        Statistic of 3 s values by day and phase: day, phase, values known, largest share of a limit, percent.
    """

    inputs: Mapping[str, object]
    facts: Mapping[str, str]
    sentences: tuple[str, ...] = ()
    phases: tuple[str, ...] = ("a", "b", "c")
    hours: FloatArray = field(default_factory=lambda: np.empty(0))
    percent: FloatArray = field(default_factory=lambda: np.empty((PHASES, 0, ORDERS)))
    trend: FloatArray = field(default_factory=lambda: np.empty((0, 5)))
    spectrum: FloatArray = field(default_factory=lambda: np.full((ORDERS, 5), np.nan))
    wave: FloatArray = field(default_factory=lambda: np.empty((0, 3)))
    days: tuple[tuple[str, str, int, float], ...] = ()

    @property
    def total(self) -> FloatArray:
        """TDD by phase and interval, percent of the base; NaN where an order lacks."""
        return np.asarray(np.sqrt(np.sum(self.percent[:, :, 1:] ** 2, axis=2)))

    @property
    def stripes(self) -> tuple[FloatArray, FloatArray]:
        """Hours, and the phase with most by order, rms over so many intervals that they fit the map."""
        count = self.hours.size
        if not count:
            return np.empty(0), np.empty((0, ORDERS))
        step = -(-count // MOST_STRIPES)
        starts = np.arange(0, count, step)
        largest = np.where(np.isfinite(self.percent), self.percent, -1.0).max(axis=0)
        largest = np.where(largest < 0.0, np.nan, largest)
        rows = np.full((starts.size, ORDERS), np.nan)
        for row, start in enumerate(starts):
            part = largest[start : start + step] ** 2
            known = np.isfinite(part).any(axis=0)
            rows[row, known] = np.sqrt(np.nanmean(part[:, known], axis=0))
        return self.hours[starts], rows
