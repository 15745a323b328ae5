"""T. M. Blooming and D. J. Carnovale, "Capacitor application issues" (2007): limits of IEEE 18-2002.

One secondary source: 110 % rms voltage, 120 % peak, 135 % rms current, 135 % kvar. The column of IEC 60831-1
(110 % voltage, 130 % current) is recalled. The stresses are worked by hand for a voltage of rated fundamental
with one harmonic.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.capacitor import CapacitorRating, capacitor_stress, judge_capacitor
from xlcalc.worksheet.catalogue import FUNCTIONS

BANK = CapacitorRating(480.0, 100e3, 60.0)


def volts(order: int, share: float, fundamental: float = 1.0) -> Spectrum:
    return Spectrum.from_orders([(1, 480.0 * fundamental), (order, 480.0 * share)])


@pytest.mark.parametrize(
    ("quantity", "limit"), [("rms voltage", 110), ("peak voltage", 120), ("rms current", 135), ("kvar", 135)]
)
def test_limits_of_2002(quantity: str, limit: float) -> None:
    judgement = judge_capacitor(capacitor_stress(BANK, volts(5, 0.01)), "IEEE 18-2002")
    (verdict,) = (v for v in judgement.verdicts if v.quantity == quantity)
    assert verdict.limit == limit
    assert verdict.verified.startswith("one source")


@pytest.mark.parametrize(
    ("quantity", "limit", "checked"),
    [("fundamental voltage", 100, "from memory"), ("rms current", 130, "one source")],
)
def test_limits_of_iec_60831_1(quantity: str, limit: float, checked: str) -> None:
    judgement = judge_capacitor(capacitor_stress(BANK, volts(5, 0.01)), "IEC 60831-1-2002")
    (verdict,) = (v for v in judgement.verdicts if v.quantity == quantity)
    assert verdict.limit == limit
    assert verdict.verified.startswith(checked)


def test_current_decides_between_the_standards() -> None:
    """12 % of order 7: rms current sqrt(1 + 0.84^2) = 130.6 %; 1.0072 of the voltage; kvar 131.5 %."""
    stress = capacitor_stress(BANK, volts(7, 0.12))
    assert stress.rms_current_pct == pytest.approx(100.0 * math.sqrt(1.0 + 0.84**2))
    assert stress.kvar_pct == pytest.approx(stress.rms_current_pct * math.sqrt(1.0 + 0.12**2))
    assert [judge_capacitor(stress, name).word for name in ("IEEE 18-2002", "IEC 60831-1")] == [
        "PASS",
        "FAIL",
    ]


def test_1992_allowed_what_2002_refuses() -> None:
    """10 % of order 11: rms current sqrt(1 + 1.1^2) = 148.7 %, above 135 and below 180 %, but kvar 149 %."""
    stress = capacitor_stress(BANK, volts(11, 0.10))
    assert stress.rms_current_pct == pytest.approx(148.66, abs=0.01)
    for name, word in (("IEEE 18-1992", "PASS"), ("IEEE 18-2002", "FAIL")):
        (current,) = (v for v in judge_capacitor(stress, name).verdicts if v.quantity == "rms current")
        assert current.word == word


def test_the_worksheet_function_gives_the_same() -> None:
    volts = [[1.0, 480.0], [7.0, 57.6]]
    rows = FUNCTIONS["HD_VERDICT_CAPACITOR"]([volts, 480.0, "IEC 60831-1", "angles", "zero"])
    assert isinstance(rows, list)
    assert [row[5] for row in rows] == ["PASS", "FAIL", "FAIL"]
