"""Functions for measured values through the registry: numpy and counts by hand."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.schema.values import CellError, ErrorCode
from xlcalc.worksheet.catalogue import FUNCTIONS


def column(values):
    return [[None if value is None else float(value)] for value in values]


def waveform(hz, rate, seconds):
    t = np.arange(round(rate * seconds)) / rate
    tones = ((1, 100.0, 30.0), (5, 20.0, -60.0), (7.2, 3.0, 0.0))
    return sum(np.sqrt(2.0) * r * np.cos(2 * np.pi * h * hz * t + np.radians(d)) for h, r, d in tones[:3])


def test_spectrum_of_whole_cycles_is_the_transform_of_numpy():
    wave = waveform(50.0, 10_000, 0.2)
    rows = FUNCTIONS["HD_SAMPLE_SPECTRUM"]([column(wave), 10_000.0, 50.0])
    bins = np.fft.rfft(wave)[10:501:10] * np.sqrt(2.0) / wave.size
    assert [row[1] for row in rows] == pytest.approx(np.abs(bins), abs=1e-9)
    assert rows[4] == pytest.approx([5.0, 20.0, -60.0], rel=1e-9)


@pytest.mark.parametrize("hz", [49.7, 60.2])
def test_frequency_is_found(hz):
    t = np.arange(4_000) / 10_000
    wave = 100 * np.cos(2 * np.pi * hz * t) + 20 * np.cos(2 * np.pi * 5 * hz * t)
    rows = FUNCTIONS["HD_SAMPLE_SPECTRUM"]([column(wave), 10_000.0, None])
    assert [rows[0][1], rows[4][1]] == pytest.approx([100 / np.sqrt(2), 20 / np.sqrt(2)], rel=1e-9)


def test_groups_of_the_first_window():
    """The line at 7.2 times the fundamental is an interharmonic: beside no order, in the group of the 7th."""
    rows = FUNCTIONS["HD_SUBGROUPS"]([column(waveform(49.9, 10_000, 0.5)), 10_000.0, None])
    assert len(rows) == 50
    assert rows[4][1:3] == pytest.approx([20.0, 20.0], rel=1e-9)
    assert rows[6] == pytest.approx([7.0, 0.0, 3.0, 3.0, 3.0], abs=1e-6)
    short = FUNCTIONS["HD_SUBGROUPS"]([column(waveform(50.0, 10_000, 0.1)), 10_000.0, 50.0])
    assert isinstance(short, CellError)
    assert "5 whole cycles" in short.reason


def test_swapped_phases_have_no_unbalance():
    swapped = FUNCTIONS["HD_UNBALANCE_PCT"]([[[100.0, 0.0], [100.0, 120.0], [100.0, -120.0]]])
    assert isinstance(swapped, CellError)
    assert swapped.code is ErrorCode.NUM
    assert "swapped" in swapped.reason


@pytest.mark.parametrize(
    ("over", "missing", "word"),
    [(50, 0, "PASS"), (51, 0, "FAIL"), (40, 10, "PASS"), (40, 11, "NO VERDICT"), (51, 300, "FAIL")],
)
def test_percentile_of_a_week(over, missing, word):
    """95 % of 1008 are 958: 50 may exceed, missing ones included."""
    values = [5.0] * over + [None] * missing + [1.0] * (1_008 - over - missing)
    (row,) = FUNCTIONS["HD_PERCENTILE_VERDICT"]([column(values), 4.0, "current 95 % week"])
    assert row[1:5] == [4.0, word, 1_008.0 - missing, 1_008.0]
    if missing:
        assert f"{1_008 - missing} of 1008 values known" in row[5]
    too_long = FUNCTIONS["HD_PERCENTILE_VERDICT"]([column(values * 2), 4.0, "current 95 % week"])
    assert isinstance(too_long, CellError)
