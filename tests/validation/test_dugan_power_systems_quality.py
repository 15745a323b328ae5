"""Dugan, McGranaghan, Santoso and Beaty, *Electrical Power Systems Quality*: a capacitor bank and a filter.

Recalled, not read; each figure follows from the formulas by hand, so that the recollection is confirmed by
the arithmetic.

Evaluation of a bank: 1200 kvar, 13.8 kV, 60 Hz, 4 % of order 5 and 3 % of order 7; printed rms voltage 7977 V
and 100.1 %, peak 107.0 %, rms current 52.27 A and 104.1 %, kvar 104.3 %, current distortion 29 %.

Design of a filter for a 480 V bus, tuned to order 4.7: capacitors of 675 kvar at 600 V, X_C 0.5333 ohm, X_L
0.02414 ohm or 0.0640 mH, fundamental current 544 A, 503 V across the capacitors, 452 kvar in effect.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.capacitor import CapacitorRating, capacitor_stress, judge_capacitor
from xlcalc.network.capacitors import TunedFilter
from xlcalc.rectifier.passive_filter import FilterRating

BANK = CapacitorRating(13.8e3, 1200e3, 60.0)
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


def test_filter_design() -> None:
    design = TunedFilter("F", "bus", 675e3, 600.0, tuned_order=4.7, quality=1000.0)
    assert design.capacitor_ohms == pytest.approx(0.5333, abs=5e-5)
    reactor = complex(design.series_impedance(1)).imag
    assert reactor == pytest.approx(0.02414, abs=5e-6)
    assert 1e3 * reactor / (2 * math.pi * 60) == pytest.approx(0.0640, abs=5e-5)
    amps = abs(complex(design.admittance(1))) * 480 / math.sqrt(3)
    assert amps == pytest.approx(544, abs=0.5)
    assert 480 * abs(complex(design.capacitor_share(1))) == pytest.approx(503, abs=0.5)
    assert math.sqrt(3) * 0.48 * amps == pytest.approx(452, abs=1)


def test_the_same_shunt_branch_ahead_of_a_drive() -> None:
    """In percent of a drive's base the branch is the same circuit, at every order."""
    base = 480.0**2 / 500e3
    capacitor_ohms = 600.0**2 / 675e3
    rating = FilterRating(100.0 * base / capacitor_ohms, tuned_order=4.7, shunt_resistance_pct=0.0)
    bank = TunedFilter("F", "bus", 675e3, 600.0, tuned_order=4.7, quality=1000.0)
    for order in (1, 5, 7, 11):
        branch = complex(rating.per_unit().shunt.at(1j * order)) * base
        assert branch.imag == pytest.approx((1.0 / complex(bank.admittance(order))).imag, rel=1e-3)
