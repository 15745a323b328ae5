"""Inverters on the DC bus of one front end, and generators that what is fed back would drive; by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from xlcalc.core.errors import InputError
from xlcalc.io.plants.plant_file import plant_of_tables
from xlcalc.schema.assembly.network import plant_of
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.tables import Tables, stacked_grid
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.verdict.assessment import assess
from xlcalc.worksheet.functions.plant.plant_study import SETTINGS_ARGUMENT

PAIR = [
    {"name": "crane hoist", "front end": "F", "kw": 100.0, "efficiency pct": 90.0, "load pct": -40.0},
    {
        "name": "crane travel",
        "front end": "F",
        "kw": 50.0,
        "quantity": 2,
        "efficiency pct": 90.0,
        "load pct": 90.0,
    },
]
DRIVE = {"tag": "F", "bus": "M", "rating": 200.0, "unit": "kW", "efficiency pct": 100.0, "pulses": 6}


def tables(**more: list[dict[str, Any]]) -> Tables:
    content: dict[str, Any] = {
        "buses": [{"name": "U", "kv": 13.8}, {"name": "M", "kv": 0.48}],
        "utility": [{"bus": "U", "max mva": 200.0}],
        "transformers": [
            {"name": "T", "from bus": "U", "to bus": "M", "kva": 1000.0, "z pct": 6.0, "vector group": "Dyn1"}
        ],
        **more,
    }
    return NETWORK.convert(stacked_grid(NETWORK, content), "network")


def plant(found: Tables, *rows: dict[str, Any], **settings: object) -> StudiedPlant:
    drives: Any = []
    if rows:
        drives = PLANT_DRIVES.convert([list(rows[0]), *(list(row.values()) for row in rows)], "drives")
    given = SETTINGS_ARGUMENT.kind.convert([["frequency hz", 60.0], *map(list, settings.items())], "settings")
    return plant_of(found, drives, given)


def test_a_diode_front_end_carries_what_braking_leaves() -> None:
    """100 kW to the travel less 36 kW from the hoist: 64 of 200 kW; the same in a table of a schedule."""
    found = tables(inverters=PAIR)
    (drive,) = plant(found, {**DRIVE, "line reactor pct": 3.0}).drives
    assert drive.front_end.load_pct == pytest.approx(32.0)
    site = plant_of_tables(Path("crane.toml"), found, [], (), {})
    frame = pd.DataFrame([{**DRIVE, "quantity": 1, "load pct": 100.0}])
    assert site.on_common_bus(frame)["load pct"].tolist() == pytest.approx([32.0])


def test_an_active_front_end_feeds_back_what_is_left() -> None:
    spectra = [{"load": "F", "order": 5, "percent": 3.0, "source": "invented"}]
    row = {"name": "F", "bus": "M", "kva": 200.0, "filter kvar": 10.0}
    listed = [{**PAIR[0], "load pct": -100.0}, {**PAIR[1], "load pct": 45.0}]
    found = tables(inverters=listed, spectra=spectra, **{"active front ends": [row]})
    (load,) = plant(found).network.spectrum_loads
    assert load.watts == pytest.approx(-40e3)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            [{**PAIR[0], "front end": "G"}],
            "front end of crane hoist .* is G",
        ),
        ([PAIR[0]], "load pct of crane hoist .* a diode front end feeds nothing back"),
    ],
)
def test_what_is_refused(rows: list[dict[str, Any]], words: str) -> None:
    with pytest.raises(InputError, match=words):
        plant(tables(inverters=rows), DRIVE)


def test_generators_alone_take_nothing_back() -> None:
    """Fed back 100 kW beside a load of 40 kW: no verdict; filters in standby: leading vars are told."""
    generators = [{"name": "G", "bus": "M", "kva": 500.0, "subtransient pct": 15.0}]
    loads = [{"name": "L", "bus": "M", "kw": 40.0, "pf": 1.0}]
    spectra = [{"load": "F", "order": 5, "percent": 3.0, "source": "invented"}]
    row = {"name": "F", "bus": "M", "kva": 200.0, "kw": -100.0, "filter kvar": 20.0}
    found = {}
    for state in ("running", "standby"):
        made = tables(
            generators=generators,
            loads=loads,
            spectra=spectra,
            **{"active front ends": [{**row, "state": state}]},
        )
        found[state] = assess(plant(made, generators="alone"), PccOptions("M", demand_amps=300.0))
    assert found["running"].judgement.word == "NO VERDICT"
    assert "60 kW are fed back into generators alone" in found["running"].judgement.reason
    assert any("kvar (leading) at 40 kW" in remark for remark in found["standby"].remarks)


@pytest.mark.parametrize(
    ("kvar", "kw", "leading_pct", "said"),
    [
        (60.0, 40.0, None, ""),
        (90.0, 40.0, None, "more than the 75 kvar that are usual"),
        (90.0, 40.0, 20.0, ""),
        (90.0, 40.0, 10.0, "more than the 50 kvar that are its 'leading pct'"),
        (30.0, 560.0, 20.0, "more than its rating of 500 kVA"),
    ],
)
def test_what_a_generator_alone_can_run_with(
    kvar: float, kw: float, leading_pct: float | None, said: str
) -> None:
    """A bank beside a load at unity power factor: the generator takes the vars, by hand; 15 % are 75 kvar."""
    generators = [
        {"name": "G", "bus": "M", "kva": 500.0, "subtransient pct": 15.0, "leading pct": leading_pct}
    ]
    capacitors = [{"name": "C", "bus": "M", "kvar": kvar}]
    loads = [{"name": "L", "bus": "M", "kw": kw, "pf": 1.0}]
    made = tables(generators=generators, loads=loads, capacitors=capacitors)
    found = assess(plant(made, generators="alone"), PccOptions("M", demand_amps=300.0))
    assert f"take {kvar:g} kvar (leading) at {kw:g}" in " ".join(found.remarks)
    assert (said in found.judgement.reason) if said else ("generator G" not in found.judgement.reason)
