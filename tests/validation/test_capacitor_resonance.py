"""Public worked example of a capacitor bank behind a transformer; only its resonance order is sound."""

from __future__ import annotations

import pytest

from xlcalc.network.short_circuit import resonance_order, transformer_level


def test_1000_kva_transformer_with_100_kvar() -> None:
    """1000 kVA, 5.3 %, infinite source, 100 kvar: printed 13.7, computed 13.736."""
    order = resonance_order(transformer_level(1000e3, 5.3), 100e3)
    assert order == pytest.approx(13.736, rel=3e-3)
    assert round(order, 1) == 13.7


def test_reactance_ratio_of_the_same_order() -> None:
    """Order 3.873 goes with X_L/X_C = 0.067 (cross-checked in secondary sources)."""
    assert resonance_order(1 / 0.067, 1.0) == pytest.approx(3.873, rel=3e-3)
