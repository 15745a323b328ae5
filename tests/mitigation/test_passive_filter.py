"""A passive filter ahead of a drive as an option: its circuit, solved with the bridge, decides."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import InputError
from xlcalc.io.choices.option_files import read_options
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.offer.curves import CostFormula
from xlcalc.mitigation.offer.drive_options import DriveOption
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.offer.physics import DiodeFrontEnd
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.studies.drives import front_end_on_bus
from xlcalc.studies.plant import ScheduledDrive

FILTER = FilterRating(15.0, 8.0, 5.0)


def problem(sites, *names):
    drives = (ScheduledDrive("A", 100e3, FrontEnd(6, 1.0, capacitor_resistance_pct=0.5)),)
    case = LimitCase("only", sites.network(300.0, 100e3, sites.linear(40e3, 0.9)))
    offered = (
        *sites.OPTIONS,
        DriveOption("passive", DiodeFrontEnd(6, 3.0, filter=FILTER), CostFormula(0.0, 60.0)),
    )
    return Problem(drives, tuple(o for o in offered if o.name in names), (case,), Economics(0.1))


def test_current_at_the_pcc_is_that_of_the_solved_circuit(sites):
    """One drive behind one transformer: by order its current, carried to 13.8 kV by the ratio."""
    asked = problem(sites, "passive")
    found = choose(asked, ChoiceOptions(coupled=False, front_points=0, runners=0)).alone.points[0].result
    drive = asked.drives[0]
    front_end = DiodeFrontEnd(6, 3.0, filter=FILTER).front_end(drive)
    on_bus = front_end_on_bus(asked.cases[0].network, ScheduledDrive("A", 100e3, front_end))
    line = solve_front_end(on_bus).line_current[0].magnitude
    amps = 100e3 / 13800.0 * line  # per unit of P_r / V
    assert found.current_amps[4:25] == pytest.approx(amps[4:25], rel=1e-6, abs=1e-9)


def test_filter_is_chosen_where_reactors_do_not_suffice(sites):
    """18-pulse would do as well, at more than the filter's price."""
    chosen = choose(problem(sites, "none", "both", "18-pulse", "passive"))
    assert chosen.passes
    assert chosen.mix.options["A"].name == "passive"
    assert chosen.coupled.passes


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        ({}, r"filter capacitor pct \(cell D2 of options.csv\) is missing"),
        ({"filter capacitor pct": 500.0}, r"filter capacitor pct \(cell D2 .* is 500"),
        (
            {"filter capacitor pct": 15.0, "line reactor pct": 0.0},
            "valid: 0.001 % or more behind a passive filter",
        ),
    ],
)
def test_bad_filter_names_its_cell(tmp_path, cells, message):
    headings = ("option", "kind", "price a", "filter capacitor pct", "line reactor pct")
    given = {"option": "f", "kind": "passive filter", "price a": 1.0, "line reactor pct": 3.0, **cells}
    row = (str(given.get(heading, "")) for heading in headings)
    path = tmp_path / "options.csv"
    path.write_text(f"{','.join(headings)}\n{','.join(row)}\n")
    with pytest.raises(InputError, match=message):
        read_options(path)
