"""The probe grid: each ordinary function with each kind of argument agrees, is refused, or is explained."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import grid
import witnesses

from xlcalc.recalc.evaluation import certified
from xlcalc.recalc.evaluation.ordinary import ORDINARY, SIGNATURES

PROBES = list(grid.probes())
FORMULAS = [formula for *_, formula in PROBES]
ARRAY_PROBES = witnesses.array_probes()
ARRAY_FORMULAS = [formula for *_, formula in ARRAY_PROBES]


@pytest.fixture(scope="module")
def ours(tmp_path_factory: pytest.TempPathFactory):
    return grid.ours(tmp_path_factory.mktemp("grid"), FORMULAS)


@pytest.fixture(scope="module")
def every(ours, tmp_path_factory: pytest.TempPathFactory) -> list[witnesses.Probe]:
    arrays = witnesses.array_ours(tmp_path_factory.mktemp("arrays"), ARRAY_FORMULAS)
    return list(witnesses.seen(ours, arrays))


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


def test_the_functions_that_are_evaluated_are_those_that_are_proved() -> None:
    probed = {name for name, *_ in (*PROBES, *ARRAY_PROBES)}
    assert probed & witnesses.WITHOUT_WITNESS.keys() == set()
    assert probed | witnesses.WITHOUT_WITNESS.keys() == set(SIGNATURES)
    assert set(ORDINARY) == set(SIGNATURES)


def test_what_is_proved_is_written_down(every) -> None:
    assert witnesses.table(every) == certified.TABLE.read_text(encoding="utf-8"), "run grid.py"


def test_every_probe_has_a_witness(every) -> None:
    explained, known = grid.known(), witnesses.known_ironcalc()
    assert [p for p in every if not witnesses.verdict(p, explained, known)] == []


def test_where_a_documented_rule_is_followed_the_value_stays(every) -> None:
    kept = witnesses.stored()["documented"]
    now = witnesses.documented(every)
    assert now.keys() == kept.keys(), "run grid.py"
    assert [formula for formula, value in now.items() if not witnesses.same(value, kept[formula])] == []


def test_the_third_witness_agrees_or_the_difference_is_explained(every) -> None:
    known = witnesses.known_ironcalc()
    differing = [
        probe
        for probe in every
        if not probe.refused
        and witnesses.has(probe.ironcalc)
        and not witnesses.same(probe.ours, probe.ironcalc)
    ]
    lines = {witnesses.explanation(probe, known) for probe in differing}
    assert [probe for probe in differing if not witnesses.explanation(probe, known)] == []
    assert {line for *_, line in known} - lines == set()


def test_the_third_witness_still_shows_what_is_stored(tmp_path: Path) -> None:
    pytest.importorskip("ironcalc", reason="ironcalc is not installed")
    kept = witnesses.stored()
    shown = witnesses.ironcalc_plain(tmp_path, FORMULAS)
    over = witnesses.ironcalc_arrays(tmp_path, ARRAY_FORMULAS)
    assert dict(zip(FORMULAS, shown, strict=True)) == kept["plain"]
    assert dict(zip(ARRAY_FORMULAS, over, strict=True)) == {f: b for f, (_, b) in kept["arrays"].items()}


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


def test_explained_differences_still_exist(every) -> None:
    found = {
        (probe.name, probe.kind)
        for probe in every
        if not probe.refused
        and witnesses.has(probe.libreoffice)
        and not witnesses.same(probe.ours, probe.libreoffice)
    }
    assert grid.known() - found == set()
