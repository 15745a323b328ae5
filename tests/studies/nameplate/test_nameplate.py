"""A study of drives that are known by their nameplates: P95, what each assumption moves, and the verdict."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

import xlcalc as xl
from xlcalc.cli.app import app
from xlcalc.io.lists.schedule import read_schedule
from xlcalc.io.plants.site import Site, site_from
from xlcalc.jobs.schedule.site_run import run_site
from xlcalc.schema.assembly.site import options_of, plant_of
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.settings import PLANT_SETTINGS
from xlcalc.schema.inputs.site import SITE
from xlcalc.studies.nameplate.sampling import SAMPLES, with_values
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import solve_uncoupled
from xlcalc.studies.verdict.assessment import assess
from xlcalc.worksheet.catalogue import FUNCTIONS

HEADINGS = ["tag", "rating", "unit", "pulses", "line reactor pct", "dc choke pct"]
ROWS: list[list[Any]] = [
    ["P1", 120.0, "A", 6.0, None, "yes"],
    ["P2", 60.0, "hp", 6.0, "3 % equivalent", None],
]
SITE_ROWS: list[list[Any]] = [
    ["utility kv", 13.8],
    ["utility mva", 200.0],
    ["transformer kva", 1500.0],
    ["transformer z pct", 5.75],
    ["main bus volts", 480.0],
    ["linear load kw", 500.0],
]


def plant(rows: list[list[Any]] = ROWS, site: list[list[Any]] = SITE_ROWS) -> tuple[StudiedPlant, PccOptions]:
    values = SITE.convert(site, "site")
    settings = PLANT_SETTINGS.convert([["edition", 2022.0]], "settings")
    drives = DRIVES.convert([HEADINGS, *rows], "drives")
    return plant_of(drives, values, settings), options_of(values, settings)


def test_a_row_of_volts_amperes_and_words_is_solved_and_marked() -> None:
    found, options = plant()
    assessment = assess(found, options, supply="ideal")
    assert assessment.word == "PASS"
    assert "PASS with assumed dc choke pct" in assessment.summary
    assert "with assumed dc choke pct" in assessment.finding
    spread = assessment.spread
    assert spread is not None
    names = {move.unknown.name for move in spread.moves}
    assert names >= {"dc choke pct", "line reactor pct", "link power from input amperes", "dc capacitance"}
    assert [move.distance for move in spread.moves] == sorted(
        (m.distance for m in spread.moves), reverse=True
    )
    for move in spread.moves:
        assert any(move.unknown.text in remark and "moves" in remark for remark in assessment.remarks)


def test_p95_is_that_of_independent_samples() -> None:
    """400 samples drawn by numpy instead of those of a Latin square."""
    found, options = plant()
    spread = assess(found, options, supply="ideal").spread
    assert spread is not None
    random = np.random.default_rng(1)
    tdd = []
    for _ in range(400):
        values = {
            f"{u.name} of {','.join(u.tags)}": random.triangular(u.low, u.typical, max(u.high, u.low + 1e-12))
            for u in found.unknowns
        }
        drawn = replace(found, drives=with_values(found.drives, found.unknowns, values))
        tdd.append(solve_uncoupled(drawn).pcc(options).tdd_pct)
    assert spread.samples == SAMPLES
    assert spread.tdd_pct == pytest.approx(np.percentile(tdd, 95.0), rel=0.03)


def test_what_an_assumption_moves_is_the_study_at_its_ends() -> None:
    found, options = plant()
    spread = assess(found, options, supply="ideal").spread
    assert spread is not None
    move = next(m for m in spread.moves if m.unknown.name == "dc choke pct")
    for end, value in ((move.unknown.low, move.at_low), (move.unknown.high, move.at_high)):
        drives = tuple(
            replace(d, front_end=replace(d.front_end, choke_pct=end)) if d.tag in move.unknown.tags else d
            for d in found.drives
        )
        pcc = solve_uncoupled(replace(found, drives=drives)).pcc(options)
        assert next(v.value for v in pcc.judgement.verdicts if v.name == spread.binding) == pytest.approx(
            value
        )


def test_what_passes_with_typical_values_only_has_no_verdict() -> None:
    """A limit between the typical value and P95."""
    found, options = plant(ROWS, [*SITE_ROWS[:-1], ["linear load kw", 300.0]])
    assessment = assess(found, options, supply="ideal")
    assert assessment.pcc is not None
    assert assessment.pcc.judgement.word == "PASS"
    assert assessment.word == "NO VERDICT"
    assert "PASS only with typical values" in assessment.reason
    assert "dc choke pct of P1" in assessment.reason


def test_given_percent_leave_nothing_open() -> None:
    found, options = plant([["P1", 75.0, "kW", 6.0, 3.0, None]])
    assert found.unknowns == ()
    assert assess(found, options, supply="ideal").spread is None
    given, _ = plant([["P1", 75.0, "kW", 6.0, 3.0, "no"]])
    assert given == found


def in_bulk(text: str, tmp_path: Path) -> Any:
    path = tmp_path / "drives.csv"
    path.write_text(text, encoding="utf-8")
    site: Site = site_from(
        "north", {"site": dict(SITE_ROWS), "settings": {"edition": 2022, "supply": "ideal"}}
    )
    schedule = read_schedule(path, [site])
    assert not schedule.problems
    (case,) = run_site(site, schedule.accepted).cases
    return next(iter(case.kinds.assessments.values()))


def test_a_list_as_people_write_it_gives_the_same(tmp_path: Path) -> None:
    text = "Tag,Input current (A),hp,Pulses,Line reactor,DC choke\nP1,120,,6,,Yes\nP2,,60,6,3% equiv.,no\n"
    listed = in_bulk(text, tmp_path)
    found, options = plant()
    typed = assess(found, options, supply="ideal")
    assert listed.word == typed.word == "PASS"
    assert listed.pcc.tdd_pct == pytest.approx(typed.pcc.tdd_pct, rel=1e-6)  # type: ignore[union-attr]
    assert listed.spread.tdd_pct == pytest.approx(typed.spread.tdd_pct, rel=1e-6)  # type: ignore[union-attr]
    assert listed.spread.names == typed.spread.names  # type: ignore[union-attr]


def test_the_schedule_command_marks_its_pass(tmp_path: Path) -> None:
    drives, site = tmp_path / "drives.csv", tmp_path / "site.toml"
    drives.write_text("Tag,Input current (A),Pulses,DC choke\nP1,120,6,Yes\n", encoding="utf-8")
    lines = [f'"{name}" = {value}' for name, value in SITE_ROWS]
    site.write_text("\n".join(["[site]", *lines, "[settings]", 'supply = "ideal"']), encoding="utf-8")
    done = CliRunner().invoke(
        app, ["schedule", str(drives), "--site", str(site), "-o", f"{tmp_path}/out.csv"]
    )
    said = " ".join(done.output.split())
    assert done.exit_code == 0
    assert "Verdict: PASS with assumed dc choke pct" in said
    assert "by nameplate, with typical values: P1 (input current, dc choke pct=yes)" in said


def test_drives_in_python_take_words_and_amperes() -> None:
    drive = xl.Drive("P1", input_amps=120, volts=480, pulses=6, dc_choke_pct="yes")
    found, _ = plant()
    assert drive.rated_watts == pytest.approx(found.drives[0].rated_watts)
    site = xl.Plant(
        utility_kv=13.8,
        utility_mva=200,
        transformer_kva=1500,
        transformer_z_pct=5.75,
        main_bus_volts=480,
        linear_load_kw=500,
        settings={"supply": "ideal"},
    )
    study = xl.study(site, [drive, xl.Drive("P2", hp=60, pulses=6, line_reactor_pct="3 % equivalent")])
    assert study.verdict == "PASS"
    assert "with assumed dc choke pct" in str(study.remarks)
    alone = xl.solve(xl.Drive("P1", input_amps=120, pulses=6, dc_choke_pct="yes"), xl.Supply(kv=0.48, mva=12))
    assert alone.rms_amps == pytest.approx(120.0, rel=0.02)
    with pytest.raises(xl.InputError, match="volts of drive P1"):
        _ = xl.Drive("P1", input_amps=120, pulses=6).rated_watts
    with pytest.raises(xl.InputError, match="one of kw, hp and input_amps"):
        xl.Drive("P1", input_amps=120, kw=55, pulses=6)


def test_words_that_mean_nothing_are_refused_with_what_is_valid() -> None:
    cells: Any = [[HEADINGS, *[["P1", 75.0, "kW", 6.0, None, "maybe"]]], SITE_ROWS, "TDD"]
    refused = FUNCTIONS["HD_PCC_VALUE"](cells)
    assert "yes, no, unknown, '3 % equivalent'" in refused.reason  # type: ignore[union-attr]


def test_assumptions_in_a_sheet() -> None:
    rows = FUNCTIONS["HD_ASSUMPTIONS"]([[HEADINGS, *ROWS], SITE_ROWS])
    assert isinstance(rows, list)
    assert {row[0] for row in rows} >= {"dc choke pct", "line reactor pct", "link power from input amperes"}
    p95 = FUNCTIONS["HD_PCC_VALUE"]([[HEADINGS, *ROWS], SITE_ROWS, "P95_TDD"])
    tdd = FUNCTIONS["HD_PCC_VALUE"]([[HEADINGS, *ROWS], SITE_ROWS, "TDD"])
    assert isinstance(p95, float)
    assert isinstance(tdd, float)
    assert p95 > tdd
