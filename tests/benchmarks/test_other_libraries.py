"""The same window by two general-purpose libraries; where they differ, why.

Neither is among the requirements of the tests (pip install pqopen-lib, mhkit); what was found with 0.10.5 and
1.1.2, and what IEC 61000-4-7 says (its formulas are written out in `test_windows.py`):

* harmonic subgroups: all agree to rounding; `mhkit` gives peak values (twice the line over the samples),
  which are larger by the root of 2, and twice the mean at frequency 0;
* distortion: `mhkit` sums orders 2 to 49, `pqopen` 2 to 40 unless told otherwise, this package 2 to 50;
* interharmonics: `pqopen` sums lines 2 to 8 after an order, the centred subgroup of 50 Hz, also at 60 Hz,
  where the standard has 2 to 10; `mhkit` sums lines 1 to 6 at 50 Hz and 1 to 10 at 60 Hz, where it has
  1 to 9 and 1 to 11 for the group.
"""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.measurement.groups import harmonic_subgroups, interharmonic_subgroups, thd_pct

RATE = 50_000
T = np.arange(10_000) / RATE


def lines(hz: int, tones: dict[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """A window of 0.2 s and its lines, rms."""
    wave = sum(np.sqrt(2.0) * rms * np.cos(2 * np.pi * h * hz * T + h) for h, rms in tones.items())
    found = np.abs(np.fft.rfft(wave)) * np.sqrt(2.0) / T.size
    found[0] /= np.sqrt(2.0)
    return np.asarray(wave), found


@pytest.mark.parametrize(("hz", "cycles"), [(50, 10), (60, 12)])
def test_mhkit(hz: int, cycles: int) -> None:
    quality = pytest.importorskip("mhkit.power.quality")
    pandas = pytest.importorskip("pandas")
    beside, between, far = 5 + 1 / cycles, 3 + 4 / cycles, 7 + (cycles - 2) / cycles
    wave, mine = lines(hz, {1: 230.0, 5: 12.0, beside: 3.0, between: 4.0, far: 2.0})
    theirs = quality.harmonics(pandas.Series(wave), RATE, hz)
    groups = quality.harmonic_subgroups(theirs, hz)["data"].to_numpy()
    own = harmonic_subgroups(mine, cycles)
    assert groups[1:51] == pytest.approx(np.sqrt(2.0) * own, abs=1e-9)
    assert own[4] == pytest.approx(np.hypot(12.0, 3.0))
    distortion = quality.total_harmonic_current_distortion(quality.harmonic_subgroups(theirs, hz))
    assert float(distortion.iloc[0]) == pytest.approx(float(thd_pct(own, 49)))
    sums = quality.interharmonics(theirs, hz)["data"].to_numpy()
    mean = interharmonic_subgroups(mine, cycles)
    assert sums[3] == pytest.approx(np.sqrt(2.0) * mean[3])
    assert mean[7] == pytest.approx(2.0)
    assert sums[7] == pytest.approx(0.0 if hz == 50 else np.sqrt(2.0) * 2.0, abs=1e-9)


@pytest.mark.parametrize(("hz", "cycles"), [(50, 10), (60, 12)])
def test_pqopen(hz: int, cycles: int) -> None:
    quality = pytest.importorskip("pqopen.powerquality")
    beside, between, far = 5 + 1 / cycles, 3 + 4 / cycles, 7 + (cycles - 2) / cycles
    _, mine = lines(hz, {1: 230.0, 5: 12.0, beside: 3.0, between: 4.0, far: 2.0})
    theirs, _ = quality.calc_harmonics(mine, cycles, 50)
    own = harmonic_subgroups(mine, cycles)
    assert theirs[1:] == pytest.approx(own, abs=1e-9)
    assert quality.calc_thd(theirs, max_harmonic=50) == pytest.approx(float(thd_pct(own)))
    sums = quality.calc_interharmonics(mine, cycles, 50)
    mean = interharmonic_subgroups(mine, cycles)
    assert sums[3] == pytest.approx(mean[3])
    assert mean[7] == pytest.approx(2.0)
    assert sums[7] == pytest.approx(2.0 if hz == 50 else 0.0, abs=1e-9)
