"""P. S. Bimbhra, *Power Electronics*: overlap examples 6.26 and 6.28, through a second-hand public copy."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from xlcalc.reactor import bridge_dc_volts, commutation_overlap_deg


def test_example_6_28() -> None:
    """230 V phase, 50 Hz, 4 mH, E 400 V, R 1 ohm, 20 A: delay 34.382, overlap 8.22 degrees."""
    volts, ohm = 230 * math.sqrt(3), 2 * math.pi * 50 * 4e-3
    delay = brentq(lambda a: bridge_dc_volts(volts, ohm, 20, a) - (400 + 20), 0, 80)
    assert delay == pytest.approx(34.382, abs=0.01)
    assert commutation_overlap_deg(ohm, 20, volts, delay) == pytest.approx(8.22, abs=0.01)


@pytest.mark.parametrize(("delay", "overlap"), [(60, 2.23), (45, 2.70), (30, 3.70)])
def test_example_6_26(delay: float, overlap: float) -> None:
    """15 degrees at zero delay; the same current at 60 degrees printed as 2.23, the others computed."""
    current = (1 - math.cos(math.radians(15))) * math.sqrt(2) * 400 / 2
    assert commutation_overlap_deg(1.0, current, 400) == pytest.approx(15)
    assert commutation_overlap_deg(1.0, current, 400, delay) == pytest.approx(overlap, abs=0.01)
