"""Line reactors: teaching material (25 kV, 5 %) and the general percent formula (460 V, 3 %)."""

from __future__ import annotations

import pytest

from xlcalc.reactor import reactor_drop_volts, reactor_henry, reactor_percent


def test_drop_of_a_5_percent_reactor_at_25_kv() -> None:
    """Printed 721 V per phase at rated current."""
    assert reactor_drop_volts(5, 25e3) == pytest.approx(721.7, rel=2e-3)


@pytest.mark.parametrize(("amps", "millihenry"), [(4, 5.283), (12, 1.761)])
def test_3_percent_at_460_volts(amps: float, millihenry: float) -> None:
    """Computed; catalogue parts of such ratings come in standard steps and differ."""
    assert 1000 * reactor_henry(3, 460, amps, 60) == pytest.approx(millihenry, rel=1e-3)
    assert reactor_percent(millihenry / 1000, 460, amps, 60) == pytest.approx(3, rel=1e-3)
