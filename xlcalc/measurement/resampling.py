"""Samples at instants between those that were recorded: interpolation by a windowed sinc.

The window is Kaiser's (Oppenheim and Schafer, *Discrete-Time Signal Processing*, section on Kaiser windows,
for its length and shape parameter; from memory). scipy resamples by a ratio of two integers only; here the
instants follow the frequency of the mains.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.spectrum import FloatArray
from xlcalc.rectifier.compiled.machine_code import call

ATTENUATION_DB: Final = 200.0
"""Of what would fall onto the lines: 1e-10 of a signal."""
MOST_TAPS: Final = 64
"""On either side of an instant."""
_CELLS: Final = 512
"""Of the distance between two samples; within each the weights are cubics, to 1e-12."""
KAISER_BETA: Final = 0.1102 * (ATTENUATION_DB - 8.7)
_LENGTH: Final = (ATTENUATION_DB - 8.0) / 2.285


def highest_share() -> float:
    """Highest frequency that the interpolation keeps, as a share of the sampling rate (0.5 is Nyquist's)."""
    return 0.5 - _LENGTH / (2 * MOST_TAPS) / (4.0 * math.pi)


@dataclass(frozen=True)
class Interpolator:
    """Keeps what lies below `share` of the sampling rate to 1e-10.

    Parameters
    ----------
    share : float
        Above 0 up to `highest_share`.
    """

    share: float

    @cached_property
    def taps(self) -> int:
        """Samples needed on either side of an instant."""
        return math.ceil(_LENGTH / (2.0 * math.pi * (1.0 - 2.0 * self.share)) / 2.0)

    @property
    def least_rate(self) -> float:
        """Points per sample from which on nothing that passes falls onto what lies below `share`."""
        return self.share + 0.5 + _LENGTH / (8.0 * math.pi * self.taps)

    def at(self, rows: FloatArray, positions: npt.NDArray[np.floating[Any]]) -> FloatArray:
        """Values at positions between the samples.

        Parameters
        ----------
        rows : array of float, shape (m, n)
            m channels.
        positions : array of float, shape (k,)
            Ascending, in samples from the first, from `taps` to ``n - 1 - taps``.

        Returns
        -------
        array of float, shape (m, k)

        Raises
        ------
        ValueError
            A position is outside that range.
        """
        before, width = self.taps - 1, 2 * self.taps
        if not (before <= positions[0] <= positions[-1] < rows.shape[1] - self.taps):
            raise ValueError(f"positions from {positions[0]} to {positions[-1]} of {rows.shape[1]}")
        found = np.empty((rows.shape[0], positions.size))
        arrays = (
            np.ascontiguousarray(rows, dtype=float),
            np.ascontiguousarray(positions - before, dtype=float),
            self._weights,
            np.empty(width),
            found,
        )
        call("resample", (positions.size, *rows.shape, width, _CELLS), arrays)
        return found

    @cached_property
    def _weights(self) -> FloatArray:
        """Weight of each sample as a cubic of how far the instant lies in each cell between two samples."""
        import scipy

        nodes = 0.5 - 0.5 * np.cos(np.pi * (np.arange(4) + 0.5) / 4.0)
        share = (np.arange(_CELLS)[:, None] + nodes) / _CELLS
        distance = share[:, :, None] - np.arange(1 - self.taps, self.taps + 1)
        inside = np.sqrt(np.maximum(0.0, 1.0 - (distance / self.taps) ** 2))
        weights = np.sinc(distance) * scipy.special.i0(KAISER_BETA * inside) / scipy.special.i0(KAISER_BETA)
        return np.ascontiguousarray(np.linalg.inv(np.vander(nodes)) @ weights)
