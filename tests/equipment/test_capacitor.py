"""Capacitor banks: stress against a waveform that is differentiated in time, limits by edition."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.capacitor import (
    CapacitorRating,
    CapacitorStress,
    capacitor_standards,
    capacitor_stress,
    judge_capacitor,
)

BANK = CapacitorRating(rated_volts=480.0, rated_var=100e3, rated_hz=60.0)

voltages = st.lists(st.tuples(st.floats(0.0, 40.0), st.floats(-180.0, 180.0)), min_size=12, max_size=12).map(
    lambda harmonics: Spectrum.from_polar(
        [460.0, *(size for size, _ in harmonics)], [0.0, *(angle for _, angle in harmonics)]
    )
)


@settings(max_examples=25)
@given(volts=voltages)
def test_current_is_the_capacitance_times_the_slope_of_the_voltage(volts: Spectrum) -> None:
    """i = C dv/dt by a spectral derivative of the sampled waveform, star connection."""
    count = 512
    omega = 2 * math.pi * 60.0
    farad = BANK.rated_var / (omega * BANK.rated_volts**2)
    phase_volts = volts.samples(count) / math.sqrt(3.0)
    slope = np.fft.irfft(np.fft.rfft(phase_volts) * 1j * np.arange(count // 2 + 1) * omega, count)
    assert BANK.current(volts).samples(count) == pytest.approx(farad * slope, abs=1e-6)


@settings(max_examples=25)
@given(volts=voltages)
def test_stress_against_the_sampled_waveform(volts: Spectrum) -> None:
    stress = capacitor_stress(BANK, volts)
    wave = volts.samples(4_000)
    assert stress.rms_voltage_pct == pytest.approx(100 * math.sqrt(np.mean(wave**2)) / 480.0)
    assert stress.peak_voltage_pct == pytest.approx(100 * wave.max() / (math.sqrt(2) * 480.0)) or (
        stress.peak_voltage_pct == pytest.approx(-100 * wave.min() / (math.sqrt(2) * 480.0))
    )
    worst = capacitor_stress(BANK, volts, angles_known=False)
    assert worst.peak_voltage_pct >= stress.peak_voltage_pct - 1e-9
    by_order = np.sum(volts.magnitude * BANK.current(volts).magnitude) / (480.0 * BANK.rated_amps)
    assert stress.kvar_pct >= 100 * by_order - 1e-9


UNLOADED = CapacitorStress(1, 1, 1, 1, 1)


@pytest.mark.parametrize(
    ("standard", "ladder"),
    [
        (
            "IEC 60831-1",
            {"continuous": 100, "8 h in 24 h": 110, "30 min in 24 h": 115, "5 min": 120, "1 min": 130},
        ),
        (
            "IEC 60871-1",
            {"continuous": 100, "12 h in 24 h": 110, "30 min in 24 h": 115, "5 min": 120, "1 min": 130},
        ),
    ],
)
def test_ladder_of_overvoltages(standard: str, ladder: dict[str, float]) -> None:
    """Recalled, no text read: the harmonics count in the current, the ladder is of the power frequency."""
    for duration, most in ladder.items():
        for percent, word in ((most, "PASS"), (1.001 * most, "FAIL")):
            volts = Spectrum.from_orders([(1, 4.8 * percent), (5, 4.8)])
            judgement = judge_capacitor(capacitor_stress(BANK, volts), standard, duration)
            assert judgement.verdicts[0].limit == most
            assert judgement.verdicts[0].word == word


def test_frequency_raises_the_current() -> None:
    volts = Spectrum.from_orders([(1, 480.0)])
    at_50 = capacitor_stress(BANK, volts, 50.0)
    assert at_50.rms_current_pct == pytest.approx(100 * 50 / 60)
    assert at_50.rms_voltage_pct == pytest.approx(100.0)


def test_edition_decides_on_the_current() -> None:
    stress = CapacitorStress(105.0, 115.0, 150.0, 130.0, fundamental_voltage_pct=99.0)
    words = {name: judge_capacitor(stress, name).word for name in capacitor_standards()}
    assert words.pop("IEEE 18-1992") == "PASS"
    assert set(words.values()) == {"FAIL"}
    assert {"IEEE 18-2002", "IEEE 18-2012", "IEC 60831-1-2014", "IEC 60871-1", "IEC 60831-1"} <= set(words)
    assert [v.quantity for v in judge_capacitor(stress, "IEC 60831-1").verdicts] == [
        "fundamental voltage",
        "rms current",
    ]
    assert "superseded by the 2012 edition" in judge_capacitor(stress, "IEEE 18-2002").note
    assert "from memory (moderate)" in judge_capacitor(stress, "IEC 60831-1").note


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: CapacitorRating(0.0, 1e5), "rated_volts"),
        (lambda: CapacitorRating(480.0, 0.0), "rated_var"),
        (lambda: CapacitorRating(480.0, 1e5, 0.0), "rated_hz"),
        (lambda: BANK.current(Spectrum.from_orders([(1, 1.0)]), 0.0), "hz"),
        (lambda: judge_capacitor(UNLOADED, "IEEE 18-2001"), "standard"),
        (lambda: judge_capacitor(UNLOADED, "IEC 60831-1", "12 h in 24 h"), "duration"),
        (lambda: judge_capacitor(UNLOADED, "IEEE 18-2002", "5 min"), "duration"),
        (lambda: UNLOADED.of("heat"), "quantity"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument
