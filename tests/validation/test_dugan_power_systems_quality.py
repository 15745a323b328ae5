"""Dugan, McGranaghan, Santoso and Beaty, *Electrical Power Systems Quality*: evaluation of a capacitor bank.

Recalled, not read: 1200 kvar, 13.8 kV, 60 Hz, 4 % of order 5 and 3 % of order 7; printed rms voltage 7977 V
and 100.1 %, peak 107.0 %, rms current 52.27 A and 104.1 %, kvar 104.3 %, current distortion 29 %. Each
follows from the formulas by hand, so that the recollection is confirmed by the arithmetic.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.equipment.capacitor import CapacitorBank, capacitor_stress, judge_capacitor
from xlcalc.spectrum import Spectrum

BANK = CapacitorBank(13.8e3, 1200e3, 60.0)
VOLTS = Spectrum.from_orders([(1, 13.8e3), (5, 0.04 * 13.8e3), (7, 0.03 * 13.8e3)])


def test_currents_and_voltages() -> None:
    current = BANK.current(VOLTS)
    assert current.fundamental == pytest.approx(50.2, abs=0.01)
    assert current.thd_pct == pytest.approx(29.0, abs=0.005)
    assert current.rms == pytest.approx(52.27, abs=0.01)
    assert VOLTS.rms / math.sqrt(3) == pytest.approx(7977.39, abs=0.1)


def test_stress_in_percent_of_the_rating() -> None:
    stress = capacitor_stress(BANK, VOLTS, angles_known=False)
    printed = (100.1, 107.0, 104.1, 104.3)
    shown = (stress.rms_voltage_pct, stress.peak_voltage_pct, stress.rms_current_pct, stress.kvar_pct)
    assert [round(value, 1) for value in shown] == list(printed)
    assert judge_capacitor(stress, "IEEE 18-1992").word == "PASS"
