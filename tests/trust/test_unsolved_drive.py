"""One drive without a solution is named, gives no verdict, and leaves what still holds of the others."""

from __future__ import annotations

from typing import Any

from xlcalc.schema.values import Value
from xlcalc.worksheet.catalogue import FUNCTIONS

SETTINGS: list[list[Value]] = [
    ["load kind", "power"],
    ["dc capacitance pu", 2.5],
    ["capacitor resistance pct", 0.0],
    ["supply", "ideal"],
]
"""A load of constant power at every instant: with a large choke it has no stable steady state."""

DRIVES: list[list[Value]] = [
    ["tag", "rating", "unit", "efficiency pct", "pulses", "bus", "line reactor pct", "dc choke pct"],
    ["sound", 100.0, "kW", 95.0, 6.0, "main", 3.0, 0.0],
    ["odd", 100.0, "kW", 95.0, 6.0, "main", 0.0, 4.0],
]
SITE: list[list[Value]] = [
    ["utility kv", 13.8],
    ["utility mva", 200.0],
    ["transformer kva", 1500.0],
    ["transformer z pct", 5.75],
    ["main bus volts", 480.0],
    ["linear load kw", 300.0],
]
NETWORK: list[list[Value]] = [
    ["buses", "", "", "", "", ""],
    ["name", "kv", "", "", "", ""],
    ["U", 13.8, "", "", "", ""],
    ["main", 0.48, "", "", "", ""],
    ["utility", "", "", "", "", ""],
    ["bus", "max mva", "", "", "", ""],
    ["U", 200.0, "", "", "", ""],
    ["transformers", "", "", "", "", ""],
    ["name", "from bus", "to bus", "kva", "z pct", "vector group"],
    ["T1", "U", "main", 1500.0, 5.75, "Dyn1"],
]


def site(name: str, *asked: Value) -> Any:
    return FUNCTIONS[name]([DRIVES, SITE, *asked, SETTINGS])


def plant(name: str, *asked: Value) -> Any:
    return FUNCTIONS[name]([NETWORK, DRIVES, *asked, SETTINGS])


def test_the_drive_is_named_and_there_is_no_verdict() -> None:
    for verdict, reason in (
        (site("HD_PCC_VALUE", "VERDICT"), site("HD_PCC_VALUE", "REASON")),
        (plant("HD_PLANT_VALUE", "U", "VERDICT"), plant("HD_PLANT_VALUE", "U", "REASON")),
    ):
        assert verdict == "NO VERDICT"
        assert "odd" in reason
        assert "without odd the figures of the other 1 hold" in reason


def test_the_others_keep_their_figures() -> None:
    for rows, thd in ((site("HD_DRIVES"), 7), (plant("HD_PLANT_DRIVES"), 2)):
        sound, odd = rows
        assert sound[0] == "sound"
        assert 20.0 < sound[thd] < 60.0
        assert "alone on its bus" in sound[-1]
        assert odd[thd] == ""
        assert odd[-1]
