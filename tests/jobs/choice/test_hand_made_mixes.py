"""A choice costs no more than the mixes that a person would write down, on a list of 28 rows.

The mixes are judged by the coupled study, which knows nothing of the search. The supply is taken as ideal, so
that each is solved once; the list and its plant are invented.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_water_works import DRIVES, HEADINGS, SITE
from xlcalc.jobs.choice.answer import answer
from xlcalc.jobs.choice.question import Files, Question, question_of
from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.choice import ChosenMix
from xlcalc.mitigation.mix import Mix, scheduled_mix
from xlcalc.mitigation.offer.drive_options import AS_SCHEDULED, DriveOption
from xlcalc.mitigation.problem import Problem
from xlcalc.studies.plant import ScheduledDrive

TERMS = """[money]
"price per kwh" = 0.11
years = 8
"hours per year" = 5500
[choice]
"margin pct" = 10
"""
OTHER = ("DP-50", "FL-60", "SC-70")
"""Small drives that a person leaves alone."""


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Question:
    folder = tmp_path_factory.mktemp("hand")
    lines = [HEADINGS, *((*drive, "94%") for drive in DRIVES)]
    text = "\n".join(";".join("" if cell is None else str(cell) for cell in line) for line in lines)
    drives, site, terms = folder / "list.csv", folder / "site.toml", folder / "terms.toml"
    drives.write_text(text, encoding="utf-8")
    site.write_text(SITE + '\n[settings]\nsupply = "ideal"\n', encoding="utf-8")
    terms.write_text(TERMS, encoding="utf-8")
    return question_of([site], Files(drives=drives, terms=terms))


@pytest.fixture(scope="module")
def chosen(asked: Question) -> ChosenMix:
    return answer(asked, front_points=0, runners=0)


def cost(problem: Problem, mix: Mix) -> float:
    """Purchase and losses by the curves of the options."""
    return sum(price(problem, mix.options[drive.tag], drive) for drive in problem.drives)


def price(problem: Problem, option: DriveOption, drive: ScheduledDrive) -> float:
    lost = option.losses.kwh_per_year(drive.rated_watts, 1.0, problem.economics.hours_per_year)
    return drive.quantity * (option.price.at(drive.rated_watts / 1e3) + problem.economics.cost_of(lost))


def by_hand(problem: Problem) -> list[Mix]:
    """One option at the largest bare six-pulse drives, at the two largest kinds of them, and so on."""
    kept = scheduled_mix(problem)
    allowed = {drive.tag: options for drive, options in zip(problem.drives, problem.allowed, strict=True)}
    bare = [
        drive
        for drive in problem.drives
        if drive.front_end.pulses == 6
        and not drive.front_end.reactor_pct
        and not drive.front_end.choke_pct
        and not drive.tag.startswith(OTHER)
    ]
    sizes = sorted({drive.rated_watts for drive in bare}, reverse=True)
    names = dict.fromkeys(option.name for tag in (d.tag for d in bare) for option in allowed[tag])
    mixes = []
    for name in names:
        for count in range(1, len(sizes) + 1):
            changed = {
                drive.tag: option
                for drive in bare
                if drive.rated_watts >= sizes[count - 1]
                for option in allowed[drive.tag]
                if option.name == name != AS_SCHEDULED
            }
            if changed:
                mixes.append(replace(kept, options={**kept.options, **changed}))
    return mixes


def test_no_hand_made_mix_that_passes_costs_less(asked: Question, chosen: ChosenMix) -> None:
    problem, choice = asked.problem, chosen
    assert choice.passes
    assert choice.mix.cost == pytest.approx(cost(problem, choice.mix))
    mixes = by_hand(problem)
    cheaper = [mix for mix in mixes if cost(problem, mix) < choice.mix.cost]
    assert len(mixes) > len(cheaper) >= 10
    assert not [mix.text for mix in cheaper if assess_mix(problem, mix, coupled=True).passes]


def test_multi_pulse_drives_stay(chosen: ChosenMix) -> None:
    assert {chosen.mix.options[tag].name for tag in ("P-201", "P-202", "P-203")} == {AS_SCHEDULED}
