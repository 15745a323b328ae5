"""Powers of IEEE 1459: against the waveforms in time, identities, balanced and unbalanced circuits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.power import PhasePower, ThreePhasePower

COUNT = 256


def spectra(fundamental: float) -> st.SearchStrategy[Spectrum]:
    order = st.tuples(st.floats(0.0, 0.5 * fundamental), st.floats(-180.0, 180.0))
    return st.lists(order, min_size=9, max_size=9).map(
        lambda rest: Spectrum.from_polar([fundamental, *(m for m, _ in rest)], [0.0, *(a for _, a in rest)])
    )


@given(volts=spectra(230.0), amps=spectra(40.0), lag=st.floats(-180.0, 180.0))
def test_one_phase_against_the_waveform(volts: Spectrum, amps: Spectrum, lag: float) -> None:
    current = amps.rotated(-lag)
    power = PhasePower(volts, current)
    v, i = volts.samples(COUNT), current.samples(COUNT)
    assert power.active == pytest.approx(float(np.mean(v * i)), abs=1e-6)
    assert power.apparent == pytest.approx(math.sqrt(np.mean(v**2) * np.mean(i**2)))
    assert power.fundamental_reactive == pytest.approx(230 * 40 * math.sin(math.radians(lag)), abs=1e-6)
    assert power.active == pytest.approx(power.fundamental_active + power.harmonic_active)
    assert power.apparent**2 == pytest.approx(
        power.fundamental_apparent**2 + power.nonfundamental_apparent**2
    )
    assert power.apparent**2 == pytest.approx(power.active**2 + power.nonactive**2)
    assert power.harmonic_apparent**2 == pytest.approx(
        power.harmonic_active**2 + power.harmonic_distortion**2, abs=1e-3
    )


@given(amps=spectra(40.0), lag=st.floats(0.0, 80.0))
def test_sinusoidal_voltage(amps: Spectrum, lag: float) -> None:
    """PF = DPF / sqrt(1 + THD_I^2) (cross-checked in secondary sources)."""
    power = PhasePower(Spectrum.from_orders([(1, 230.0)]), amps.rotated(-lag))
    thd = amps.thd_pct / 100.0
    assert power.power_factor == pytest.approx(power.displacement_factor / math.sqrt(1 + thd**2))
    assert power.harmonic_active == 0.0


@given(volts=spectra(230.0), amps=spectra(40.0), four=st.booleans())
def test_balanced_three_phases_are_three_times_one(volts: Spectrum, amps: Spectrum, four: bool) -> None:
    """Without triplens; the effective values are then those of a phase."""
    keep = np.array([h % 3 != 0 for h in volts.orders])
    v, i = Spectrum(volts.phasors * keep), Spectrum(amps.phasors * keep)
    turned = [(v.rotated(-120.0 * k), i.rotated(-120.0 * k)) for k in range(3)]
    three = ThreePhasePower(tuple(t[0] for t in turned), tuple(t[1] for t in turned), four)
    one = PhasePower(v, i)
    assert three.effective_apparent == pytest.approx(3 * one.apparent)
    assert three.active == pytest.approx(3 * one.active, abs=1e-6)
    assert three.positive_reactive == pytest.approx(3 * one.fundamental_reactive, abs=1e-6)
    assert three.nonfundamental_apparent == pytest.approx(3 * one.nonfundamental_apparent, abs=1e-3)
    assert three.unbalance == pytest.approx(0.0, abs=1e-2)


def test_one_loaded_phase_of_four_wires() -> None:
    """I_e = sqrt(2/3) I with the neutral, S_e = 3 V I_e, PF = 1/sqrt(6) x sqrt(... ) = P/S_e (by hand)."""
    volts = tuple(Spectrum.from_orders([(1, 100.0)]).rotated(-120.0 * k) for k in range(3))
    amps = (Spectrum.from_orders([(1, 10.0)]), Spectrum(np.zeros(50)), Spectrum(np.zeros(50)))
    power = ThreePhasePower(volts, amps, four_wire=True)
    assert power.effective_current == pytest.approx(10.0 * math.sqrt(2 / 3))
    assert power.effective_voltage == pytest.approx(100.0)
    assert power.power_factor == pytest.approx(1000.0 / (3 * 100 * 10 * math.sqrt(2 / 3)))
    assert power.positive_active == pytest.approx(1000.0 / 3 * 3)
    assert power.displacement_factor == pytest.approx(1.0)


def test_line_to_line_load_of_three_wires() -> None:
    """I_e = sqrt(2/3) I; a resistor between two phases has S_e / P = sqrt2 (textbook of power theory)."""
    volts = tuple(Spectrum.from_orders([(1, 100.0)]).rotated(-120.0 * k) for k in range(3))
    line = Spectrum(0.1 * (volts[0].phasors - volts[1].phasors))
    power = ThreePhasePower(volts, (line, line.scaled(-1.0), Spectrum(np.zeros(50))))
    assert power.power_factor == pytest.approx(1 / math.sqrt(2))


def test_bad_input_names_the_argument() -> None:
    sine = Spectrum.from_orders([(1, 1.0)])
    none = Spectrum(np.zeros(5))
    with pytest.raises(InputError, match="voltage is without a fundamental"):
        PhasePower(none, sine)
    with pytest.raises(InputError, match="voltage of phase b"):
        ThreePhasePower((sine, none, sine), (sine, sine, sine), True)
    with pytest.raises(InputError, match="or four wires"):
        ThreePhasePower((sine, sine, sine), (sine, sine, sine))
    with pytest.raises(InputError, match="currents"):
        ThreePhasePower((sine, sine, sine), (none, none, none))
