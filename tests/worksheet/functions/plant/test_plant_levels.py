"""A bus against all documents: the verdicts are those of the functions for one spectrum, scopes are kept."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.schema.values import Grid
from xlcalc.worksheet.catalogue import FUNCTIONS

DRIVES: Grid = [
    ["tag", "rating", "unit", "efficiency pct", "pulses", "bus", "line reactor pct", "dc choke pct"],
    ["P1", 400.0, "kW", 100.0, 6, "L", 3.0, 0.0],
    ["P2", 900.0, "kW", 100.0, 12, "M", 0.0, 4.0],
]


def network(kv: float) -> Grid:
    rows: Grid = [
        ["buses"],
        ["name", "kv"],
        ["U", kv],
        ["M", 6.3],
        ["L", 0.4],
        ["utility"],
        ["bus", "max mva", "x/r"],
        ["U", 400.0, 10.0],
        ["transformers"],
        ["name", "from bus", "to bus", "kva", "z pct", "vector group"],
        ["T1", "U", "M", 6000.0, 8.0, "YNd11"],
        ["T2", "M", "L", 1000.0, 5.0, "Dyn11"],
    ]
    return [[*row, *[""] * (6 - len(row))] for row in rows]


def levels(bus: str, kv: float = 20.0) -> dict[str, list[object]]:
    rows = FUNCTIONS["HD_PLANT_LEVELS"]([network(kv), DRIVES, bus])
    assert isinstance(rows, list), rows
    return {f"{row[0]} {row[1].split(',')[0]}": row for row in rows}


def percent(bus: str, kv: float = 20.0) -> Grid:
    """Line-to-neutral spectrum in percent of its fundamental, by way of the spectrum function."""
    volts = FUNCTIONS["HD_PLANT_VOLTS"]([network(kv), DRIVES, bus])
    assert isinstance(volts, list), volts
    return [[row[0], 100.0 * row[1] / volts[0][1], row[2]] for row in volts]


@pytest.mark.parametrize(
    ("bus", "document", "function", "more"),
    [
        ("L", "IEC 61000-2-2 (edition not stated) voltage", "HD_VERDICT_IEC61000_2_2", []),
        ("L", "IEC 61000-2-4-2002 class 2 voltage", "HD_VERDICT_IEC61000_2_4", ["2"]),
        ("L", "EN 50160-2010 LV voltage", "HD_VERDICT_EN50160", ["LV"]),
        ("M", "IEC 61000-2-4-2002 class 3 voltage", "HD_VERDICT_IEC61000_2_4", ["3"]),
        ("M", "EN 50160-2010 MV voltage", "HD_VERDICT_EN50160", ["MV"]),
        ("M", "IEC TR 61000-3-6-2008 MV voltage", "HD_VERDICT_IEC61000_3_6", ["MV"]),
    ],
)
def test_same_verdict_as_the_function_of_the_document(
    bus: str, document: str, function: str, more: list[str]
) -> None:
    row = levels(bus)[document]
    table = FUNCTIONS[function]([percent(bus), *more])
    assert isinstance(table, list), table
    (total,) = (line for line in table if line[1] == "" and line[0] == "THD")
    orders = [line for line in table if line[1] != "" and line[2] != ""]
    worst = orders[int(np.argmax([line[2] / line[3] for line in orders]))]
    assert row[2:4] == pytest.approx(total[2:4], rel=1e-3)
    assert row[4] == worst[1]
    assert row[5:7] == pytest.approx(worst[2:4], rel=1e-3)
    words = {line[5] for line in table if line[5]}
    assert row[7] == ("FAIL" if "FAIL" in words else "NO VERDICT" if "NO VERDICT" in words else "PASS")


def test_no_document_is_used_beyond_its_scope() -> None:
    outside = {bus: {name for name, row in levels(bus, 110.0).items() if "scope" in row[7]} for bus in "UML"}
    low = {"IEC 61000-2-2 (edition not stated) voltage", "EN 50160-2010 LV voltage"}
    medium = {"EN 50160-2010 MV voltage", "IEC TR 61000-3-6-2008 MV voltage"}
    plant = {f"IEC 61000-2-4-2002 class {k} voltage" for k in (1, 2, 3)}
    high = {"IEC TR 61000-3-6-2008 HV-EHV voltage"}
    assert outside == {"U": low | medium | plant, "M": low | high, "L": medium | high}
    assert levels("U", 110.0)["IEC TR 61000-3-6-2008 HV-EHV voltage"][7] in ("PASS", "FAIL")


def test_ieee_519_is_that_of_the_pcc_table() -> None:
    row = levels("M")["IEEE 519-2022 current"]
    table = FUNCTIONS["HD_PLANT_PCC"]([network(20.0), DRIVES, "M"])
    orders = [line for line in table[1:50] if line[3]]
    worst = max(orders, key=lambda line: line[2] / line[3])
    assert row[4:7] == pytest.approx([worst[0], worst[2], worst[3]])


def test_the_multiplier_raises_only_where_low_orders_are_held() -> None:
    rows = levels("M")
    plain, raised = rows["IEEE 519-2022 current"], rows["IEEE 519-2022, multiplier current"]
    assert raised[2:4] == plain[2:4]
    assert raised[6] >= plain[6]
