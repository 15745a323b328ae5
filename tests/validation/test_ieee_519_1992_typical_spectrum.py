"""IEEE 519-1992 and IEEE 141: typical spectrum of a six-pulse converter (recalled).

The theoretical column is 1/h; the typical one corresponds to an overlap of about 25 degrees.
"""

from __future__ import annotations

import pytest

from xlcalc.rectifier.closed_form import ideal_spectrum

TYPICAL = {5: 17.5, 7: 11.0, 11: 4.5, 13: 2.9, 17: 1.5, 19: 1.0, 23: 0.9, 25: 0.8}


def test_theoretical_column() -> None:
    percent = ideal_spectrum(6).percent
    for order, value in {5: 20.0, 7: 14.3, 11: 9.1, 13: 7.7, 17: 5.9, 19: 5.3, 23: 4.3, 25: 4.0}.items():
        assert percent[order - 1] == pytest.approx(value, abs=0.05)


def test_typical_column_is_an_overlap_of_25_degrees() -> None:
    percent = ideal_spectrum(6, 25.0).percent
    for order, value in TYPICAL.items():
        assert percent[order - 1] == pytest.approx(value, abs=0.15)
