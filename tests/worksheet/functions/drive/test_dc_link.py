"""Functions for one drive: the load and damping they take, uneven pulses, and the DC link."""

from __future__ import annotations

import math

import pytest

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.drive import CAPACITOR_RESISTANCE_PCT, FrontEnd, solve_front_end
from xlcalc.schema.values import CellError, ErrorCode, Grid
from xlcalc.worksheet.catalogue import FUNCTIONS

UNEVEN: Grid = [["dc capacitance pu", 2.0], ["load kind", "power"], ["capacitor resistance pct", 0.0]]
SHOW: Grid = [*UNEVEN, ["uneven pulses", "show"]]
SINGLE = ("HD_SPECTRUM", "HD_WAVEFORM", "HD_CREST", "HD_TRUE_PF", "HD_DISPLACEMENT_PF", "HD_DC_LINK")


def named_defaults() -> dict[str, list[object]]:
    """Default damping and load of every function that takes settings of a drive."""
    found = {}
    for name in FUNCTIONS:
        for argument in FUNCTIONS[name].arguments:
            fields = {field.name: field for field in getattr(argument.kind, "fields", ())}
            if "load kind" in fields:
                found[name] = [fields[n].default for n in ("load kind", "capacitor resistance pct")]
    return found


def test_one_default_in_every_function_and_in_python() -> None:
    defaults = named_defaults()
    assert {*SINGLE, "HD_DERATING", "HD_REACTOR_FOR_THD", "HD_VERDICT_NOTCH", "HD_PCC"} <= set(defaults)
    assert {tuple(values) for values in defaults.values()} == {("mean power", CAPACITOR_RESISTANCE_PCT)}
    front_end = FrontEnd(6, 1.0)
    assert front_end.load_kind == "mean power"
    assert front_end.capacitor_resistance_pct == CAPACITOR_RESISTANCE_PCT


@pytest.mark.parametrize("name", SINGLE)
def test_uneven_pulses_are_refused_unless_they_are_asked_for(name: str) -> None:
    refused = FUNCTIONS[name]([6.0, 0.5, 3.0, 0.0, 100.0, UNEVEN])
    assert isinstance(refused, CellError)
    assert refused.code is ErrorCode.NUM
    for words in ("uneven", "'mean power'", "'uneven pulses' = show"):
        assert words in refused.reason
    assert not isinstance(FUNCTIONS[name]([6.0, 0.5, 3.0, 0.0, 100.0, SHOW]), CellError)


def test_derating_notches_and_the_reactor_too() -> None:
    for name, arguments in {
        "HD_DERATING": [6.0, 0.5, 3.0, 0.0, 100.0],
        "HD_VERDICT_NOTCH": [480.0, 60.0, 100.0, "general", 0.5, 3.0, 0.0, 100.0],
    }.items():
        assert isinstance(FUNCTIONS[name]([*arguments, UNEVEN]), CellError)
        assert not isinstance(FUNCTIONS[name]([*arguments, SHOW]), CellError)
    honest = FUNCTIONS["HD_REACTOR_FOR_THD"]([110.0, 6.0, 0.5, 0.0, 100.0, UNEVEN])
    shown = FUNCTIONS["HD_REACTOR_FOR_THD"]([110.0, 6.0, 0.5, 0.0, 100.0, SHOW])
    assert isinstance(honest, float)
    assert isinstance(shown, float)
    assert shown < honest


def test_a_second_state_is_told() -> None:
    """1.5 pu: the even state has 45 %, ngspice from rest settles to one with 112 %."""
    settings: Grid = [["dc capacitance pu", 1.5], ["load kind", "power"]]
    refused = FUNCTIONS["HD_SPECTRUM"]([6.0, 0.5, 3.0, 0.0, 100.0, settings])
    assert isinstance(refused, CellError)
    assert "two steady states, with 45.1 % and 112.0 %" in refused.reason


@pytest.mark.parametrize("unbalance", [0.0, 0.06, 0.2])
def test_a_little_unbalance_hides_no_uneven_pulses(unbalance: float) -> None:
    """At 150 % load the three phases differ by tens of percent on a balanced supply."""
    settings: Grid = [
        ["load kind", "power"],
        ["capacitor resistance pct", 0.0],
        ["unbalance pct", unbalance],
    ]
    refused = FUNCTIONS["HD_SPECTRUM"]([6.0, 0.5, 0.0, 4.0, 150.0, settings])
    assert isinstance(refused, CellError)
    assert "uneven" in refused.reason


@pytest.mark.parametrize("resistance", [0.0, 0.5, 2.0])
def test_a_film_link_has_a_solution_by_default(resistance: float) -> None:
    """2 uF per kW; with constant power at every instant it is refused, and the reason says what fits."""
    film: Grid = [["dc capacitance pu", 0.1737], ["capacitor resistance pct", resistance]]
    spectrum = FUNCTIONS["HD_SPECTRUM"]([6.0, 1.0, 0.0, 0.0, 100.0, film])
    assert isinstance(spectrum, list)
    assert [row[1] for row in spectrum[1::2]] == [0.0] * 25
    refused = FUNCTIONS["HD_SPECTRUM"]([6.0, 1.0, 0.0, 0.0, 100.0, [*film, ["load kind", "power"]]])
    assert isinstance(refused, CellError)
    assert "'mean power'" in refused.reason
    if "unstable" in refused.reason:
        assert "film (slim)" in refused.reason


def test_help_of_film_links() -> None:
    fields = {field.name: field for field in FUNCTIONS["HD_SPECTRUM"].arguments[5].kind.fields}  # type: ignore[attr-defined]
    assert "film capacitors" in fields["dc capacitance pu"].doc
    assert "film (slim) links" in fields["load kind"].doc


def test_dc_link_is_in_percent_of_the_ideal_voltage_and_the_rated_current() -> None:
    rows = FUNCTIONS["HD_DC_LINK"]([6.0, 1.0, 3.0, 2.0, 80.0])
    assert isinstance(rows, list)
    state = solve_front_end(FrontEnd(6, 1.0, reactor_pct=3.0, choke_pct=2.0, load_pct=80.0))
    ideal = 3.0 * math.sqrt(2.0) / math.pi
    mean, least, most, ripple, capacitor = (row[1] for row in rows)
    assert mean == pytest.approx(100.0 * state.dc_volts_mean / ideal)
    assert ripple == pytest.approx(most - least)
    assert least < mean < most < 100.0 * math.pi / 3.0
    assert capacitor == pytest.approx(100.0 * state.capacitor_rms * ideal)


def test_more_than_the_supply_gives_says_how_much_it_gives() -> None:
    with pytest.raises(NoSolutionError, match=r"the most that it gives is about \d+% of it"):
        solve_front_end(FrontEnd(6, 60.0, load_pct=150.0))
