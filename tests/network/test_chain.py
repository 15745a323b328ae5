"""Transformers in series against an independent nodal solution in per unit (numpy)."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.network.chain import series_network
from xlcalc.network.elements import Transformer, Utility

UTILITY = Utility(13_800, 250e6, 12)
SUPPLY = Transformer(2.0e6, 5.75, 6, 13_800, 480, -30)
SECOND = Transformer(500e3, 4.0, 3, 480, 400, 30)
PLANT = series_network(UTILITY, SUPPLY, SECOND)


def per_unit_impedance_matrix(order: float) -> np.ndarray:
    """Bus impedance matrix on 1 MVA and nominal volts, from the nodal admittance matrix."""
    branches = [
        _ohms(1e6 / 250e6, 12, order),
        _ohms(0.0575 * 1e6 / 2.0e6, 6, order),
        _ohms(0.04 * 1e6 / 500e3, 3, order),
    ]
    admittance = np.zeros((3, 3), dtype=complex)
    admittance[0, 0] = 1 / branches[0]
    for k, z in enumerate(branches[1:]):
        admittance[k : k + 2, k : k + 2] += np.array([[1, -1], [-1, 1]]) / z
    return np.linalg.inv(admittance)


def _ohms(z: float, xr: float, order: float) -> complex:
    angle = np.arctan(xr)
    return complex(z * (np.cos(angle) + 1j * order * np.sin(angle)))


@pytest.mark.parametrize("order", [1, 5, 7.3, 49])
def test_impedances_and_transfers(order: float) -> None:
    expected = per_unit_impedance_matrix(order)
    for i, at in enumerate(PLANT.buses):
        for k, source in enumerate(PLANT.buses):
            base = PLANT.volts(at) * PLANT.volts(source) / 1e6
            actual = complex(PLANT.transfer_impedance(at, source, order))
            assert actual == pytest.approx(expected[i, k] * base, rel=1e-12)
        own = complex(PLANT.impedance(at, order))
        assert own == pytest.approx(expected[i, i] * PLANT.volts(at) ** 2 / 1e6, rel=1e-12)


def test_resistance_is_constant_and_reactance_proportional_to_the_order() -> None:
    one, seven = PLANT.impedance("second", [1, 7])
    assert seven.real == pytest.approx(one.real)
    assert seven.imag == pytest.approx(7 * one.imag)


def test_short_circuit_level_at_each_bus() -> None:
    assert PLANT.short_circuit_va("utility") == pytest.approx(250e6)
    level = 1e6 / abs(per_unit_impedance_matrix(1)[2, 2])
    assert PLANT.short_circuit_va("second") == pytest.approx(level)


def test_shares_and_shifts() -> None:
    assert complex(PLANT.current_share("utility", "second", 5)) == pytest.approx(400 / 13_800)
    assert complex(PLANT.current_share("second", "main", 5)) == pytest.approx(0, abs=1e-15)
    assert [PLANT.shift_deg(bus) for bus in PLANT.buses] == [0, -30, 0]


def test_a_plant_at_the_voltage_of_the_utility() -> None:
    alone = series_network(UTILITY)
    assert alone.buses == ("utility",)
    assert alone.short_circuit_va("utility") == pytest.approx(250e6)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: Utility(0, 250e6), "volts"),
        (lambda: Utility(13_800, -1), "short_circuit_va"),
        (lambda: Utility(13_800, 250e6, 0), "x_over_r"),
        (lambda: Utility(13_800, 250e6, 10, ((5, 1, 0), (5, 2, 0))), "background order"),
        (lambda: Utility(13_800, 250e6, 10, ((5, 200, 0),)), "background pct of order 5"),
        (lambda: Utility(13_800, 250e6, unbalance_pct=-1), "unbalance_pct"),
        (lambda: Transformer(0, 5, 6, 13_800, 480), "rating_va"),
        (lambda: Transformer(1e6, 575, 6, 13_800, 480), "impedance_pct"),
        (lambda: Transformer(1e6, 5, 6, 13_800, 480, 300), "phase_shift_deg"),
        (
            lambda: series_network(UTILITY, Transformer(1e6, 5, 6, 4160, 480)),
            "primary_volts of supply transformer",
        ),
        (lambda: PLANT.impedance("third", 1), "bus"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
