"""What an uncertain input may be: a range, a triangle, a bell, or a list of values."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy import stats

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray

GRID_STEPS = 5


class Distribution(Protocol):
    """An uncertain number."""

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and largest value."""
        ...

    def quantile(self, share: FloatArray) -> FloatArray:
        """Values below which the given shares of the probability lie."""
        ...

    def points(self) -> FloatArray:
        """Values to take on a grid."""
        ...

    @property
    def words(self) -> str:
        """For those who read the result."""
        ...


@dataclass(frozen=True)
class Range:
    """Every value between two is as likely as another.

    Parameters
    ----------
    low, high : float
        Ends, low below high.
    steps : int
        Values on a grid, ends included.
    """

    low: float
    high: float
    steps: int = GRID_STEPS

    def __post_init__(self) -> None:
        _finite(self.low, self.high)
        if not self.low < self.high:
            raise InputError("high", self.high, f"above low, {self.low:g}")
        if isinstance(self.steps, bool) or not isinstance(self.steps, int) or self.steps < 2:
            raise InputError("steps", self.steps, "a whole number from 2")

    @property
    def bounds(self) -> tuple[float, float]:
        return self.low, self.high

    def quantile(self, share: FloatArray) -> FloatArray:
        return np.asarray(stats.uniform.ppf(share, self.low, self.high - self.low))

    def points(self) -> FloatArray:
        return np.linspace(self.low, self.high, self.steps)

    @property
    def words(self) -> str:
        return f"from {self.low:g} to {self.high:g}, evenly"


@dataclass(frozen=True)
class Triangle:
    """A most likely value between two ends."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        _finite(self.low, self.likely, self.high)
        if not self.low < self.high:
            raise InputError("high", self.high, f"above low, {self.low:g}")
        if not self.low <= self.likely <= self.high:
            raise InputError("likely", self.likely, f"from {self.low:g} to {self.high:g}")

    @property
    def bounds(self) -> tuple[float, float]:
        return self.low, self.high

    def quantile(self, share: FloatArray) -> FloatArray:
        width = self.high - self.low
        return np.asarray(stats.triang.ppf(share, (self.likely - self.low) / width, self.low, width))

    def points(self) -> FloatArray:
        return np.unique([self.low, self.likely, self.high])

    @property
    def words(self) -> str:
        return f"from {self.low:g} to {self.high:g}, most likely {self.likely:g}"


@dataclass(frozen=True)
class Normal:
    """A normal distribution, cut off at two ends."""

    mean: float
    sd: float
    low: float
    high: float

    def __post_init__(self) -> None:
        _finite(self.mean, self.sd)
        if self.sd <= 0.0:
            raise InputError("sd", self.sd, "above 0")
        if not self.low <= self.mean <= self.high:
            raise InputError("mean", self.mean, f"from {self.low:g} to {self.high:g}")

    @property
    def bounds(self) -> tuple[float, float]:
        return self.low, self.high

    def quantile(self, share: FloatArray) -> FloatArray:
        ends = ((end - self.mean) / self.sd for end in self.bounds)
        return np.asarray(stats.truncnorm.ppf(share, *ends, loc=self.mean, scale=self.sd))

    def points(self) -> FloatArray:
        raise InputError("method", "grid", "latin hypercube, because an input has a mean and an sd")

    @property
    def words(self) -> str:
        ends = f"from {self.low:g} to {self.high:g}"
        return f"normal, mean {self.mean:g}, standard deviation {self.sd:g}, {ends}"


@dataclass(frozen=True)
class Values:
    """A list of values, each as likely as another."""

    values: tuple[float, ...]

    def __post_init__(self) -> None:
        if not self.values:
            raise InputError("values", "empty", "one value or more")
        _finite(*self.values)

    @property
    def bounds(self) -> tuple[float, float]:
        return min(self.values), max(self.values)

    def quantile(self, share: FloatArray) -> FloatArray:
        place = np.minimum((np.asarray(share) * len(self.values)).astype(int), len(self.values) - 1)
        return np.asarray(np.take(self.points(), place), dtype=float)

    def points(self) -> FloatArray:
        return np.asarray(self.values, dtype=float)

    @property
    def words(self) -> str:
        return "one of " + ", ".join(f"{value:g}" for value in self.values)


def _finite(*numbers: float) -> None:
    for number in numbers:
        if not math.isfinite(number):
            raise InputError("a number", number, "a finite number")
