"""Distributions against their textbook moments and quantiles.

Mean and variance of the uniform and triangular distributions: Evans, Hastings and Peacock, Statistical
Distributions (from memory); quantiles of the normal distribution: any table (1.6449 at 95 %).
"""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.jobs.sweep.distributions import Normal, Range, Triangle, Values

SHARES = (np.arange(200_000) + 0.5) / 200_000


@pytest.mark.parametrize(
    ("distribution", "mean", "variance"),
    [
        (Range(4.0, 7.0), 5.5, 9.0 / 12.0),
        (Triangle(0.0, 0.5, 2.0), 2.5 / 3.0, (0.25 + 4.0 - 1.0) / 18.0),
        (Triangle(1.0, 1.0, 2.0), 4.0 / 3.0, 1.0 / 18.0),
        (Normal(1.5, 0.5, -100.0, 100.0), 1.5, 0.25),
        (Values((3.0, 5.0)), 4.0, 1.0),
    ],
)
def test_moments(distribution, mean, variance):
    drawn = distribution.quantile(SHARES)
    assert drawn.mean() == pytest.approx(mean, rel=1e-4)
    assert drawn.var() == pytest.approx(variance, rel=1e-3)


def test_normal_quantiles_and_cut():
    assert Normal(0.0, 1.0, -50.0, 50.0).quantile(np.array([0.95]))[0] == pytest.approx(1.644854, abs=1e-6)
    cut = Normal(0.0, 1.0, 0.0, np.inf).quantile(np.array([0.0, 0.5]))
    assert cut == pytest.approx([0.0, 0.674490], abs=1e-6)


def test_points_of_a_grid():
    assert Range(1.0, 3.0, 3).points().tolist() == [1.0, 2.0, 3.0]
    assert Triangle(1.0, 2.0, 3.0).points().tolist() == [1.0, 2.0, 3.0]
    assert Values((5.0, 3.0)).points().tolist() == [5.0, 3.0]
    with pytest.raises(InputError, match="grid"):
        Normal(1.0, 1.0, 0.0, 2.0).points()


@pytest.mark.parametrize(
    "make",
    [
        lambda: Range(2.0, 1.0),
        lambda: Range(0.0, np.inf),
        lambda: Range(0.0, 1.0, 1),
        lambda: Triangle(0.0, 3.0, 2.0),
        lambda: Normal(0.0, 0.0, -1.0, 1.0),
        lambda: Normal(5.0, 1.0, 0.0, 1.0),
        lambda: Values(()),
        lambda: Values((np.nan,)),
    ],
)
def test_senseless_ones_are_refused(make):
    with pytest.raises(InputError):
        make()
