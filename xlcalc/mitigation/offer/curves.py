"""A price or footprint that depends on the rating: a formula, or points with straight lines between them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError


@dataclass(frozen=True)
class CostFormula:
    """``a + b kW^c``.

    Parameters
    ----------
    a, b : float
        0 or more, in the unit of the result.
    c : float
        Exponent, 0 to 3.

    Raises
    ------
    InputError
        A field is outside its range.

    Examples
    --------
    500 + 40 x 100^0.5, by hand

    >>> CostFormula(500.0, 40.0, 0.5).at(100.0)
    900.0
    """

    a: float = 0.0
    b: float = 0.0
    c: float = 1.0

    def __post_init__(self) -> None:
        number("a", self.a, least=0)
        number("b", self.b, least=0)
        number("c", self.c, least=0, most=3)

    def at(self, kw: float) -> float:
        return float(self.a + self.b * kw**self.c)

    def gap(self, low_kw: float, high_kw: float) -> str:
        """Ratings between two others for which there is no value; a formula has one everywhere."""
        return ""


@dataclass(frozen=True)
class Points:
    """Values at given ratings, straight lines between them and nothing outside.

    Parameters
    ----------
    points : tuple of (float, float)
        Rating in kW, above 0, and value, 0 or more; in any order, each rating once.

    Raises
    ------
    InputError
        No point, a rating twice, or a number outside its range.

    Examples
    --------
    A quarter of the way from 10 to 50 kW, by hand

    >>> Points(((50.0, 900.0), (10.0, 500.0))).at(20.0)
    600.0
    """

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if not self.points:
            raise InputError("points", "empty", "one point or more")
        for kw, value in self.points:
            number("rating of a point", kw, unit="kW", above=0)
            number(f"value at {kw:g} kW", value, least=0)
        ratings = sorted(kw for kw, _ in self.points)
        twice = next((a for a, b in pairwise(ratings) if a == b), None)
        if twice is not None:
            raise InputError("points", f"{twice:g} kW twice", "each rating once")
        object.__setattr__(self, "points", tuple(sorted(self.points)))

    @property
    def low_kw(self) -> float:
        return self.points[0][0]

    @property
    def high_kw(self) -> float:
        return self.points[-1][0]

    def at(self, kw: float) -> float:
        """Value at a rating.

        Raises
        ------
        InputError
            The rating lies outside the points.
        """
        number("rating", kw, unit="kW", least=self.low_kw, most=self.high_kw)
        ratings, values = zip(*self.points, strict=True)
        return float(np.interp(kw, ratings, values))

    def gap(self, low_kw: float, high_kw: float) -> str:
        """Ratings between two others for which there is no value, in words; empty where there are none."""
        parts = []
        if low_kw < self.low_kw:
            parts.append(f"below {self.low_kw:g} kW")
        if high_kw > self.high_kw:
            parts.append(f"above {self.high_kw:g} kW")
        return " and ".join(parts)


Curve = CostFormula | Points
