"""Combinations give what the worksheet functions give for the same values; the levels are those of numpy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from scipy import stats

from xlcalc.core.errors import InputError
from xlcalc.jobs.journal import Journal
from xlcalc.jobs.pools import HerePool, ProcessPool
from xlcalc.jobs.sweep.sweep_job import SweepJob
from xlcalc.jobs.sweep.sweep_plant import SiteModel
from xlcalc.jobs.sweep.sweep_run import sweep
from xlcalc.jobs.sweep.sweep_spec import read_spec
from xlcalc.jobs.sweep.sweep_tables import curve_table, level_table, rank_table
from xlcalc.worksheet.catalogue import FUNCTIONS

DRIVES = (
    "Tag,Qty,Rating (kW),Pulses,Line reactor (%),DC choke (%),Load (%)\nA,2,100,6,3,,90\nB,1,250,12,,4,100\n"
)
SPEC = """
[sweep]
samples = 16
seed = 4
[site]
"utility mva" = { low = 100, high = 400 }
"transformer z pct" = { tolerance_pct = 10 }
[settings]
"background 5th pct" = { low = 0, high = 2 }
[drives]
"load pct" = { factor = { low = 0.7, high = 1 } }
[drives.A]
"line reactor pct" = { values = [3, 5] }
"""


@pytest.fixture
def prepared(tmp_path, site, read):
    rows = read(DRIVES).accepted
    path = tmp_path / "sweep.toml"
    path.write_text(SPEC, encoding="utf-8")
    return read_spec(path, {"site": site.site, "settings": site.settings}, rows["tag"].tolist()), rows


def test_each_combination_equals_the_worksheet_function(site, prepared):
    spec, rows = prepared
    samples = sweep(spec, SiteModel.of(spec, site, rows), HerePool())
    assert len(samples) == 16
    assert (samples["reason"] == "").all()
    for _, sample in samples.head(3).iterrows():
        plant = {**site.site, "utility mva": sample["utility mva"]}
        plant["transformer z pct"] = 6.0 * sample["transformer z pct (factor)"]
        factor = sample["load pct of all drives (factor)"]
        drives = [
            ["tag", "quantity", "rating", "unit", "pulses", "line reactor pct", "dc choke pct", "load pct"],
            ["A", 2.0, 100.0, "kW", 6.0, sample["line reactor pct of A"], None, 90.0 * factor],
            ["B", 1.0, 250.0, "kW", 12.0, None, 4.0, 100.0 * factor],
        ]
        given = [[name, value] for name, value in plant.items() if value is not None]
        settings = [["background 5th pct", sample["background 5th pct"]], ["solution", "uncoupled"]]
        for quantity, column in (("TDD", "tdd pct"), ("THDV", "thdv pct"), ("ISC_IL", "isc/il")):
            expected = FUNCTIONS["HD_PCC_VALUE"]([drives, given, quantity, settings])
            assert sample[column] == pytest.approx(expected, rel=1e-8)


def test_processes_give_the_same_numbers(site, prepared, assert_equal_to_rounding):
    spec, rows = prepared
    here = sweep(spec, SiteModel.of(spec, site, rows), HerePool())
    there = sweep(spec, SiteModel.of(spec, site, rows), ProcessPool(2))
    assert_equal_to_rounding(here, there)


def test_levels_and_ranks(site, prepared):
    spec, rows = prepared
    samples = sweep(spec, SiteModel.of(spec, site, rows), HerePool())
    levels = level_table(samples).set_index("quantity")
    for name in ("tdd pct", "thdv pct"):
        values = samples[name].to_numpy()
        assert levels.loc[name, "p95"] == pytest.approx(np.percentile(values, 95))
        assert levels.loc[name, "worst"] == values.max()
        assert levels.loc[name, "least"] <= levels.loc[name, "p50"] <= levels.loc[name, "p95"]
    ranks = rank_table(spec, samples).set_index("input")
    expected = stats.kendalltau(samples["utility mva"], samples["thdv pct"]).statistic
    rho = ranks.loc["utility mva", "rank correlation with thdv pct"]
    assert np.sign(rho) == np.sign(expected)
    weights = ranks.filter(like="rank").abs().max(axis=1).to_numpy()
    assert (np.diff(weights) <= 0).all()
    assert curve_table(samples)["tdd pct"].is_monotonic_increasing


def test_one_input_that_alone_decides_has_rank_one(tmp_path, site, read):
    """Without background and with one load the voltage distortion falls with a stronger utility."""
    rows = read(DRIVES).accepted
    path = tmp_path / "sweep.toml"
    path.write_text("[sweep]\nmethod = 'grid'\n[site]\n'utility mva' = {low=100, high=400, steps=7}\n")
    spec = read_spec(path, {"site": site.site, "settings": site.settings}, ["A", "B"])
    samples = sweep(spec, SiteModel.of(spec, site, rows), HerePool())
    assert samples["utility mva"].tolist() == np.linspace(100, 400, 7).tolist()
    assert rank_table(spec, samples)["rank correlation with thdv pct"][0] == pytest.approx(-1.0)


def test_combinations_without_a_result_are_counted_not_dropped(tmp_path, site, read):
    rows = read(DRIVES).accepted
    path = tmp_path / "sweep.toml"
    text = "[sweep]\nmethod = 'grid'\n[drives]\n'rating' = {values=[100, 99000]}\n"
    path.write_text(text)
    spec = read_spec(path, {"site": site.site, "settings": site.settings}, ["A", "B"])
    samples = sweep(spec, SiteModel.of(spec, site, rows), HerePool())
    assert samples["reason"].str.contains("rating of drive").tolist() == [False, True]
    levels = level_table(samples)
    assert levels["without a result"].tolist() == [1, 1]
    assert np.isfinite(levels["worst"]).all()


def test_job_writes_tables_and_native_charts(tmp_path):
    demo = Path(__file__).parents[3] / "demo"
    job = SweepJob(demo / "drives.csv", demo / "site.toml", demo / "sweep.toml", samples=12)
    job.read()
    result = job.run(HerePool())
    job.write(result, tmp_path / "out.xlsx")
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert book.sheetnames == ["outcome", "levels", "inputs that matter", "curve", "combinations", "how"]
    assert len(book["outcome"]._charts) == 3
    assert book["combinations"].max_row == 13
    assert any("P95" in line for line in result.lines())
    again = SweepJob(demo / "drives.csv", demo / "site.toml", demo / "sweep.toml", samples=12)
    again.read()
    assert again.run(HerePool()).samples.equals(result.samples)


def test_an_interrupted_sweep_goes_on_with_what_is_done(site, prepared, tmp_path):
    spec, rows = prepared
    whole = sweep(spec, SiteModel.of(spec, site, rows), HerePool())
    path = tmp_path / "out.xlsx.journal"
    done = []

    def stop(solved, total):
        done.append(solved)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        sweep(spec, SiteModel.of(spec, site, rows), HerePool(), stop, Journal(path, {"seed": 4}))
    assert path.exists()

    class Watched:
        def run(self, function, tasks):
            done.append(sum(len(task.drawn) for task in tasks))
            return HerePool().run(function, tasks)

    resumed = sweep(
        spec, SiteModel.of(spec, site, rows), Watched(), None, Journal(path, {"seed": 4}), resume=True
    )
    assert done == [10, 6]
    pd.testing.assert_frame_equal(resumed, whole)
    assert not path.exists()
    with pytest.raises(InputError, match="--resume"):
        sweep(spec, SiteModel.of(spec, site, rows), HerePool(), None, Journal(path, {"seed": 4}), resume=True)
    sweep_again = Journal(path, {"seed": 5})
    sweep_again.start({})
    sweep_again.close(finished=False)
    with pytest.raises(InputError, match=r"another run \(.* was .*, is .*\)"):
        sweep(spec, SiteModel.of(spec, site, rows), HerePool(), None, Journal(path, {"seed": 4}), resume=True)
