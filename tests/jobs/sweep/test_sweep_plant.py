"""Combinations of a plant give what the worksheet functions give for the same values; all invented."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from xlcalc.core.errors import InputError
from xlcalc.io.lists.schedule import read_schedule
from xlcalc.io.plants.plant_file import PlantSite, plant_from
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.journal import Journal
from xlcalc.jobs.pools import HerePool, ProcessPool
from xlcalc.jobs.sweep.sweep_job import SweepJob
from xlcalc.jobs.sweep.sweep_plant import PlantModel
from xlcalc.jobs.sweep.sweep_plant_spec import PlantSpec, read_plant_sweep
from xlcalc.jobs.sweep.sweep_run import sweep
from xlcalc.jobs.sweep.sweep_tables import failing_anywhere_pct, level_table, rank_table, weakest_first
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.worksheet.catalogue import FUNCTIONS

DEMO = Path(__file__).parents[3] / "demo"
PLANT, DRIVES = DEMO / "starter_plant.toml", DEMO / "starter_plant_drives.csv"
SPEC = """
[sweep]
samples = 6
seed = 4
[settings]
"background 5th pct" = { low = 0, high = 2 }
[network.utility]
"min mva" = { low = 100, high = 150 }
[network.transformers]
"z pct" = { tolerance_pct = 10 }
[network.transformers.t2]
"x/r" = { values = [5, 7] }
[drives]
"load pct" = { factor = { low = 0.7, high = 1 } }
[drives.P-2]
"line reactor pct" = { values = [3, 5] }
"""


@pytest.fixture(scope="module")
def plant() -> PlantSite:
    read = read_drive_site(PLANT)
    assert isinstance(read, PlantSite)
    return read


@pytest.fixture(scope="module")
def rows(plant) -> pd.DataFrame:
    return read_schedule(DRIVES, [plant]).accepted


@pytest.fixture
def spec_of(plant, rows, tmp_path):
    def read(text: str, site: PlantSite | None = None) -> PlantSpec:
        path = tmp_path / "sweep.toml"
        path.write_text(text, encoding="utf-8")
        return read_plant_sweep(path, site or plant, rows["tag"].tolist())

    return read


def swept(spec: PlantSpec, plant: PlantSite, rows: pd.DataFrame, pool=None, *more, **options) -> pd.DataFrame:
    return sweep(spec.sweep, PlantModel.of(spec, plant, rows), pool or HerePool(), *more, **options)


def cells(records: list[dict[str, object]]) -> list[list[object]]:
    headings = list(dict.fromkeys(key for record in records for key in record))
    return [headings, *[[record.get(key) for key in headings] for record in records]]


def expected(sample: pd.Series, quantity: str, solution: str, largest: float | None = None) -> float:
    """The worksheet function, its ranges made without the code under test."""
    content = tomllib.loads(PLANT.read_text(encoding="utf-8"))
    case = next(case for case in content["cases"] if case["name"] == sample["case"])
    content["utility"][0]["min mva"] = sample["min mva of the utility"]
    for row in content["transformers"]:
        own = f"z pct of {row['name']} in transformers (factor)"
        row["z pct"] *= sample[own] if own in sample else sample["z pct of all transformers (factor)"]
        if row["name"] == "T2":
            row["x/r"] = sample["x/r of T2 in transformers"]
    stack: list[list[object]] = []
    for section in NETWORK.sections:
        if section.title in content:
            stack += [[section.title], *cells(content[section.title])]
    width = max(map(len, stack))
    drives = pd.read_csv(DRIVES).drop(columns="Description")
    drives.columns = [name.lower().replace("(%)", "pct") for name in drives.columns]
    common = sample.get("load pct of all drives (factor)")
    factors = [sample.get(f"load pct of {tag} (factor)", common) for tag in drives["tag"]]
    drives["load pct"] = drives["load pct"].fillna(100.0) * factors
    drives.loc[drives["tag"] == "P-2", "line reactor pct"] = sample["line reactor pct of P-2"]
    table = [list(drives.columns), *drives.astype(object).where(drives.notna(), None).to_numpy().tolist()]
    settings = {**content["settings"], **{k: v for k, v in case.items() if k != "name"}}
    settings |= {"background 5th pct": f"{sample['background 5th pct']!r} %", "solution": solution}
    settings |= {"supply": "ideal", "demand amps estimated": largest}
    network = [row + [None] * (width - len(row)) for row in stack]
    given = [network, table, sample["pcc"], quantity, [[k, v] for k, v in settings.items()]]
    return FUNCTIONS["HD_PLANT_VALUE"](given)


@pytest.mark.parametrize("each", [False, True])
@pytest.mark.parametrize("solution", ["uncoupled", "coupled"])
def test_each_combination_equals_the_worksheet_function(spec_of, plant, rows, solution, each):
    samples = 6 if solution == "uncoupled" else 2
    text = SPEC.replace("samples = 6", f'samples = {samples}\nsolution = "{solution}"')
    if each:
        text = text.replace("tolerance_pct = 10", "tolerance_pct = 10, each = true")
        text = text.replace("high = 1 } }", "high = 1 }, each = true }")
    table = swept(spec_of(text), plant, rows)
    assert len(table) == samples * len(plant.cases)
    assert (table["reason"] == "").all()
    assert table["combination"].tolist() == [n for n in range(1, samples + 1) for _ in plant.cases]
    for _, sample in table.head(2 * len(plant.cases)).iterrows():
        together = table[(table["combination"] == sample["combination"]) & (table["pcc"] == sample["pcc"])]
        largest = max(expected(case, "FUNDAMENTAL", solution) for _, case in together.iterrows())
        for quantity, column in (("TDD", "tdd pct"), ("THDV", "thdv pct"), ("ISC_IL", "isc/il")):
            value = expected(sample, quantity, solution, largest)
            assert sample[column] == pytest.approx(value, rel=1e-8)


def test_each_row_of_a_table_draws_on_its_own(spec_of, plant):
    """As many inputs as rows; without correlation, as a Latin hypercube draws its columns."""
    text = """
    [sweep]
    samples = 400
    [network.transformers]
    "z pct" = { tolerance_pct = 10, each = true }
    kva = { factor = { low = 0.9, high = 1.1 }, each = true }
    [network.transformers.t2]
    kva = { values = [800] }
    """
    spec = spec_of(text).sweep
    names = [str(row["name"]) for row in plant.tables["transformers"]]
    assert [i.tag for i in spec.inputs if i.field.name == "z pct"] == names
    assert [i.tag for i in spec.inputs if i.field.name == "kva"] == [*(n for n in names if n != "T2"), "T2"]
    drawn = spec.drawn()[:, [i.field.name == "z pct" for i in spec.inputs]]
    apart = np.corrcoef(drawn.T)[np.triu_indices(len(names), 1)]
    assert len(names) > 1
    assert np.abs(apart).max() < 4.0 / np.sqrt(400)


def test_levels_and_ranks_of_each_place(spec_of, plant, rows):
    spec = spec_of(SPEC.replace("samples = 6", "samples = 12"))
    table = swept(spec, plant, rows)
    levels = level_table(table).set_index(["case", "pcc", "quantity"])
    assert len(levels) == 2 * len(plant.cases)
    for (case, pcc), part in table.groupby(["case", "pcc"]):
        for name in ("tdd pct", "thdv pct"):
            level = levels.loc[(case, pcc, name)]
            assert level["p50"] == pytest.approx(np.percentile(part[name], 50))
            assert level["p95"] == pytest.approx(np.percentile(part[name], 95))
            assert level["worst"] == part[name].max()
    ranks = rank_table(spec.sweep, table)
    assert len(ranks) == len(spec.sweep.inputs) * len(plant.cases)
    weakest = weakest_first(table)
    assert ranks["case"][0] == weakest[0]["case"]
    least = table.groupby("case")["margin pct of limit"].quantile(0.05)
    assert weakest[0]["case"] == least.idxmin()
    fails = table.assign(bad=table["verdict"] == "FAIL").groupby("combination")["bad"].any()
    assert failing_anywhere_pct(table) == pytest.approx(100.0 * fails.mean())


def test_a_supply_that_a_case_does_not_use_does_not_matter_there(spec_of, plant, rows):
    text = "[sweep]\nmethod = 'grid'\n[network.utility.intake]\n'min mva' = {low=90, high=200, steps=4}\n"
    spec = spec_of(text)
    table = swept(spec, plant, rows)
    ranks = rank_table(spec.sweep, table).set_index("case")["rank correlation with thdv pct"]
    assert ranks["Minimum supply"] == pytest.approx(-1.0)
    assert np.isnan(ranks["Maximum supply"])
    assert np.isnan(ranks["Generator alone"])


def test_a_factor_passes_over_blank_cells(spec_of, plant, rows):
    read = spec_of("[sweep]\nmethod='grid'\n[network.buses]\n'demand amps' = {factor={values=[1, 2]}}\n")
    table = swept(read, plant, rows)
    ratio = table.set_index(["combination", "case"])["isc/il"].unstack()
    assert ratio.loc[1, "Maximum supply"] == pytest.approx(2.0 * ratio.loc[2, "Maximum supply"])


def test_processes_give_the_same_numbers(spec_of, plant, rows, assert_equal_to_rounding):
    spec = spec_of(SPEC)
    assert_equal_to_rounding(swept(spec, plant, rows), swept(spec, plant, rows, ProcessPool(2)))


def test_an_interrupted_sweep_goes_on(spec_of, plant, rows, tmp_path):
    spec = spec_of(SPEC)
    whole = swept(spec, plant, rows)
    path = tmp_path / "out.journal"

    def stop(solved, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        swept(spec, plant, rows, HerePool(), stop, Journal(path, {}))
    left = []

    class Watched:
        def run(self, function, tasks):
            left.append(sum(len(task.drawn) for task in tasks))
            return HerePool().run(function, tasks)

    resumed = swept(spec, plant, rows, Watched(), None, Journal(path, {}), resume=True)
    assert left == [1]
    pd.testing.assert_frame_equal(resumed, whole)


def test_a_combination_that_cannot_be_is_told_for_every_place(spec_of, plant, rows):
    """A minimum above the maximum of 220 MVA is no network."""
    table = swept(
        spec_of("[sweep]\nmethod='grid'\n[network.utility]\n'min mva' = {values=[130, 400]}\n"), plant, rows
    )
    bad = table[table["combination"] == 2]
    assert bad["reason"].str.contains("mva").all()
    assert bad["tdd pct"].isna().all()
    assert (table[table["combination"] == 1]["reason"] == "").all()
    assert failing_anywhere_pct(table) in (0.0, 100.0)


@pytest.mark.parametrize(
    ("said", "coupled"),
    [
        ("", {"Minimum supply"}),
        ('solution = "coupled"', {"Maximum supply", "Minimum supply", "Capacitors off", "Generator alone"}),
        ('solution = "uncoupled"', set()),
    ],
)
def test_cases_are_coupled_where_plant_or_sweep_say_so(spec_of, said, coupled):
    content = tomllib.loads(PLANT.read_text(encoding="utf-8"))
    content["cases"][1]["solution"] = "coupled"
    site = plant_from(PLANT, content)
    assert spec_of(SPEC.replace("samples = 6", said), site).coupled == coupled


def test_a_plant_that_says_nothing_is_not_coupled(spec_of, plant):
    assert not spec_of(SPEC).coupled
    content = tomllib.loads(PLANT.read_text(encoding="utf-8"))
    content["settings"]["solution"] = "coupled"
    assert spec_of(SPEC, plant_from(PLANT, content)).coupled == set(plant.cases)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[site]\n'utility mva' = {low=1, high=2}", "table in sweep.toml"),
        ("[network.pipes]\n'z pct' = {low=1, high=2}", "pipes.*transformers"),
        ("[network.transformers]\ntap = {low=1, high=2}", "tap.*one of T1, T2"),
        ("[network.transformers.T9]\n'z pct' = {low=1, high=2}", "T9"),
        ("[network.transformers.T1]\nname = {values=[1]}", "name in transformers"),
        ("[network.transformers]\n'z pct' = 5", "z pct"),
        ("[network.transformers]\n'z pct' = {low=7, high=4}", "high of z pct in transformers is 4"),
        ("[network.transformers]\n'z pct' = {low=-4, high=4}", "z pct in transformers.*-4"),
        ("[network.transformers]\n'kva' = {factor={low=0.5, high=1e9}}", "kva in transformers"),
        ("[network.transformers]\n'primary kv' = {tolerance_pct=5}", "primary kv.*gives no value"),
        ("[network.transformers]\n'primary kv' = {factor={low=1, high=2}}", "primary kv.*gives no value"),
        ("['network']['three-winding transformers']\n'kva' = {low=1, high=2}", "."),
        ("[network.'three-winding transformers']\n'kva' = {low=1, high=2}", "a table that the plant has"),
        ("[sweep]\nsolution = 'both'\n[settings]\n'unbalance pct' = {low=0, high=1}", "solution in sweep"),
        ("[settings]\nsolution = {values=[1]}", "name in settings"),
        ("[drives.X-9]\n'load pct' = {low=50, high=90}", "X-9"),
        ("[sweep]\nsamples = 5", "without inputs"),
    ],
)
def test_bad_files_are_refused(spec_of, text, words):
    with pytest.raises(InputError, match=words):
        spec_of(text)


def test_job_of_a_plant_writes_tables_and_charts(tmp_path):
    spec = DEMO / "plant_sweep.toml"
    job = SweepJob(DEMO / "plant_drives.csv", DEMO / "plant.toml", spec, samples=3)
    job.read()
    result = job.run(HerePool())
    job.write(result, tmp_path / "out.xlsx")
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert book.sheetnames == ["outcome", "levels", "inputs that matter", "curve", "combinations", "how"]
    assert len(book["outcome"]._charts) == 3
    assert book["combinations"].max_row == 1 + 3 * 4
    how = {row[0].value: row[1].value for row in book["how"].iter_rows()}
    assert how["solution of Weak supply"].startswith("uncoupled")
    assert how["max mva of the utility"] == "from 280 to 360, evenly"
    assert how["unbalance pct"] == "from 0 to 1.2, most likely 0.3"
    assert how["background 5th pct"] == "normal, mean 0.8, standard deviation 0.3, from 0 to 30"
    assert how["kva of TF in transformers"] == "one of 1000, 1250"
    lines = list(result.lines())
    assert any(line.startswith("Mill, Weak supply: verdict FAIL in") for line in lines)
    assert any("least margin" in line for line in lines)


def test_rejected_rows_are_named_beside_the_result(tmp_path):
    text = (DEMO / "plant_drives.csv").read_text(encoding="utf-8").replace("Finishing", "Finish")
    (tmp_path / "drives.csv").write_text(text, encoding="utf-8")
    job = SweepJob(tmp_path / "drives.csv", DEMO / "plant.toml", DEMO / "plant_sweep.toml", samples=2)
    job.read()
    result = job.run(HerePool())
    assert not result.complete
    job.write(result, tmp_path / "out.csv")
    how = pd.read_csv(tmp_path / "out_how.csv")
    missing = how[how["what"] == "missing: rejected row of the schedule"]["how"]
    assert missing.str.contains("did you mean 'Finishing'").sum() == 2
