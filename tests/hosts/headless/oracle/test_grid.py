"""The probe grid: each ordinary function with each kind of argument agrees, is refused, or is explained."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import grid

from xlcalc.hosts.headless.evaluation.ordinary import ORDINARY

PROBES = list(grid.probes())
FORMULAS = [formula for *_, formula in PROBES]
ELSEWHERE = frozenset(
    "SHEET SHEETS FORMULATEXT ISFORMULA AREAS ISREF CELL TYPE "
    "XLOOKUP XMATCH TRANSPOSE UNIQUE FILTER SORT TAKE DROP SORTBY SEQUENCE HSTACK VSTACK CHOOSECOLS "
    "CHOOSEROWS TOCOL TOROW MMULT MINVERSE MDETERM MUNIT WRAPROWS WRAPCOLS EXPAND CONCAT TEXTJOIN TEXTBEFORE "
    "TEXTAFTER TEXTSPLIT BINOM.DIST.RANGE COLUMNS ROWS COLUMN ROW PI TRUE FALSE NA TODAY NOW RAND "
    "RANDBETWEEN".split()
)
"""Functions without an oracle here, of no argument, or about places; their tests stand beside this folder."""


@pytest.fixture(scope="module")
def ours(tmp_path_factory: pytest.TempPathFactory):
    return grid.ours(tmp_path_factory.mktemp("grid"), FORMULAS)


def _differences(ours, theirs: list[object]) -> list[str]:
    shown, refused = ours
    explained = grid.known()
    return [
        f"={formula} ({kind}): {mine!r}, LibreOffice {other!r}"
        for index, ((name, _, kind, formula), mine, other) in enumerate(
            zip(PROBES, shown, theirs, strict=True)
        )
        if index not in refused and not grid.same(mine, other) and (name, kind) not in explained
    ]


def test_every_function_is_proved() -> None:
    assert {name for name, *_ in PROBES} == set(ORDINARY) - ELSEWHERE


def test_plain_use_is_not_refused(ours) -> None:
    _, refused = ours
    plain = [index for index, (_, place, _, _) in enumerate(PROBES) if place == 0]
    assert [FORMULAS[index] for index in plain if index in refused] == []


def test_agrees_with_what_is_stored(ours) -> None:
    _, values = grid.stored()
    assert list(values) == FORMULAS, "run grid.py to store the results of new probes"
    assert _differences(ours, list(values.values())) == []


def test_agrees_with_libreoffice(ours, tmp_path: Path, office: str) -> None:
    version, values = grid.stored()
    live = grid.libreoffices(tmp_path, FORMULAS, office)
    if grid.version(office) == version:
        assert [f for f, now, then in zip(FORMULAS, live, values.values(), strict=True) if now != then] == []
    assert _differences(ours, live) == []


def test_explained_differences_still_exist(ours) -> None:
    shown, refused = ours
    _, values = grid.stored()
    found = {
        (name, kind)
        for index, ((name, _, kind, _), mine, other) in enumerate(
            zip(PROBES, shown, values.values(), strict=True)
        )
        if index not in refused and not grid.same(mine, other)
    }
    assert grid.known() - found == set()
