"""A mix under uncertain inputs: cases with sampled values, and the statement on its robustness."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy.stats import beta

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.choices.option_files import read_options
from xlcalc.io.choices.terms import read_terms
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.choice.assemble import cases_of, problem_of, read_drives, read_sites
from xlcalc.jobs.choice.plant_files import with_drives
from xlcalc.jobs.choice.uncertain import read_choice_spec, read_plant_spec, sampled_cases, sampled_plant_cases
from xlcalc.jobs.sweep.distributions import Range, Values
from xlcalc.jobs.sweep.sweep_spec import GRID, SweepSpec
from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.robust import robustness
from xlcalc.mitigation.terms import CaseTerms
from xlcalc.network.branches import TransformerBranch

DEMO = resources.folder("demo")


def plant_with_drives(path):
    plant = read_drive_site(path)
    return with_drives(plant, read_drives(DEMO / "plant_drives.csv", plant))


@pytest.fixture(scope="module")
def parts():
    sites = read_sites([DEMO / "site.toml"])
    terms = replace(read_terms(DEMO / "choice.toml"), filters=())
    options = read_options()
    return sites, read_drives(DEMO / "drives.csv", sites[0]), options, terms


@pytest.fixture(scope="module")
def spec(parts):
    return read_choice_spec(DEMO / "choice_sweep.toml", parts[0][0], parts[1]).sweep


def only(spec, label, distribution):
    item = next(item for item in spec.inputs if item.label.startswith(label))
    return SweepSpec((replace(item, distribution=distribution),), GRID)


def test_tolerance_applies_to_what_a_case_names(parts, spec):
    sites, rows, options, terms = parts
    base = cases_of(sites, rows, options, terms)
    (low, high) = sampled_cases(only(spec, "utility mva", Values((0.9, 1.1))), sites, rows, options, terms)
    for factor, cases in ((0.9, low), (1.1, high)):
        for case, before in zip(cases, base, strict=True):
            expected = factor * before.network.utility.short_circuit_va
            assert case.network.utility.short_circuit_va == pytest.approx(expected)


def test_load_factor_applies_to_the_load_of_the_case(parts, spec):
    sites, rows, options, terms = parts
    (cases,) = sampled_cases(only(spec, "load pct", Values((0.5,))), sites, rows, options, terms)
    scheduled = {row["tag"]: row["load pct"] for row in rows}
    night = cases[2]
    assert night.load_pct["M-101"] == pytest.approx(25.0)
    assert night.load_pct["M-102"] == pytest.approx(0.5 * scheduled["M-102"])


def test_front_ends_are_not_varied(parts, tmp_path):
    path = tmp_path / "spec.toml"
    path.write_text('[drives."M-101"]\n"line reactor pct" = { values = [3, 5] }\n')
    with pytest.raises(InputError, match=r"line reactor pct of M-101 in spec\.toml is varied"):
        read_choice_spec(path, parts[0][0], parts[1])


def test_robustness_counts_exact_studies(parts, spec):
    """Each sample is one exact study; the interval of Clopper and Pearson by the beta distribution."""
    sites, rows, options, terms = parts
    problem = problem_of(sites, DEMO / "drives.csv", options, terms)
    chosen = choose(problem, ChoiceOptions(coupled=False, front_points=0, runners=0))
    sampled = list(sampled_cases(only(spec, "background 5th", Range(0.0, 1.5)), sites, rows, options, terms))
    robust = robustness(problem, chosen.mix, sampled)
    passing = [assess_mix(replace(problem, cases=cases), chosen.mix).passes for cases in sampled]
    assert robust.runs["passes"].tolist() == passing
    assert passing[0] == chosen.passes
    count, passed = len(passing), sum(passing)
    low = beta.ppf(0.025, passed, count - passed + 1) if passed else 0.0
    high = beta.ppf(0.975, passed + 1, count - passed) if passed < count else 1.0
    assert robust.interval == pytest.approx((low, high))
    assert f"{count} samples" in robust.text
    assert 0.0 <= robust.share_passing <= robust.share_within <= 1.0


def plant_spec(tmp_path, text):
    path = tmp_path / "spec.toml"
    path.write_text('[sweep]\nmethod = "grid"\n' + text)
    return path


def test_network_of_a_plant_is_varied_by_factors(tmp_path):
    plant = plant_with_drives(DEMO / "plant.toml")
    options, terms = read_options(), read_terms(DEMO / "plant_choice.toml")
    base = plant.problem(options, terms).cases
    text = '[network.utility]\n"max mva" = { factor = { values = [0.9] } }\n[network.transformers]\n'
    text += (
        '"z pct" = { factor = { values = [1.05] } }\n[drives]\n"load pct" = { factor = { values = [0.5] } }\n'
    )
    spec = read_plant_spec(plant_spec(tmp_path, text), plant).sweep
    (cases,) = sampled_plant_cases(spec, plant, options, terms)
    assert [case.name for case in cases] == [case.name for case in base]
    strong, weak = cases[:2]
    assert strong.network.utility.short_circuit_va == pytest.approx(0.9 * 320e6)
    assert weak.network.utility.short_circuit_va == base[1].network.utility.short_circuit_va
    percent = [
        [b.transformer.impedance_pct for b in case.network.branches if type(b) is TransformerBranch]
        for case in (strong, base[0])
    ]
    assert percent[0]
    assert percent[0] == pytest.approx([1.05 * value for value in percent[1]])


def test_samples_are_studied_coupled_where_the_file_says_so(tmp_path, parts):
    """Each sample is one coupled study, which finds less distortion than drives alone on their bus."""
    sites, rows, options, terms = parts
    path = tmp_path / "spec.toml"
    text = '[sweep]\nsamples = 2\nsolution = "{}"\n[site]\n"utility mva" = {{ tolerance_pct = 8 }}\n'
    read = []
    for solution in ("uncoupled", "coupled"):
        path.write_text(text.format(solution))
        read.append(read_choice_spec(path, sites[0], rows))
    quick, coupled = read
    assert (quick.coupled, coupled.coupled) == (False, True)
    problem = replace(problem_of(sites, DEMO / "drives.csv", options, terms), supply="ideal")
    mix = choose(problem, ChoiceOptions(coupled=False, front_points=0, runners=0)).mix
    sampled = list(sampled_cases(coupled.sweep, sites, rows, options, terms))
    robust = robustness(problem, mix, sampled, coupled.coupled)
    expected = [assess_mix(replace(problem, cases=cases), mix, coupled=True).tdd_pct for cases in sampled]
    assert robust.runs["TDD %"].tolist() == expected
    assert (robust.runs["TDD %"] < robustness(problem, mix, sampled).runs["TDD %"]).all()
    assert "(coupled)" in robust.text


def test_drives_and_transformers_of_a_plant_vary_each_on_its_own(tmp_path):
    """A load that a case names keeps an absolute draw away and takes a factor."""
    plant = plant_with_drives(DEMO / "plant.toml")
    options, terms = read_options(), read_terms(DEMO / "plant_choice.toml")
    night = replace(terms, cases=(CaseTerms("day"), CaseTerms("night", load_pct={"D-101": 40.0})))
    drives = {drive.tag: drive for drive in plant.problem(options, night).drives}
    text = '[network.transformers]\n"z pct" = { factor = { values = [1.05] }, each = true }\n[drives]\n'
    for form, of in (
        ("{ factor = { values = [0.5] }", lambda load: 0.5 * load),
        ("{ values = [70]", lambda _: 70.0),
    ):
        file = plant_spec(
            tmp_path, f'{text}"load pct" = {form}, each = true }}\n"D-102"."load pct" = {{ values = [60] }}\n'
        )
        spec = read_plant_spec(file, plant).sweep
        assert len(spec.inputs) == len(plant.tables["transformers"]) + len(plant.drives)
        (cases,) = sampled_plant_cases(spec, plant, options, night)
        for case in cases:
            running = {tag: case.drive(drive).front_end.load_pct for tag, drive in drives.items()}
            expected = {tag: of(drive.front_end.load_pct) for tag, drive in drives.items()} | {"D-102": 60.0}
            if case.name == "night":
                expected["D-101"] = 20.0 if "factor" in form else 40.0
            assert running == pytest.approx(expected)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[network.moon]\n", "table in network is moon"),
        ('[network.utility]\n"max mva" = { low = -1, high = 2 }\n', "max mva in utility is -1"),
        ("[drives]\npulses = { values = [6, 12] }\n", "load pct: options decide the rest"),
        ("[site]\n", "table in spec.toml is site"),
    ],
)
def test_bad_spec_of_a_plant_is_named(tmp_path, text, message):
    plant = plant_with_drives(DEMO / "plant.toml")
    with pytest.raises(InputError, match=message):
        read_plant_spec(plant_spec(tmp_path, text), plant)
