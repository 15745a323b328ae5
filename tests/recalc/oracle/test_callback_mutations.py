"""A wrong function of the library is seen by the probe grid: mutants are put in its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import grid
import numpy as np
import pytest
import witnesses

from xlcalc.recalc.evaluation.calling import callbacks
from xlcalc.recalc.evaluation.library.catalogue import LIBRARY

PROBES = list(grid.probes())
STORED = grid.stored()[1]
THIRD, RULES = (witnesses.stored()[name] for name in ("plain", "documented"))


def _differing(folder: Path, probes: list[tuple[str, int, str, str]]) -> set[str]:
    """Functions with a probe that is not refused, and agrees neither with LibreOffice nor with a rule."""
    shown, refused = grid.ours(folder, [formula for *_, formula in probes])
    explained = grid.known()

    def agrees(name: str, kind: str, formula: str, mine: object) -> bool:
        if grid.same(mine, STORED[formula]):
            return True
        return (name, kind) in explained and grid.same(mine, RULES.get(formula, THIRD[formula]))

    return {
        name
        for index, ((name, _, kind, formula), mine) in enumerate(zip(probes, shown, strict=True))
        if index not in refused and not agrees(name, kind, formula, mine)
    }


def _nudged(value: object) -> object:
    if isinstance(value, bool):
        return not value
    if isinstance(value, float | int):
        return value + max(abs(value), 1.0) * 1e-7
    if isinstance(value, str):
        return value + "x"
    if isinstance(value, list | np.ndarray):
        return [[_nudged(cell) for cell in row] for row in value]
    return value


def test_a_nudge_of_any_function_is_seen(tmp_path: Path, monkeypatch) -> None:
    def nudging(function: Callable[..., object]) -> Callable[..., object]:
        return lambda *given: _nudged(function(*given))

    probed = {name for name, *_ in PROBES} & LIBRARY.keys()
    changed = {name: nudging(LIBRARY[name]) for name in probed}
    monkeypatch.setattr(callbacks, "LIBRARY", {**LIBRARY, **changed})
    found = _differing(tmp_path, [probe for probe in PROBES if probe[1] == 0])
    assert probed - found == set()


def _without_last(name: str, arguments: int) -> Callable[..., object]:
    return lambda *given: LIBRARY[name](*given[: arguments - 1])


MUTANTS: Mapping[str, tuple[str, Callable[..., object]]] = {
    "a look-up that is always approximate": ("VLOOKUP", lambda *a: LIBRARY["VLOOKUP"](*a[:3], True)),
    "a match that takes FALSE for 1": ("MATCH", lambda *a: LIBRARY["MATCH"](*a[:2], 1.0)),
    "holidays forgotten": ("NETWORKDAYS", _without_last("NETWORKDAYS", 3)),
    "rounding away from zero forgotten": ("CEILING.MATH", _without_last("CEILING.MATH", 3)),
    "a divisor of two numbers only": ("GCD", _without_last("GCD", 3)),
    "a year of 360 days always": ("YEARFRAC", _without_last("YEARFRAC", 3)),
    "one criterion for two": ("COUNTIFS", lambda *a: LIBRARY["COUNTIFS"](*a[:2])),
    "payment at the end always": ("IPMT", _without_last("IPMT", 6)),
    "leading zeros forgotten": ("DEC2HEX", _without_last("DEC2HEX", 2)),
    "smallest for largest": ("LARGE", lambda *a: LIBRARY["SMALL"](*a)),
    "density for distribution": ("NORM.DIST", lambda *a: LIBRARY["NORM.DIST"](*a[:3], False)),
    "errors swallowed": ("QUOTIENT", lambda *a: LIBRARY["QUOTIENT"](*a) if a[1] else 0.0),
}


@pytest.mark.parametrize("what", MUTANTS)
def test_a_fault_that_people_make_is_seen(what: str, tmp_path: Path, monkeypatch) -> None:
    name, mutant = MUTANTS[what]
    monkeypatch.setattr(callbacks, "LIBRARY", {**LIBRARY, name: mutant})
    assert _differing(tmp_path, [probe for probe in PROBES if probe[0] == name]) == {name}
