"""Energy and cost of added losses, by hand."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import InputError
from xlcalc.equipment.energy import LoadBlock, added_cost, added_energy_kwh

PROFILE = [LoadBlock(1.0, 2000, 0.25), LoadBlock(0.8, 3000, 0.15), LoadBlock(0.0, 3760, 0.10)]


def test_energy_and_cost() -> None:
    """1.5 kW x (2000 + 0.64 x 3000) h = 5880 kWh; 1.5 x (2000 x 0.25 + 1920 x 0.15) = 1182."""
    assert added_energy_kwh(1500.0, PROFILE) == pytest.approx(5880.0)
    assert added_cost(1500.0, PROFILE) == pytest.approx(1182.0)
    assert added_energy_kwh(0.0, PROFILE) == 0.0


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: LoadBlock(2.5, 10), "load_pu"),
        (lambda: LoadBlock(1.0, -1), "hours"),
        (lambda: LoadBlock(1.0, 1, -1), "price_per_kwh"),
        (lambda: added_energy_kwh(-1, PROFILE), "added_watts"),
        (lambda: added_energy_kwh(1, []), "profile"),
        (lambda: added_cost(1, [LoadBlock(1, 8000), LoadBlock(0.5, 800)]), "profile"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
