from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from xlcalc.core.errors import InputError
from xlcalc.rectifier.impedance import ImpedanceTerm, Rational

S = 2j * np.pi * np.linspace(1.0, 5000.0, 50)
FILTER = Rational.series_branch(0.1, 1e-3).parallel(
    Rational.series_branch(0.05, 0.0, 200e-6) + Rational.series_branch(0.0, 5e-4).parallel(Rational((10.0,)))
)


def test_branches_are_what_they_say() -> None:
    branch = Rational.series_branch(2.0, 3e-3, 40e-6)
    assert branch.at(S) == pytest.approx(2.0 + S * 3e-3 + 1.0 / (S * 40e-6))
    other = Rational.series_branch(1.0, 2e-3)
    assert (branch + other).at(S) == pytest.approx(branch.at(S) + other.at(S))
    assert branch.parallel(other).at(S) == pytest.approx(1.0 / (1.0 / branch.at(S) + 1.0 / other.at(S)))


def test_partial_fractions_put_together_again_are_the_impedance() -> None:
    series = FILTER.partial_fractions()
    total = series.resistance + S * series.inductance + sum(term.at(S) for term in series.terms)
    assert total == pytest.approx(FILTER.at(S), rel=1e-9)
    assert series.at(S) == pytest.approx(FILTER.at(S), rel=1e-9)
    assert series.rational.at(S) == pytest.approx(FILTER.at(S), rel=1e-9)


def test_partial_fractions_agree_with_scipy() -> None:
    _, _, terms = FILTER.partial_fractions()
    residues, poles, _ = signal.residue(FILTER.above[::-1], FILTER.below[::-1])
    for term in terms:
        k = int(np.argmin(np.abs(poles - term.pole)))
        assert poles[k] == pytest.approx(term.pole, rel=1e-6)
        assert residues[k] == pytest.approx(term.residue * (1 if term.pole.imag else 2), rel=1e-4)


def test_a_plain_inductance_has_no_terms() -> None:
    assert Rational.series_branch(0.1, 1e-3).partial_fractions() == (0.1, 1e-3, ())


@pytest.mark.parametrize("pole", [0j, 5j, 1.0 + 2j, complex("nan")])
def test_a_pole_without_damping_is_refused(pole: complex) -> None:
    with pytest.raises(InputError, match="pole"):
        ImpedanceTerm(pole, 1.0 + 0j)


def test_an_impedance_that_rises_too_fast_is_refused() -> None:
    with pytest.raises(InputError, match="rises faster"):
        Rational((0.0, 0.0, 1.0)).partial_fractions()
