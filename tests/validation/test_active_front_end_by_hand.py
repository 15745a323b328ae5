"""Active and regenerative front ends of a plant, by hand: powers, filter, residual spectrum, refusals.

The plant and the spectrum are invented.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.network.from_rows import lists_all_orders
from xlcalc.network.nodal import NodalNetwork
from xlcalc.schema.assembly.network import network_of
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.tables import Tables, stacked_grid
from xlcalc.studies.duty.active_front_end import active_filter_amps
from xlcalc.studies.solution import PlantSolution, solve_injected
from xlcalc.studies.verdict.remarks import spectrum_doubts
from xlcalc.worksheet.functions.plant.plant_study import SETTINGS_ARGUMENT

UNIT = {"name": "R1", "bus": "M", "kva": 200.0, "kw": 150.0, "filter kvar": 20.0, "line reactor pct": 5.0}
BASIS = "invented for a test"
SPECTRUM = [
    {"load": "R1", "order": 5, "percent": 2.0, "deg": 0.0, "source": BASIS, "load pct": 100.0},
    {"load": "R1", "order": 5, "percent": 6.0, "deg": 0.0, "load pct": 25.0},
    {"load": "R1", "order": 7, "percent": 1.0, "deg": 0.0, "load pct": 100.0},
]
BANK = {"name": "C1", "bus": "M", "kind": "bank", "kvar": 50.0}


BARE: dict[str, Any] = {
    "buses": [{"name": "U", "kv": 13.8}, {"name": "M", "kv": 0.48}],
    "utility": [{"bus": "U", "max mva": 200.0}],
    "transformers": [
        {"name": "T", "from bus": "U", "to bus": "M", "kva": 1000.0, "z pct": 6.0, "vector group": "Dyn1"}
    ],
}


def network(settings: list[list[Any]] | None = None, **changed: Any) -> NodalNetwork:
    content = {
        **BARE,
        "capacitors": [BANK],
        "active front ends": [{**UNIT, **changed}],
        "spectra": SPECTRUM,
    }
    kind = SETTINGS_ARGUMENT.kind
    tables = NETWORK.convert(stacked_grid(NETWORK, content), "network")
    return network_of(tables, kind.convert(settings or [["frequency hz", 60.0]], "settings"))


def at_bus(found: PlantSolution) -> tuple[complex, np.ndarray]:
    """Three-phase power into the low-voltage bus and its line current by order."""
    volts, amps = found.flow.bus_volts("M"), found.flow.inflow("M")
    return complex(np.sum(volts[:, 0] * np.conj(amps[:, 0]))), amps


def filter_var(found: PlantSolution) -> float:
    """Vars of the filter at the voltage that it has: X_C less the 5 % reactor, by hand."""
    volts = math.sqrt(3.0) * abs(found.flow.bus_volts("M")[0, 0])
    base = 480.0**2 / 200e3
    return volts**2 / (480.0**2 / 20e3 - 0.05 * base)


@pytest.mark.parametrize(("kw", "kvar"), [(150.0, 0.0), (-150.0, 0.0), (-100.0, 120.0), (0.0, 200.0)])
def test_powers_in_all_quadrants(kw: float, kvar: float) -> None:
    """The bus gets the power of the converter and the vars of its filter, nothing else."""
    found = solve_injected(network([["capacitors", "off"]], kw=kw, kvar=kvar), ())
    power, _ = at_bus(found)
    assert power.real == pytest.approx(1e3 * kw, abs=200.0)
    assert power.imag == pytest.approx(-1e3 * kvar - filter_var(found), rel=1e-3)


def test_the_filter_stays_in_standby_and_with_capacitors_off() -> None:
    """Parallel resonance of the filter alone with the supply, at sqrt(X_C / (X_s + X_1)) by hand."""
    standby = network([["capacitors", "off"]], state="standby")
    assert [element.name for element in (*standby.loads, *standby.capacitors)] == ["R1 filter"]
    reactance = standby.short_circuit_impedance("M").imag + 0.05 * 480.0**2 / 200e3
    expected = math.sqrt(480.0**2 / 20e3 / reactance)
    orders = np.linspace(2.0, 40.0, 7601)
    seen = np.abs(standby.transfer_impedance("M", "M", orders))
    assert orders[np.argmax(seen)] == pytest.approx(expected, rel=0.01)
    assert network([["capacitors", "off"]]).capacitors == standby.capacitors
    assert [c.name for c in network([["out of service", "R1"]]).capacitors] == ["C1"]


def test_residual_spectrum_at_the_load() -> None:
    """75 % load: a third of the way from full load down to a quarter, in amperes of the rating."""
    (load,) = network().spectrum_loads
    assert load.source == BASIS
    fifth, seventh = load.harmonics
    assert fifth.percent == pytest.approx((2.0 * 2 / 3 + 1.5 / 3) / 0.75)
    assert seventh.percent == pytest.approx(1.0 * 2 / 3 / 0.75)


def test_active_filter_of_two_that_are_a_quarter_apart() -> None:
    """5th of equal size at 0 and 90 degrees: root 2, 2^(1/1.4) and 2 times one, by hand."""
    tables, settings = _tables(), SETTINGS_ARGUMENT.kind.convert([["capacitors", "off"]], "settings")
    found = solve_injected(network_of(tables, settings), ())
    one = (
        0.02
        * abs(complex(found.network.spectrum_loads[0].power))
        / (3.0 * abs(found.flow.bus_volts("M")[0, 0]))
    )
    amps = active_filter_amps(found, "M", left_pct=10.0)
    share = found.network.current_share("M", "M", 5)
    expected = 0.9 * one * abs(complex(share)) * np.array([math.sqrt(2.0), 2.0 ** (1 / 1.4), 2.0])
    assert (amps.phasors, amps.exponents, amps.arithmetic) == pytest.approx(expected, rel=1e-6)


def _tables() -> Tables:
    told = {"kw": 200.0, "filter kvar": 0.0, "orders not listed": "zero"}
    pair = [{**UNIT, **told, "name": name} for name in ("A", "B")]
    spectra = [
        {"load": name, "order": 5, "percent": 2.0, "deg": deg, "source": BASIS}
        for name, deg in (("A", 0.0), ("B", 90.0))
    ]
    return NETWORK.convert(
        stacked_grid(NETWORK, {**BARE, "active front ends": pair, "spectra": spectra}), "network"
    )


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"kw": 250.0}, "kw of R1 .* valid: -200 to 200 kW, its rating"),
        ({"kvar": 140.0}, "kvar of R1 .* what 150 kW leave of 200 kVA"),
        ({"kw": 10.0}, "load pct of R1 .* 5 % at which it runs; they cover 25 to 100 %"),
        ({"name": "R2"}, "load of R1 in .*table spectra"),
        ({"filter kvar": 150.0}, "filter kvar of R1 .* half the rating"),
    ],
)
def test_what_is_refused(changed: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        network(**changed)


def test_orders_that_nobody_gave_leave_no_verdict() -> None:
    doubts = {
        word: spectrum_doubts(network(**{"orders not listed": word}), "U") for word in ("not given", "zero")
    }
    assert doubts["zero"] == []
    assert "the spectrum of R1 ends at order 7" in doubts["not given"][0]


def test_orders_that_one_load_of_the_table_lacks_are_not_given() -> None:
    """All orders at a quarter of the load, two of them at full load: the rest is open in between."""
    full = [line for line in SPECTRUM if line["load pct"] == 100.0]
    quarter = [{"load": "R1", "order": h, "percent": 1.0, "load pct": 25.0} for h in range(2, 51)]
    assert not lists_all_orders({"orders not listed": "not given"}, [*full, *quarter])
    assert lists_all_orders({"orders not listed": "not given"}, quarter)
    assert lists_all_orders({"orders not listed": "zero"}, [*full, *quarter])
