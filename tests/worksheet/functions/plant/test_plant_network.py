"""The nodal plant from a sheet: one story with the simple study, and bad tables named by column and row."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.values import CellError
from xlcalc.worksheet.catalogue import FUNCTIONS

SITE = [
    ["utility kv", 20.0],
    ["utility mva", 250.0],
    ["transformer kva", 1600.0],
    ["transformer z pct", 6.0],
    ["main bus volts", 690.0],
    ["second transformer kva", 400.0],
    ["second transformer z pct", 4.0],
    ["second transformer shift deg", 30.0],
    ["second bus volts", 400.0],
    ["demand amps", 40.0],
]
HEADINGS = [
    "Tag",
    "Quantity",
    "Rating",
    "Unit",
    "Efficiency (%)",
    "Bus",
    "Pulses",
    "Line reactor (%)",
    "DC choke (%)",
    "Load (%)",
]
ROWS = [
    ["A", 2.0, 100.0, "kW", 100.0, "main", 6.0, 3.0, None, 90.0],
    ["B", 1.0, 250.0, "kW", 100.0, "main", 12.0, None, 4.0, 100.0],
    ["C", 3.0, 40.0, "kW", 100.0, "second", 6.0, None, 4.0, 80.0],
]
DRIVES = [HEADINGS, *ROWS]
NETWORK_TABLES = {
    "Buses": [["Name", "kV", "Demand (amps)"], ["utility", 20.0, 40.0], ["main", 0.69], ["second", 0.4]],
    "Utility": [["Bus", "Max (MVA)", "Min (MVA)", "X/R"], ["utility", 250.0, 100.0, 10.0]],
    "Transformers": [
        ["Name", "From bus", "To bus", "kVA", "Z (%)", "X/R", "Vector group"],
        ["T1", "utility", "main", 1600.0, 6.0, 6.0, "Dd0"],
        ["T2", "main", "second", 400.0, 4.0, 4.0, "Dyn11"],
    ],
    "Capacitors": [["Name", "Bus", "kvar", "Rated (kV)", "Kind", "Reactor (%)"]],
    "Loads": [["Name", "Bus", "kW", "PF", "Kind", "Model", "Orders not listed"]],
    "Generators": [["Name", "Bus", "kVA", "Subtransient (%)"]],
}
UNCOUPLED = ["solution", "uncoupled"]
IDEAL = [["supply", "ideal"]]


def network(**more: list[list[object]]) -> list[list[object]]:
    """The tables below each other, from row 3 on, with rows added."""
    rows: list[list[object]] = [["Network of the plant"], []]
    for title, table in NETWORK_TABLES.items():
        rows += [[title], *table, *more.get(title, []), []]
    width = max(map(len, rows))
    return [[*row, *[None] * (width - len(row))] for row in rows]


def call(name, *arguments):
    result = FUNCTIONS[name](list(arguments))
    assert not isinstance(result, CellError), result
    return result


def refusal(*, drives=DRIVES, **more) -> str:
    result = FUNCTIONS["HD_PLANT_BUSES"]([network(**more), drives])
    assert isinstance(result, CellError), result
    return result.reason


def one_answer(site, more, settings):
    """HD_PCC of a site and HD_PLANT_PCC of the same plant as a network, as arrays of numbers."""
    simple = call("HD_PCC", DRIVES, [*SITE, *site], [*IDEAL, *settings])
    nodal = call("HD_PLANT_PCC", network(**more), DRIVES, "utility", [*IDEAL, *settings])
    numbers = [np.array([row[1:] for row in rows[1:]], dtype=float) for rows in (simple, nodal)]
    return numbers[0], numbers[1]


@pytest.mark.parametrize("solution", ["coupled", "uncoupled"])
@pytest.mark.parametrize("summation", ["phasor", "arithmetic"])
@pytest.mark.parametrize(
    ("site", "more"),
    [
        ([], {}),
        ([["linear load kw", 200.0]], {"Loads": [["L", "main", 200.0, 0.85]]}),
        (
            [["linear load kw", 200.0], ["linear load model", "none"], ["capacitor mvar", 0.2]],
            {"Loads": [["L", "main", 200.0, 0.85, None, "none"]], "Capacitors": [["C", "main", 200.0]]},
        ),
        (
            [["capacitor mvar", 0.3], ["capacitor detuning pct", 7.0]],
            {"Capacitors": [["C", "main", 300.0, None, "detuned", 7.0]]},
        ),
    ],
    ids=["bare", "load", "capacitor", "detuned"],
)
def test_a_site_is_the_same_plant_as_its_network(site, more, summation, solution):
    simple, nodal = one_answer(site, more, [["summation", summation], ["solution", solution]])
    assert simple == pytest.approx(nodal, rel=1e-12, abs=1e-12)


def test_coupling_lowers_the_fifth_and_says_that_it_converged():
    coupled = call("HD_PLANT_PCC", network(), DRIVES, "utility")
    alone = call("HD_PLANT_PCC", network(), DRIVES, "utility", [UNCOUPLED])
    assert 0.5 * alone[4][1] < coupled[4][1] < alone[4][1]
    assert call("HD_PLANT_VALUE", network(), DRIVES, "main", "CONVERGED") == "yes"
    assert call("HD_PLANT_VALUE", network(), DRIVES, "main", "CONVERGED", [UNCOUPLED]) == "not needed"


def test_bus_table_holds_the_voltages_of_the_pcc_tables():
    rows = call("HD_PLANT_BUSES", network(), DRIVES)
    assert [row[0] for row in rows] == ["utility", "main", "second"]
    for row in rows:
        total = call("HD_PLANT_PCC", network(), DRIVES, row[0])[50]
        assert row[3] == pytest.approx(total[5], rel=1e-12)
        volts = call("HD_PLANT_VOLTS", network(), DRIVES, row[0])
        assert volts[0][1] == pytest.approx(row[1] * 10.0 * row[2], rel=1e-6)
    assert rows[0][9] == pytest.approx(250.0)


def test_current_of_the_supply_transformer_is_that_of_the_pcc():
    current = call("HD_PLANT_AMPS", network(), DRIVES, "T1")
    table = call("HD_PLANT_PCC", network(), DRIVES, "utility")
    for order in (1, 5, 7, 11, 13):
        assert current[order - 1][1] * 0.69 / 20.0 == pytest.approx(table[order - 1][1], rel=1e-9)


def test_capacitor_current_and_voltage_obey_its_reactance():
    more = {"Capacitors": [["C1", "main", 200.0, 0.72, "detuned", 7.0]]}
    volts = call("HD_PLANT_VOLTS", network(**more), DRIVES, "C1")
    amps = call("HD_PLANT_AMPS", network(**more), DRIVES, "C1")
    for order in (1, 5, 7):
        ohms = 720.0**2 / 200e3 / order
        assert volts[order - 1][1] == pytest.approx(math.sqrt(3.0) * amps[order - 1][1] * ohms, rel=1e-6)


def test_scan_and_resonance_of_a_bank_on_an_infinite_supply():
    """Parallel resonance at sqrt(S_sc / Q), 1000 kVA, 5.3 %, 100 kvar: printed 13.7."""
    tables = [
        ["buses"] + [None] * 5,
        ["name", "kv"] + [None] * 4,
        ["U", 13.8] + [None] * 4,
        ["M", 0.48] + [None] * 4,
        ["utility"] + [None] * 5,
        ["bus", "max mva", "x/r"] + [None] * 3,
        ["U", 1e6, 100.0] + [None] * 3,
        ["transformers"] + [None] * 5,
        ["name", "from bus", "to bus", "kva", "z pct", "vector group"],
        ["T1", "U", "M", 1000.0, 5.3, "Dyn1"],
        ["capacitors"] + [None] * 5,
        ["name", "bus", "kvar"] + [None] * 3,
        ["C1", "M", 100.0] + [None] * 3,
    ]
    (row,) = call("HD_PLANT_RESONANCES", tables, "M")
    assert row[0] == "parallel"
    assert row[1] == pytest.approx(13.7, abs=0.2)
    scan = np.array(call("HD_PLANT_SCAN", tables, "M"))
    assert scan[scan[:, 1].argmax(), 0] == pytest.approx(row[1], abs=0.05)
    without = call("HD_PLANT_RESONANCES", tables, "M", [["capacitors", "off"]])
    assert without[0][0] == "none"


def test_cases_change_what_they_name():
    more = {"Generators": [["G1", "main", 800.0, 12.0]]}
    tables = network(**more)

    def level(bus, *settings):
        return call("HD_PLANT_VALUE", tables, DRIVES, bus, "SC_MVA", [UNCOUPLED, *map(list, settings)])

    assert level("utility") == pytest.approx(250.0)
    assert level("utility", ("short circuit", "minimum")) == pytest.approx(100.0)
    alone = level("main", ("generators", "alone"))
    assert alone == pytest.approx(0.8 / 0.12 / math.hypot(1, 1 / 20), rel=1e-6)
    on = call("HD_PLANT_BUSES", tables, DRIVES, [UNCOUPLED])
    off = call("HD_PLANT_BUSES", tables, DRIVES, [UNCOUPLED, ["generators", "off"]])
    assert on[1][3] < off[1][3]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"Buses": [["main", 0.69]]}, ["name in row 8 of table buses of network", "each name once"]),
        ({"Buses": [["lost", 0.69]]}, ["lost", "island"]),
        ({"Transformers": [["T3", "main", "nowhere", 100.0, 4.0, 4.0, "Dd0"]]}, ["to bus of T3 in cell C17"]),
        ({"Transformers": [["T3", "main", "second", 400.0, 4.0, 4.0, "Dd0"]]}, ["T3", "contradict"]),
        (
            {"Transformers": [["T3", "main", "second", 400e3, 4.0, 4.0, "Dyn11"]]},
            ["kva of T3", "is it in VA?"],
        ),
        (
            {"Transformers": [["T3", "main", "second", 400.0, 0.0, 4.0, "Dyn11"]]},
            ["z pct in cell E17, row 17 of table"],
        ),
        (
            {"Transformers": [["T3", "main", "second", 400.0, 4.0, 4.0, "Dyn2"]]},
            ["vector group of T3", "odd"],
        ),
        ({"Capacitors": [["C1", "main", 200.0, 0.4]]}, ["rated kv of C1 in cell D20, row 20 of table"]),
        ({"Capacitors": [["C1", "main", 200.0, None, "detuned"]]}, ["reactor pct of C1", "missing"]),
        ({"Loads": [["L1", "main", 300.0, 1.5]]}, ["pf in cell D23, row 23 of table loads of", "is 1.5"]),
        ({"Loads": [["L1", "main", "many", 0.9]]}, ["kw in cell C23, row 23 of table loads", "'many'"]),
        ({"Generators": [["T1", "main", 100.0, 12.0]]}, ["T1", "each name once"]),
    ],
)
def test_bad_table_is_named_by_column_and_row(more, words):
    reason = refusal(**more)
    assert all(word in reason for word in words), reason


def test_bad_drive_is_named_by_tag():
    assert "bus of D in drives is attic" in refusal(
        drives=[*DRIVES, ["D", 1.0, 10.0, "kW", 100.0, "attic", 6.0] + [None] * 3]
    )
    wide = [[*HEADINGS, "Volts"], ["A", 1.0, 10.0, "kW", 100.0, "main", 6.0, None, None, None, 480.0]]
    assert "volts of A in drives is 480; valid: within 10 % of the 690 V of bus main" in refusal(drives=wide)


def test_zero_impedance_is_refused_by_row():
    rows = network()
    cables = [
        ["Cables"],
        ["Name", "From bus", "To bus", "Length m", "R ohm per km", "X ohm per km"],
        ["K1", "main", "second", 10.0, 0.0, 0.0],
    ]
    rows += [[*row, *[None] * (len(rows[0]) - len(row))] for row in cables]
    result = FUNCTIONS["HD_PLANT_BUSES"]([rows, DRIVES])
    assert isinstance(result, CellError)
    assert "K1" in result.reason


def test_a_value_beside_the_headings_is_refused():
    rows = network()
    rows[4][4] = 5.0
    result = FUNCTIONS["HD_PLANT_BUSES"]([rows, DRIVES])
    assert isinstance(result, CellError)
    assert "row 5 of table buses" in result.reason


def test_tables_keep_the_row_where_they_stand():
    tables = NETWORK.convert(network(), "network")
    assert [row["row"] for row in tables["buses"]] == [5, 6, 7]


def test_a_bus_out_of_service_takes_along_what_stands_on_it():
    settings = [UNCOUPLED, ["out of service", "second"]]
    rows = call("HD_PLANT_BUSES", network(), DRIVES, settings)
    assert rows[2][10] == "not supplied"
    assert [row[0] for row in call("HD_PLANT_DRIVES", network(), DRIVES, settings)] == ["A", "B"]
    assert sum(row[1] for row in call("HD_PLANT_AMPS", network(), DRIVES, "T2", settings)) == 0.0
    unknown = FUNCTIONS["HD_PLANT_BUSES"]([network(), DRIVES, [["out of service", "attic"]]])
    assert isinstance(unknown, CellError)
    assert "attic" in unknown.reason


def test_a_generator_alone_carries_the_plant():
    """Power balance at the fundamental: the drives at the voltage that the generator holds."""
    tables = network(Generators=[["G1", "main", 1500.0, 12.0]])
    settings = [["generators", "alone"], ["out of service", "second; T1"]]
    current = call("HD_PLANT_AMPS", tables, DRIVES, "G1", settings)
    drives = call("HD_PLANT_DRIVES", tables, DRIVES, settings)
    assert call("HD_PLANT_VALUE", tables, DRIVES, "main", "VOLTS_PCT", settings) == pytest.approx(100.0)
    assert current[0][1] == pytest.approx(2.0 * drives[0][4] + drives[1][4], rel=2e-3)


def test_a_front_end_that_does_not_fit_is_named_by_drive_and_column() -> None:
    headings = [*HEADINGS, "Filter capacitor (%)", "Filter reactor (%)", "Filter tuned order"]
    bare = ["A", 1.0, 100.0, "kW", 100.0, "main", 6.0, None, None, 100.0]
    for filter_columns, said in (
        ([20.0, 8.0, 4.7], "line reactor pct of drive A is 0"),
        ([None, 8.0, None], "filter reactor pct of drive A is 8"),
        ([20.0, None, 0.5], "filter tuned order of drive A is 0.5"),
    ):
        assert said in refusal(drives=[headings, [*bare, *filter_columns]])


def test_notches_of_the_site_are_those_of_its_network() -> None:
    site = FUNCTIONS["HD_NOTCHES"]([DRIVES, SITE, "general"])
    nodal = FUNCTIONS["HD_PLANT_NOTCHES"]([network(), DRIVES, "general"])
    assert isinstance(site, list), site
    assert isinstance(nodal, list), nodal
    for ours, theirs in zip(site, nodal, strict=True):
        assert (ours[0], *ours[7:]) == (theirs[0], *theirs[7:])
        assert ours[1:7] == pytest.approx(theirs[1:7], rel=1e-3)
    assert "A" in site[1][7]
    assert site[2][7].startswith("C")  # with the bridge of B that stands 30 degrees apart


def test_a_case_changes_the_load_of_drives() -> None:
    """As a schedule in which those loads stand: A at 45 %, B off, C at 60 %."""
    settings = [["drive load pct", 50.0], ["drive loads", "b off; C 60 %"], *IDEAL]
    rows = [HEADINGS, [*ROWS[0][:9], 45.0], [*ROWS[2][:9], 60.0]]
    for quantity in ("TDD", "THDV", "FUNDAMENTAL"):
        found = call("HD_PLANT_VALUE", network(), DRIVES, "utility", quantity, settings)
        assert found == pytest.approx(
            call("HD_PLANT_VALUE", network(), rows, "utility", quantity, IDEAL), rel=1e-9
        )
    assert [row[0] for row in call("HD_PLANT_DRIVES", network(), DRIVES, settings)] == ["A", "C"]


def test_loads_may_be_off_in_a_case() -> None:
    tables = network(Loads=[["L1", "main", 300.0, 0.9, "static", "parallel"]])
    off = call("HD_PLANT_VALUE", tables, DRIVES, "utility", "FUNDAMENTAL", [["loads", "off"], *IDEAL])
    assert off == pytest.approx(call("HD_PLANT_VALUE", network(), DRIVES, "utility", "FUNDAMENTAL", IDEAL))


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (["drive loads", "A"], "drive loads.*tag and percent"),
        (["drive loads", "Z 50"], "drive loads.*Z"),
        (["drive loads", "A 50; a 60"], "each drive once"),
        (["drive loads", "A 900"], "load of A is 1 to 200 %"),
        (["drive load pct", "1 %"], "load of A is 1 to 200 %"),
    ],
)
def test_loads_that_no_drive_can_have(settings: list[object], words: str) -> None:
    result = FUNCTIONS["HD_PLANT_VALUE"]([network(), DRIVES, "utility", "TDD", [settings]])
    assert isinstance(result, CellError)
    assert re.search(words, result.reason)


@pytest.mark.parametrize(
    ("orders", "others", "bus_word"),
    [
        ([[5.0, 4.0, 0.0]], "zero", "PASS"),
        ([[5.0, 4.0, None]], "zero", "PASS"),
        ([[3.0, 20.0, 0.0]], "zero", "NO VERDICT"),
        ([[5.0, 4.0, 0.0]], None, "NO VERDICT"),
    ],
)
def test_orders_that_the_flow_does_not_hold_are_not_nought(
    orders: list[list[object]], others: str | None, bus_word: str
) -> None:
    """Elements carry orders of unknown angle, triplens and those nobody gave too: their currents are
    refused."""
    tables = network(Loads=[["LED", "second", 40.0, 0.95, "spectrum", "parallel", others]])
    lines = [["Load", "Order", "Percent", "Deg", "Source"], *(["LED", *row, "data sheet"] for row in orders)]
    width = len(tables[0])
    tables += [[*row, *[None] * (width - len(row))] for row in ([], ["Spectra"], *lines)]
    amps = FUNCTIONS["HD_PLANT_AMPS"]([tables, DRIVES, "T2", IDEAL])
    volts = FUNCTIONS["HD_PLANT_VOLTS"]([tables, DRIVES, "second", IDEAL])
    if orders[0][0] == 5.0 and orders[0][2] is not None and others:
        assert not isinstance(amps, CellError)
        assert not isinstance(volts, CellError)
    else:
        assert isinstance(amps, CellError)
        assert isinstance(volts, CellError)
        assert "load LED draws orders" in amps.reason
    assert call("HD_PLANT_BUSES", tables, DRIVES, IDEAL)[2][10] == bus_word
