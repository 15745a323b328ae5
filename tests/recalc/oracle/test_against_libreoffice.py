"""Every classic formula of two lists must agree with LibreOffice."""

from __future__ import annotations

from pathlib import Path

import pytest


def _listed(name: str) -> list[str]:
    lines = Path(__file__).with_name(name).read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line and not line.startswith("#")]


FORMULAS = _listed("classic_formulas.txt")
ARRAYS = _listed("array_formulas.txt")


@pytest.fixture(scope="module")
def results(compare):
    plain, arrays = compare(FORMULAS, ARRAYS)
    return dict(zip(FORMULAS, plain, strict=True)), dict(zip(ARRAYS, arrays, strict=True))


@pytest.mark.parametrize("formula", FORMULAS)
def test_agrees(formula: str, results) -> None:
    compared = results[0][formula]
    assert not compared.refused
    assert compared.same, f"{compared.ours!r}, LibreOffice: {compared.theirs!r}"


@pytest.mark.parametrize("formula", ARRAYS)
def test_array_formula_agrees(formula: str, results) -> None:
    compared = results[1][formula]
    assert not compared.refused
    assert compared.same, f"{compared.ours!r}, LibreOffice: {compared.theirs!r}"
