"""IEEE 519-1992 Table 10.2, notches (recalled with high confidence, no text read), and its relation."""

from __future__ import annotations

import pytest

from xlcalc.equipment.notch import Notch, judge_notch, textbook_notch

TABLE = {"special": (10.0, 16400.0), "general": (20.0, 22800.0), "dedicated": (50.0, 36500.0)}


@pytest.mark.parametrize("system_class", TABLE)
@pytest.mark.parametrize("volts", [480.0, 690.0, 4160.0])
def test_depth_and_area_scaled_by_the_voltage(system_class: str, volts: float) -> None:
    depth, area = TABLE[system_class]
    at_limit = Notch(depth, depth, area * volts / 480.0 * 1e-6, 1e-4)
    judgement = judge_notch(at_limit, system_class, volts)
    assert [v.limit for v in judgement.verdicts] == pytest.approx([depth, area * volts / 480.0])
    assert judgement.word == "PASS"
    deeper = judge_notch(Notch(1.01 * depth, depth, 1.01 * at_limit.area_vs, 1e-4), system_class, volts)
    assert [v.word for v in deeper.verdicts] == ["FAIL", "FAIL"]


def test_textbook_notch_of_a_480_v_converter() -> None:
    """L_s 30 uH, L_r 90 uH, 200 A, e = 600 V: a quarter, 150 V for 80 us, 12000 V us (by hand)."""
    notch = textbook_notch(30e-6, 90e-6, 200.0, 600.0)
    assert notch.depth_pct == pytest.approx(25.0)
    assert 1e6 * notch.width_s == pytest.approx(80.0)
    assert 1e6 * notch.area_vs == pytest.approx(12_000.0)
    assert judge_notch(notch, "general", 480.0).word == "FAIL"
    assert judge_notch(notch, "dedicated", 480.0).word == "PASS"
