"""Notches and power of a plant as a network, against hand calculation and the functions for one drive."""

from __future__ import annotations

import math

import pytest

from xlcalc.schema.values import CellError, Grid
from xlcalc.worksheet.catalogue import FUNCTIONS

NETWORK: Grid = [
    [*row, *[""] * (7 - len(row))]
    for row in (
        ["buses"],
        ["name", "kv"],
        ["U", 13.8],
        ["M", 0.48],
        ["N", 0.48],
        ["utility"],
        ["bus", "max mva", "x/r"],
        ["U", 100.0, 25.0],
        ["transformers"],
        ["name", "from bus", "to bus", "kva", "z pct", "x/r", "vector group"],
        ["T1", "U", "M", 1000.0, 5.0, 25.0, "Dd0"],
        ["T2", "U", "N", 1000.0, 5.0, 25.0, "Dd0"],
    )
]
HEADINGS = ["tag", "rating", "unit", "efficiency pct", "pulses", "bus", "line reactor pct", "dc choke pct"]
LEVEL_M = 1.0 / (1.0 / 100.0 + 1.0 / 20.0)
"""MVA behind 100 MVA and 1 MVA / 5 %, all with one X/R; by hand."""


def notches(drives: Grid, *more: object) -> Grid:
    result = FUNCTIONS["HD_PLANT_NOTCHES"]([NETWORK, [HEADINGS, *drives], *more])
    assert isinstance(result, list), result
    return result


def test_notch_at_the_bus_of_a_drive_is_that_of_the_function_for_one_drive() -> None:
    settings: Grid = [["source x/r", 25.0], ["capacitor resistance pct", 0.5], ["reactor x/r", 25.0]]
    source_pct = 100.0 * 0.2 / LEVEL_M
    alone = FUNCTIONS["HD_VERDICT_NOTCH"](
        [480.0, 60.0, 200.0, "general", source_pct, 3.0, 4.0, 100.0, settings]
    )
    row = notches([["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]])[1]
    assert row[1] == pytest.approx(alone[0][2], rel=1e-3)
    assert row[1] == pytest.approx(100.0 * source_pct / (source_pct + 3.0), rel=1e-3)
    one_sample = 1.0 / 800.0  # of this notch, where its width is known to one of 20,000 points a cycle
    assert row[4] == pytest.approx(alone[1][2], rel=1.5 * one_sample)
    assert row[7] == "P1"


def test_other_buses_see_the_divider_of_the_common_reactance() -> None:
    """U and N share only the utility: its reactance over that up to M, 16.67 MVA over 100 MVA."""
    at_u, at_m, at_n = notches([["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]])
    assert at_u[1] == pytest.approx(at_m[1] * LEVEL_M / 100.0, rel=1e-6)
    assert at_n[1] == pytest.approx(at_u[1], rel=1e-6)
    assert at_u[4] == pytest.approx(at_m[4] * LEVEL_M / 100.0 * 13.8 / 0.48, rel=1e-6)
    assert at_n[4] == pytest.approx(at_m[4] * LEVEL_M / 100.0, rel=1e-6)
    assert at_u[7] == at_m[7] == at_n[7] == "P1"


def test_a_transformer_that_turns_the_phases_turns_the_notch() -> None:
    """Behind Dyn1 the notch lies between two line-to-line voltages: each misses cos(30 deg) of it.

    With direct current that a large choke makes nearly smooth; the rest of its ripple lies across the notch.
    The line-to-line voltage stands at half of its crest when the notch starts; it is deepest against that.
    """
    drives: Grid = [["P1", 200.0, "kW", 100.0, 6, "M", 3.0, "40 %"]]
    straight = notches(drives)[0]
    turned = [[cell if cell != "Dd0" else "Dyn1" for cell in row] for row in NETWORK]
    result = FUNCTIONS["HD_PLANT_NOTCHES"]([turned, [HEADINGS, *drives]])
    assert isinstance(result, list), result
    assert result[0][3] == pytest.approx(straight[3] * math.cos(math.radians(30.0)), rel=0.05)
    assert result[0][4] == pytest.approx(straight[4] * math.cos(math.radians(30.0)), rel=0.05)
    assert result[0][1] == pytest.approx(result[0][3] / math.sin(math.radians(30.0)), rel=0.02)


def test_groups_thirty_degrees_apart_do_not_notch_together() -> None:
    """Of two equal groups, one behind Dyn1, the supply sees two notches, each as large as that of one."""
    one: Grid = [["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]]
    both: Grid = [*one, ["P2", 200.0, "kW", 100.0, 6, "N", 3.0, 4.0]]
    apart = [[*row] for row in NETWORK]
    apart[-1][-1] = "Dyn1"
    found = {}
    for name, network, drives in (("one", NETWORK, one), ("both", NETWORK, both), ("apart", apart, both)):
        result = FUNCTIONS["HD_PLANT_NOTCHES"]([network, [HEADINGS, *drives]])
        assert isinstance(result, list), result
        found[name] = result[0]
    assert found["both"][4] == pytest.approx(2.0 * found["one"][4], rel=0.05)
    assert found["both"][7] in ("P1, P2", "P2, P1")
    assert found["apart"][4] == pytest.approx(found["one"][4], rel=0.05)


def test_a_drive_without_a_solution_is_named_and_its_bus_has_no_verdict() -> None:
    good: Grid = [["P1", 20.0, "kW", 100.0, 6, "N", 3.0, 4.0]]
    bad: Grid = [["P2", 100.0, "kW", 100.0, 6, "M", "90 %", 0.0]]
    strong = [[*row] for row in NETWORK]
    strong[7][1] = 500.0
    found = {}
    for name, drives in (("both", [*good, *bad]), ("good", good)):
        result = FUNCTIONS["HD_PLANT_NOTCHES"]([strong, [HEADINGS, *drives]])
        assert isinstance(result, list), result
        found[name] = result
    at_u, at_m, at_n = found["both"]
    assert (at_m[8], at_m[1], at_m[4]) == ("NO VERDICT", "", "")
    assert "P2" in at_m[10]
    alone = found["good"][2]
    assert at_n[1:7] == pytest.approx(alone[1:7])
    assert at_n[7] == alone[7] == "P1"
    assert (at_n[8], at_u[8]) == ("PASS", "PASS")
    assert "P2" in at_n[10]


def test_a_missing_drive_that_could_exceed_a_limit_elsewhere_leaves_no_verdict_there() -> None:
    """M and N behind 10 MVA of common supply: what P2 adds at N can be far above 20 %."""
    weak = [[*row] for row in NETWORK]
    weak[7][1] = 10.0
    drives: Grid = [
        ["P1", 20.0, "kW", 100.0, 6, "N", 3.0, 4.0],
        ["P2", 400.0, "kW", 100.0, 6, "M", "90 %", 0.0],
    ]
    result = FUNCTIONS["HD_PLANT_NOTCHES"]([weak, [HEADINGS, *drives]])
    assert isinstance(result, list), result
    assert [row[8] for row in result] == ["NO VERDICT"] * 3
    assert all("P2" in row[10] for row in result)


def test_capacitors_are_mentioned() -> None:
    drives: Grid = [["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]]
    bank: Grid = [["capacitors"], ["name", "bus", "kvar"], ["C1", "M", 100.0]]
    network = [*NETWORK, *([*row, *[""] * (7 - len(row))] for row in bank)]
    result = FUNCTIONS["HD_PLANT_NOTCHES"]([network, [HEADINGS, *drives]])
    assert isinstance(result, list), result
    assert all("capacitors" in row[10] for row in result)
    assert notches(drives)[0][10] == ""


@pytest.mark.parametrize("count", [2, 5, 10])
def test_equal_drives_on_one_bus_notch_like_one_of_their_total_rating(count: int) -> None:
    """Reactors in parallel on one source are one reactor of the same percent on the total rating."""
    headings = [*HEADINGS, "quantity"]
    tables = {
        "one": [["P1", 1000.0, "kW", 100.0, 6, "M", 3.0, 0.0, 1]],
        "quantity": [["P1", 1000.0 / count, "kW", 100.0, 6, "M", 3.0, 0.0, count]],
        "rows": [[f"P{k}", 1000.0 / count, "kW", 100.0, 6, "M", 3.0, 0.0, 1] for k in range(count)],
    }
    rows = {}
    for name, drives in tables.items():
        result = FUNCTIONS["HD_PLANT_NOTCHES"]([NETWORK, [headings, *drives]])
        assert isinstance(result, list), result
        rows[name] = result[1]
    for name in ("quantity", "rows"):
        assert rows[name][1:7] == pytest.approx(rows["one"][1:7], rel=1e-6)
        assert rows[name][8] == rows["one"][8] == "FAIL"
    assert sorted(rows["rows"][7].split(", ")) == sorted(f"P{k}" for k in range(count))


def test_limits_scale_with_the_voltage_and_follow_the_class() -> None:
    general, special = (
        notches([["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]], name) for name in ("general", "special")
    )
    assert (general[1][2], special[1][2]) == (20.0, 10.0)
    assert general[0][5] == pytest.approx(22800.0 * 13.8 / 0.48)


def test_a_12_pulse_drive_notches_less_than_a_six_pulse_one_without_reactor() -> None:
    bare = notches([["P1", 200.0, "kW", 100.0, 6, "M", 0.0, 4.0]])[1]
    twelve = notches([["P1", 200.0, "kW", 100.0, 12, "M", 0.0, 4.0]])[1]
    assert 0.0 < twelve[1] < 0.5 * bare[1]


def test_power_at_the_supply_is_the_load_and_the_losses() -> None:
    drives: Grid = [
        HEADINGS,
        ["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0],
        ["P2", 150.0, "kW", 100.0, 12, "N", 0.0, 4.0],
    ]
    rows = FUNCTIONS["HD_PLANT_POWER"]([NETWORK, drives, "U"])
    assert isinstance(rows, list), rows
    power = {row[0]: row[1] for row in rows}
    assert 350e3 < power["P"] < 1.03 * 350e3
    assert power["Se"] ** 2 == pytest.approx(power["Se1"] ** 2 + power["SeN"] ** 2, rel=1e-9)
    amps = FUNCTIONS["HD_PLANT_PCC"]([NETWORK, drives, "U"])
    assert power["Ie1"] == pytest.approx(amps[0][1], rel=1e-6)
    assert power["true power factor"] < power["displacement power factor"] <= 1.0


def test_power_of_an_unknown_bus_names_it() -> None:
    drives: Grid = [HEADINGS, ["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0]]
    result = FUNCTIONS["HD_PLANT_POWER"]([NETWORK, drives, "X"])
    assert isinstance(result, CellError)
    assert "X" in result.reason


def test_a_winding_without_its_bus_carries_nothing() -> None:
    rows: Grid = [
        ["buses"],
        ["name", "kv"],
        ["U", 13.8],
        ["M", 0.48],
        ["N", 0.48],
        ["utility"],
        ["bus", "max mva"],
        ["U", 100.0],
        ["three-winding transformers"],
        ["name", "primary bus", "secondary bus", "tertiary bus", "kva", "z ps pct", "z pt pct", "z st pct"],
        ["T", "U", "M", "N", 2000.0, 6.0, 6.0, 11.0],
    ]
    width = 9
    network = [[*row, *[""] * (width - len(row))] for row in rows]
    network[9][8], network[10][8] = "vector group", "Dd0yn11"
    drives: Grid = [
        HEADINGS,
        ["P1", 200.0, "kW", 100.0, 6, "M", 3.0, 4.0],
        ["P2", 150.0, "kW", 100.0, 6, "N", 3.0, 4.0],
    ]
    amps = {}
    for off in ("", "N"):
        for name in ("T", "T secondary", "T tertiary"):
            result = FUNCTIONS["HD_PLANT_AMPS"]([network, drives, name, [["out of service", off]]])
            assert isinstance(result, list), result
            amps[name, off] = [row[1] for row in result]
    assert amps["T tertiary", "N"] == [0.0] * 50
    assert amps["T secondary", "N"][4] > 20.0
    assert amps["T", "N"][4] == pytest.approx(amps["T secondary", "N"][4] * 0.48 / 13.8, rel=1e-6)
    assert amps["T", ""][4] < 0.5 * amps["T", "N"][4]
