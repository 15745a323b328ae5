"""Mohan, Undeland and Robbins, *Power Electronics*: thyristor bridge example (recalled; figures computed)."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from xlcalc.reactor import bridge_dc_volts, commutation_overlap_deg


def test_500_kw_bridge_at_460_volts() -> None:
    """460 V, 60 Hz, 25 uH, 525 V, 500 kW: Id 952.4 A, delay 30.8, overlap 2.96 degrees (book: about 3)."""
    amps = 500e3 / 525
    ohm = 2 * math.pi * 60 * 25e-6
    delay = brentq(lambda a: bridge_dc_volts(460, ohm, amps, a) - 525, 0, 80)
    assert amps == pytest.approx(952.4, rel=1e-4)
    assert delay == pytest.approx(30.8, rel=1e-2)
    assert commutation_overlap_deg(ohm, amps, 460, delay) == pytest.approx(2.96, rel=1e-2)
