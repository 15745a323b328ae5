"""IEEE 1459-2010, example of Annex B: one phase with orders 1, 3, 5 and 7.

Voltages and the currents of orders 1 and 3 as a public program transcribes them; the current angles of orders
5 and 7 (the program has 234 degrees for both) and the printed powers are recalled: P_1 8660.00, P_3 -13.94,
P_5 -11.78, P_7 -1.74 W. That the recalled angles give the recalled powers confirms the pair.
"""

from __future__ import annotations

import pytest

from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.power import PhasePower

VOLTS = {1: (100.0, 0.0), 3: (8.0, -70.0), 5: (15.0, 140.0), 7: (5.0, 20.0)}
AMPS = {1: (100.0, -30.0), 3: (20.0, -165.0), 5: (15.0, 233.0), 7: (10.0, 288.0)}


def spectrum(table: dict[int, tuple[float, float]]) -> Spectrum:
    sizes = [table.get(h, (0.0, 0.0))[0] for h in range(1, 8)]
    angles = [table.get(h, (0.0, 0.0))[1] for h in range(1, 8)]
    return Spectrum.from_polar(sizes, angles)


POWER = PhasePower(spectrum(VOLTS), spectrum(AMPS))


@pytest.mark.parametrize(("order", "watts"), [(1, 8660.25), (3, -13.94), (5, -11.78), (7, -1.74)])
def test_active_power_by_order(order: int, watts: float) -> None:
    alone = {h: v for h, v in AMPS.items() if h in (1, order)}
    fundamental = PhasePower(spectrum(VOLTS), spectrum({1: AMPS[1]})).active
    value = PhasePower(spectrum(VOLTS), spectrum(alone)).active - (0.0 if order == 1 else fundamental)
    assert value == pytest.approx(watts, abs=0.006)


def test_totals() -> None:
    """rms 101.56 V and 103.56 A; the distortion powers from THD 17.72 % and 26.93 %, by hand."""
    assert POWER.voltage.rms == pytest.approx(101.56, abs=0.005)
    assert POWER.current.rms == pytest.approx(103.56, abs=0.005)
    assert POWER.active == pytest.approx(8632.79, abs=0.01)
    assert POWER.fundamental_reactive == pytest.approx(5000.0)
    assert POWER.fundamental_apparent == pytest.approx(10_000.0)
    assert POWER.apparent == pytest.approx(10_517.49, abs=0.01)
    assert POWER.current_distortion == pytest.approx(2692.58, abs=0.01)
    assert POWER.voltage_distortion == pytest.approx(1772.0, abs=0.1)
    assert POWER.harmonic_apparent == pytest.approx(477.13, abs=0.05)
    assert POWER.harmonic_active == pytest.approx(-27.46, abs=0.01)
    assert POWER.displacement_factor == pytest.approx(0.8660, abs=1e-4)
    assert POWER.power_factor == pytest.approx(8632.79 / 10_517.49, rel=1e-5)
