"""The shipped template of a choice: its cells hold the answer, and the command finds the same."""

from __future__ import annotations

import pytest
from openpyxl import load_workbook

from xlcalc.core import resources
from xlcalc.jobs.choice.plant_files import read_choice_book
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.workbooks.choice.choice_result_sheet import FIGURES, LISTED, TABLE_ROW

TEMPLATE = resources.template("choice_study")


@pytest.fixture(scope="module")
def cells():
    """The sheet of the choice with the values of the last calculation."""
    return load_workbook(TEMPLATE, data_only=True)["Choice"]


def figure(cells, quantity):
    return cells.cell(7 + [name for name, *_ in FIGURES].index(quantity), 2).value


def test_template_holds_an_answer(cells):
    tags = [row["tag"] for row in read_choice_book(TEMPLATE).plant.drives]
    assert cells["A4"].value == "PASS"
    rows = [
        [cells.cell(TABLE_ROW + n, c).value for c in range(1, len(LISTED) + 1)]
        for n in range(1, len(tags) + 2)
    ]
    assert [row[0] for row in rows[:-1]] == tags
    assert not any(rows[-1])
    of_drives, cost = sum(row[5] for row in rows[:-1]), figure(cells, "COST")
    on_buses = cells["B18"].value != "none"
    assert of_drives < cost if on_buses else of_drives == pytest.approx(cost)
    assert figure(cells, "PURCHASE") + figure(cells, "LOSSES") == pytest.approx(figure(cells, "COST"))
    assert figure(cells, "MARGIN") >= 2.0


def test_command_and_cells_agree(cells):
    asked = read_choice_book(TEMPLATE)
    found = choose(asked.problem, ChoiceOptions(front_points=0, runners=0, effort=asked.effort))
    assert found.word == cells["A4"].value
    assert found.mix.cost == pytest.approx(figure(cells, "COST"), rel=1e-6)
    assert found.assessment.tdd_pct == pytest.approx(figure(cells, "TDD"), rel=1e-4)
    assert found.assessment.margin_left_pct == pytest.approx(figure(cells, "MARGIN"), abs=0.01)
