"""Public worked example of transformer sizing under a six-pulse load, read in full.

Printed: I = 1.0410, K-factor 8.3476, the terms h^q (I_h/I_1)^2 with q = 1.7 and e/(1+e) = 0.091.
DISAGREEMENT: the example's total of those terms, 4.7511, includes the fundamental's 1.0000, although the
factor K sums from order 2 on; its factor of 1.1828 and its 84.55 % follow from that. Checked here: the
sums, the terms, and the factor from the printed terms without the fundamental.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.transformer import european_factor_k, k_rating

CURRENT = Spectrum.from_orders(
    [
        (1, 1.0),
        (5, 0.2),
        (7, 0.14),
        (11, 0.091),
        (13, 0.077),
        (17, 0.058),
        (19, 0.056),
        (23, 0.043),
        (25, 0.04),
    ]
)
PRINTED_TERMS = (0.6170, 0.5357, 0.4880, 0.4642, 0.4155, 0.4680, 0.3818, 0.3807)
SHARE = 0.091
EDDY_RATIO = SHARE / (1 - SHARE)


def test_rms_and_k_factor() -> None:
    assert CURRENT.rms == pytest.approx(1.0410, abs=6e-5)
    assert CURRENT.loss_factor == pytest.approx(8.3476, abs=6e-5)
    assert k_rating(CURRENT.loss_factor).value == 9


def test_factor_k_from_the_printed_terms() -> None:
    expected = math.sqrt(1 + SHARE * sum(PRINTED_TERMS) * 0.9227)
    assert european_factor_k(CURRENT, EDDY_RATIO).value == pytest.approx(expected, abs=2e-5)


def test_the_example_counts_the_fundamental_too() -> None:
    theirs = math.sqrt(1 + SHARE * 4.7511 * 0.9227)
    assert theirs == pytest.approx(1.1828, abs=1e-4)
    ours = european_factor_k(CURRENT, EDDY_RATIO).value
    assert theirs**2 - ours**2 == pytest.approx(SHARE * 0.9227, abs=1e-4)
