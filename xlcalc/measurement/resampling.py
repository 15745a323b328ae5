"""Samples at instants between those that were recorded: interpolation by a windowed sinc.

The window is Kaiser's (Oppenheim and Schafer, *Discrete-Time Signal Processing*, section on Kaiser windows,
for its length and shape parameter; from memory). scipy resamples by a ratio of two integers only; here the
instants follow the frequency of the mains.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from numpy.polynomial import chebyshev

from xlcalc.spectrum import FloatArray

ATTENUATION_DB: Final = 200.0
"""Of what would fall onto the lines: 1e-10 of a signal."""
MOST_TAPS: Final = 64
"""On either side of an instant."""
_DEGREE: Final = 20
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

    @property
    def taps(self) -> int:
        """Samples needed on either side of an instant."""
        return math.ceil(_LENGTH / (2.0 * math.pi * (1.0 - 2.0 * self.share)) / 2.0) + 1

    def at(self, samples: FloatArray, positions: npt.NDArray[np.floating[Any]]) -> FloatArray:
        """Values at positions between the samples.

        Parameters
        ----------
        samples : array of float, shape (n, m)
            m channels.
        positions : array of float, shape (k,)
            In samples from the first, from `taps` to ``n - 1 - taps``.

        Returns
        -------
        array of float, shape (k, m)
        """
        whole = np.floor(positions).astype(np.int64)
        # Instants are nearly a sample apart, so that those between two jumps share one view of the samples.
        weights = chebyshev.chebvander(2.0 * (positions - whole) - 1.0, _DEGREE) @ self._weights
        rows = np.ascontiguousarray(samples.T)
        spans = np.lib.stride_tricks.sliding_window_view(rows, 2 * self.taps, axis=1)
        found = np.empty((samples.shape[1], positions.size))
        before = self.taps - 1
        edges = [0, *(np.flatnonzero(np.diff(whole) != 1) + 1).tolist(), positions.size]
        for begin, end in pairwise(edges):
            first = whole[begin] - before
            span = spans[:, first : first + end - begin]
            np.einsum("kt,mkt->mk", weights[begin:end], span, out=found[:, begin:end])
        return found.T

    @cached_property
    def _weights(self) -> FloatArray:
        """Chebyshev coefficients of the weight of each sample, by how far the instant lies between two.

        They take a tenth of the time of the Bessel function itself and differ from it by 1e-12.
        """
        import scipy

        share = 0.5 + 0.5 * chebyshev.chebpts1(2 * _DEGREE)
        distance = share[:, None] - np.arange(1 - self.taps, self.taps + 1)
        inside = np.sqrt(np.maximum(0.0, 1.0 - (distance / self.taps) ** 2))
        weights = np.sinc(distance) * scipy.special.i0(KAISER_BETA * inside) / scipy.special.i0(KAISER_BETA)
        return np.asarray(chebyshev.chebfit(2.0 * share - 1.0, weights, _DEGREE))
