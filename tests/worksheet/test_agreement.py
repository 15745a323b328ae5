"""Functions that must tell one story: waveform and spectrum, single drive and schedule, schedule and PCC."""

from __future__ import annotations

import math

import numpy as np
import pytest

from xlcalc.schema.values import CellError
from xlcalc.worksheet.catalogue import FUNCTIONS

UNBALANCED = [["unbalance pct", 1.5], ["background 5th pct", 2.0], ["background 5th deg", 40.0]]
DRIVES = [
    [
        *("Tag", "Quantity", "Rating", "Unit", "Efficiency (%)", "Bus", "Pulses"),
        *("Line reactor (%)", "DC choke (%)", "Load (%)"),
    ],
    ["A", 2.0, 100.0, "kW", 100.0, "main", 6.0, 3.0, None, 90.0],
    ["B", 1.0, 250.0, "kW", 100.0, "main", 12.0, None, 4.0, 100.0],
    ["C", 3.0, 40.0, "kW", 100.0, "second", 6.0, None, 4.0, 80.0],
]
SITE = [
    ["utility kv", 20.0],
    ["utility mva", 250.0],
    ["transformer kva", 1600.0],
    ["transformer z pct", 6.0],
    ["main bus volts", 690.0],
    ["second transformer kva", 400.0],
    ["second transformer z pct", 4.0],
    ["second transformer shift deg", 30.0],
    ["second bus volts", 400.0],
    ["linear load kw", 200.0],
]
ALONE = [["solution", "uncoupled"]]
"""Every drive on the sine voltage of its bus, as the functions of single drives take it."""


def call(name, *arguments):
    result = FUNCTIONS[name](list(arguments))
    assert not isinstance(result, CellError), result
    return result


@pytest.mark.parametrize("pulses", [6, 12, 18, 24])
@pytest.mark.parametrize("phase", [1, 2, 3])
def test_waveform_and_spectrum_are_one_steady_state(pulses, phase):
    """By the FFT of numpy; 360 samples alias only orders above 310 into the first 50."""
    arguments = (pulses, 0.8, 3.0, 2.0, 75.0, UNBALANCED, phase)
    spectrum = np.array(call("HD_SPECTRUM", *arguments))
    waveform = np.array(call("HD_WAVEFORM", *arguments))
    assert waveform[:, 0] == pytest.approx(np.arange(360.0))
    lines = np.fft.rfft(waveform[:, 1])[1:51] * 2.0 / 360.0
    expected = spectrum[:, 1] * np.exp(1j * np.radians(spectrum[:, 2])) / 100.0 * abs(lines[0])
    assert np.abs(lines - expected).max() < 3e-4 * abs(lines[0])


def test_phases_of_a_balanced_supply_are_a_third_of_a_cycle_apart():
    first, second = (np.array(call("HD_SPECTRUM", 6, 1.0, 0, 0, 100, None, phase)) for phase in (1, 2))
    assert second[:, 1] == pytest.approx(first[:, 1], abs=1e-9)
    assert math.remainder(second[4, 2] - first[4, 2] + 5 * 120.0, 360.0) == pytest.approx(0.0, abs=1e-6)


def test_sine_supply_power_factor_is_displacement_over_distortion():
    """IEEE 1459 with a sinusoidal voltage: PF = DPF / sqrt(1 + THD^2), all orders."""
    arguments = (6, 1.0, 3.0, 0.0, 100.0)
    spectrum = call("HD_SPECTRUM", *arguments)
    thd = call("HD_THD", spectrum) / 100.0
    ratio = call("HD_DISPLACEMENT_PF", *arguments) / math.sqrt(1.0 + thd**2)
    assert call("HD_TRUE_PF", *arguments) == pytest.approx(ratio, rel=2e-5)


def test_power_factor_at_the_terminals_is_another_number():
    at_terminals = call("HD_TRUE_PF", 6, 2.0, 0, 3, 100, [["power factor at", "terminals"]])
    at_source = call("HD_TRUE_PF", 6, 2.0, 0, 3, 100, [["power factor at", "source"]])
    assert at_source == call("HD_TRUE_PF", 6, 2.0, 0, 3, 100)
    assert abs(at_terminals - at_source) > 1e-4


def test_schedule_and_single_drive_agree():
    rows = call("HD_DRIVES", DRIVES, SITE, ALONE)
    reactance = call("HD_BUS_VALUE", SITE, "main", "X_OHM")
    x_over_r = call("HD_BUS_VALUE", SITE, "main", "X_R")
    source = 100.0 * reactance * 100e3 / 690.0**2
    assert rows[0][1] == pytest.approx(source)
    settings = [["source x/r", x_over_r], ["capacitor resistance pct", 0.5]]
    alone = call("HD_SPECTRUM", 6, source, 3, 0, 90, settings)
    assert rows[0][2] == pytest.approx(call("HD_THD", alone))
    assert rows[0][3] == pytest.approx(alone[4][1])


def turns_on_one_bus(ohms, volts, units):
    """Angle of each drive's EMF: the bus voltage that all make together, and the drop of the drive alone.

    `units` are pairs of a quantity and the fundamental of one unit against its own EMF, A.
    """
    turns = np.zeros(len(units))
    for _ in range(50):
        flows = [amps * np.exp(1j * turn) for (_, amps), turn in zip(units, turns, strict=True)]
        drawn = sum(number * flow for (number, _), flow in zip(units, flows, strict=True))
        bus = volts / math.sqrt(3.0) - ohms * drawn
        turns = np.array([np.angle(bus + ohms * flow) for flow in flows])
    return np.degrees(turns)


def test_pcc_is_the_sum_of_its_rows():
    """Drives of one bus without a linear load, which would take a share: the phasor sum of single spectra."""
    drives, site = DRIVES[:3], SITE[:5]
    x_over_r, reactance = (call("HD_BUS_VALUE", site, "main", name) for name in ("X_R", "X_OHM"))
    settings = [["source x/r", x_over_r], ["capacitor resistance pct", 0.5]]
    spectra, units = [], []
    for row, values in zip(drives[1:], call("HD_DRIVES", drives, site, ALONE), strict=True):
        spectra.append(call("HD_SPECTRUM", row[6], values[1], row[7], row[8], row[9], settings))
        units.append((row[1], values[4] * np.exp(1j * math.radians(spectra[-1][0][2]))))
    turns = turns_on_one_bus(reactance * (1.0 / x_over_r + 1j), 690.0, units)
    parts = [
        [[h, pct * number * abs(amps) / 100.0 * 690.0 / 20e3, angle + h * turn] for h, pct, angle in spectrum]
        for spectrum, (number, amps), turn in zip(spectra, units, turns, strict=True)
    ]
    total = call("HD_SPECTRUM_SUM", *parts)
    table = call("HD_PCC", drives, site, ALONE)
    for order in (5, 7, 11, 13):
        assert table[order - 1][1] == pytest.approx(total[order - 1][1], rel=1e-8)
    assert table[50][1] == pytest.approx(math.sqrt(sum(row[1] ** 2 for row in total[1:])), rel=1e-9)
    demand = call("HD_PCC_VALUE", drives, site, "IL", ALONE)
    tdd = call("HD_PCC_VALUE", drives, site, "TDD", ALONE)
    assert tdd == pytest.approx(call("HD_TDD", total, demand), rel=1e-9)


def test_phase_shift_of_the_second_transformer_cancels_part_of_the_fifth():
    plain = [row for row in SITE if row[0] != "second transformer shift deg"]
    shifted, in_step = (call("HD_PCC", DRIVES, site, ALONE) for site in (SITE, plain))
    assert shifted[4][1] < 0.8 * in_step[4][1]
    assert shifted[10][1] == pytest.approx(in_step[10][1], rel=1e-9)
    shifted, in_step = (call("HD_PCC", DRIVES, site) for site in (SITE, plain))
    assert shifted[4][1] < 0.8 * in_step[4][1]


def test_arithmetic_sum_is_never_below_the_phasor_sum():
    phasor = call("HD_PCC", DRIVES, SITE)
    arithmetic = call("HD_PCC", DRIVES, SITE, [["summation", "arithmetic"]])
    assert all(a[1] >= p[1] * (1 - 1e-12) for a, p in zip(arithmetic[1:50], phasor[1:50], strict=True))


@pytest.mark.parametrize(("edition", "limit"), [("2014", 0.25), ("2022", 0.5)])
def test_even_order_rule_follows_the_edition(edition, limit):
    table = call("HD_PCC", DRIVES, SITE, [["edition", edition]])
    assert table[3][3] == pytest.approx(limit * table[4][3])


def test_reactor_for_thd_is_the_smallest_that_meets_it():
    reactor = call("HD_REACTOR_FOR_THD", 35.0, 6, 0.5)
    met = call("HD_THD", call("HD_SPECTRUM", 6, 0.5, reactor))
    assert met <= 35.0
    assert call("HD_THD", call("HD_SPECTRUM", 6, 0.5, reactor - 0.001)) > 35.0
    assert call("HD_REACTOR_FOR_THD", 150.0, 6, 1.0) == 0.0


def test_unreachable_distortion_says_what_is_reachable():
    result = FUNCTIONS["HD_REACTOR_FOR_THD"]([3.0, 6.0, 0.5])
    assert isinstance(result, CellError)
    assert result.code == "#NUM!"
    assert "the lowest is" in result.reason
