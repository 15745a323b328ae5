"""Networks from rows of tables: units, kinds of elements, and refusals that name column, row and table."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.network.branches import Line
from xlcalc.network.capacitors import CapacitorBank, CTypeFilter, DampedFilter, TunedFilter
from xlcalc.network.from_rows import network_from_rows

Rows = dict[str, list[dict[str, Any]]]
BANK: dict[str, Any] = dict.fromkeys(("rated kv", "reactor pct", "tuned order", "quality"))


def tables(**more: list[dict[str, Any]]) -> Rows:
    empty: Rows = {name: [] for name in ("cables", "capacitors", "loads", "generators")}
    return {
        "buses": [{"name": "U", "kv": 20.0}, {"name": "M", "kv": 0.4}, {"name": "N", "kv": 0.4}],
        "utility": [{"bus": "U", "max mva": 500.0, "min mva": 200.0, "x/r": 10.0}],
        "transformers": [
            {"name": f"T{bus}", "from bus": "U", "to bus": bus, "kva": 1000.0, "z pct": 6.0, "x/r": 8.0}
            | {"vector group": "Dyn11", "primary kv": None, "secondary kv": None, "tap pct": 0.0}
            for bus in ("M", "N")
        ],
        **empty,
        **more,
    }


def test_short_circuit_levels_by_hand() -> None:
    """Reactances alone: 1 / (1/500 + 0.06/1) MVA behind the transformer, within the difference of X/R."""
    for level, name in ((500.0, "maximum"), (200.0, "minimum")):
        network = network_from_rows(tables(), name)  # type: ignore[arg-type]
        ohms = abs(network.short_circuit_impedance("M"))
        assert 400.0**2 / ohms / 1e6 == pytest.approx(1.0 / (1.0 / level + 0.06), rel=2e-3)
        assert network.shift_deg("M") == 30.0


@pytest.mark.parametrize("shift", [7.5, -10.0, 15.0, -20.0])
def test_shift_of_a_polygon_or_zigzag(shift: float) -> None:
    """Two groups of drives at plus and minus the angle; no zero sequence passes isolated windings."""
    rows = tables()["transformers"]
    rows[0] |= {"vector group": "Dz0", "shift deg": shift}
    rows[1] |= {"vector group": "YNa0"}
    network = network_from_rows(tables(transformers=rows))
    assert (network.shift_deg("M"), network.shift_deg("N")) == (shift, 0.0)
    assert [branch.passes_zero_sequence for branch in network.branches] == [False, True]


@pytest.mark.parametrize(
    ("group", "shift", "words"),
    [
        ("Dy1", 15.0, "shift deg of TM .* is 15; valid: within 30 degrees of the -30 degrees of Dy1"),
        ("Da5", 15.0, "vector group of TM .* clock number 0 for an autotransformer"),
    ],
)
def test_shifts_that_are_refused(group: str, shift: float, words: str) -> None:
    rows = tables()["transformers"]
    rows[0] |= {"vector group": group, "shift deg": shift}
    with pytest.raises(InputError, match=words):
        network_from_rows(tables(transformers=rows))


def test_cable_in_its_units() -> None:
    """200 m, two conductors: R 0.1 x 0.2 / 2 ohm; capacitance 0.3 uF/km x 0.2 km at 50 Hz."""
    cable = {"name": "K", "from bus": "M", "to bus": "N", "length m": 200.0, "parallel": 2}
    cable |= {"r ohm per km": 0.1, "x ohm per km": 0.08, "c uf per km": 0.3}
    network = network_from_rows(tables(cables=[cable]), hz=50.0)
    (line,) = (branch for branch in network.branches if isinstance(branch, Line))
    assert (line.resistance, line.reactance, line.parallel) == pytest.approx((0.02, 0.016, 2))
    assert line.charging == pytest.approx(2 * np.pi * 50 * 0.06e-6)


@pytest.mark.parametrize(
    ("values", "kind", "order"),
    [
        ({"kind": "bank"}, CapacitorBank, None),
        ({"kind": "detuned", "reactor pct": 7.0}, CapacitorBank, 3.78),
        ({"kind": "tuned", "tuned order": 4.8}, TunedFilter, 4.8),
        ({"kind": "damped", "tuned order": 11.0, "quality": 3.0}, DampedFilter, None),
        ({"kind": "c-type", "tuned order": 3.0}, CTypeFilter, None),
    ],
)
def test_kinds_of_capacitors(values: dict[str, Any], kind: type, order: float | None) -> None:
    row = {"name": "C", "bus": "M", "kvar": 100.0, **BANK, **values}
    (bank,) = network_from_rows(tables(capacitors=[row])).capacitors
    assert type(bank) is kind
    assert bank.capacitor_ohms == pytest.approx(400.0**2 / 100e3)
    if order is not None:
        grid = np.linspace(2.0, 8.0, 6001)
        assert grid[np.abs(bank.admittance(grid)).argmax()] == pytest.approx(order, abs=0.005)


def test_load_has_its_watts_and_vars() -> None:
    row = {"name": "L", "bus": "M", "kind": "static", "kw": 80.0, "pf": 0.8, "model": "parallel"}
    (load,) = network_from_rows(tables(loads=[row])).loads
    assert load.power == pytest.approx(80e3 + 60e3j)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"capacitors": [{"name": "C", "row": 9, "bus": "X", "kind": "bank", "kvar": 1.0, **BANK}]},
         "bus of C in row 9 of table capacitors is X"),
        ({"capacitors": [{"name": "C", "bus": "M", "kind": "tuned", "kvar": 1.0, **BANK}]},
         "tuned order of C in table capacitors is missing"),
        ({"capacitors": [{"name": "C", "bus": "M", "kind": "bank", "kvar": 1.0, **BANK, "quality": 3.0}]},
         "quality of C in table capacitors is 3; valid: blank"),
        ({"capacitors": [{"name": "C", "bus": "M", "kind": "bank", "kvar": 250e3, **BANK}]},
         "is it in var?"),
        ({"utility": [{"bus": "U", "max mva": 5.0, "min mva": 9.0, "x/r": 10.0}]},
         "min mva of U in table utility is 9; valid: up to the 5 MVA"),
        ({"utility": [{"bus": "U", "max mva": 5.0, "min mva": None, "x/r": 10.0}] * 2},
         "a second supply"),
        ({"utility": [{"bus": "U", "max mva": 500e3, "min mva": None, "x/r": 10.0}]},
         "max mva of U in table utility is 500000; valid: up to 6928 MVA at 20 kV; is it in kVA?"),
        ({"loads": [{"name": "L", "row": 7, "columns": {"kw": "D"}, "bus": "U", "kind": "motor", "kw": 2e6,
                     "pf": 0.8, "starting ratio": 6.0}]},
         "kw of L in cell D7, row 7 of table loads is 2000000; valid: up to 692820 kW at 20 kV; is it in W?"),
        ({"generators": [{"name": "G", "bus": "U", "kva": 550e3, "rated kv": None, "subtransient pct": 15.0,
                          "x/r": 20.0, "kw": 0.0, "kvar": 0.0}]},
         "up to 500000 kVA on a supply of 500 MVA short-circuit level; is it in VA?"),
    ],
)  # fmt: skip
def test_refusals_name_the_place(more: Rows, words: str) -> None:
    with pytest.raises(InputError) as problem:
        network_from_rows(tables(**more))
    assert words in str(problem.value)


def transformer(**values: Any) -> Rows:
    whole = tables()
    whole["transformers"][0] |= values
    return whole


@pytest.mark.parametrize("kv", [0.4, 6.3, 20.0, 66.0, 110.0])
def test_a_rating_in_va_is_found_at_any_voltage(kv: float) -> None:
    """The same transformer, 1000 kVA, typed in VA; only the level of its secondary differs."""
    whole = transformer(kva=1e6)
    whole["buses"][1]["kv"] = kv
    with pytest.raises(InputError, match=r"kva of TM .* is it in VA\?"):
        network_from_rows(whole)


def test_volts_in_a_column_of_kv_are_found() -> None:
    whole = tables()
    whole["buses"][1]["kv"] = 400.0
    with pytest.raises(
        InputError, match=r"kv of M in table buses is 400; .* TM of 1000 kVA stands on it; is it in V\?"
    ):
        network_from_rows(whole)


def test_a_rating_in_mva_is_found() -> None:
    with pytest.raises(InputError, match=r"kva of TM in table transformers is 1; .* is it in MVA\?"):
        network_from_rows(transformer(kva=1.0))


def test_three_windings_from_a_row() -> None:
    row = {"name": "T3", "primary bus": "U", "secondary bus": "M", "tertiary bus": "N", "kva": 2000.0}
    row |= {"z ps pct": 6.0, "z pt pct": 6.0, "z st pct": 11.0, "x/r": 8.0, "vector group": "Dd0yn11"}
    row |= dict.fromkeys(("primary kv", "secondary kv", "tertiary kv")) | {"tap pct": 0.0}
    network = network_from_rows(tables(transformers=[], **{"three-winding transformers": [row]}))
    assert (network.shift_deg("M"), network.shift_deg("N")) == (0.0, 30.0)
    assert abs(network.short_circuit_impedance("M")) == pytest.approx(
        400.0**2 * (1 / 500e6 + 0.06 / 2e6), rel=2e-3
    )
    for column, value, words in (
        ("vector group", "Dyn11", "a vector group of three windings"),
        ("vector group", "Dd1yn11", "an even clock number"),
        ("z st pct", 25.0, "above 0 and below 24"),
        ("tertiary bus", "M", "another bus for each winding"),
        ("secondary kv", 0.69, "within 10 % of the 0.4 kV"),
    ):
        with pytest.raises(InputError) as problem:
            network_from_rows(
                tables(transformers=[], **{"three-winding transformers": [row | {column: value}]})
            )
        assert words in str(problem.value)
        assert "T3 in table three-winding transformers" in str(problem.value)
