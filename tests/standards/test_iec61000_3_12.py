"""Equipment limits: scope, interpolation between rows, totals."""

from __future__ import annotations

import math

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.standards.iec61000_3_12 import Equipment, judge_equipment, total_current, weighted_current

QUIET = np.zeros(40)


def limits(ratio: float, equipment: Equipment = Equipment.BALANCED) -> dict[object, float]:
    verdicts = judge_equipment(QUIET, 50.0, ratio, equipment).verdicts
    return {verdict.order or verdict.quantity: verdict.limit for verdict in verdicts}


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [
        (33, {5: 10.7, 7: 7.2, 11: 3.1, 13: 2, "THC": 13, "PWHC": 22}),
        (120, {5: 19, 7: 12, 11: 7, 13: 4, "THC": 22, "PWHC": 28}),
        (350, {5: 40, 7: 25, 11: 15, 13: 10, "THC": 48, "PWHC": 46}),
        (5000, {5: 40, 7: 25, 11: 15, 13: 10, "THC": 48, "PWHC": 46}),
        (93, {5: 16.5, 7: 10.5, 11: 6, 13: 3.5, "THC": 19, "PWHC": 26.5}),
    ],
)
def test_table_3_and_the_line_between_its_rows(ratio: float, expected: dict[object, float]) -> None:
    """Table 3 as one secondary source prints it; the row at 93 is midway between 66 and 120."""
    found = limits(ratio)
    assert {key: found[key] for key in expected} == pytest.approx(expected)
    assert found[8] == 2.0


def test_the_other_tables_have_their_own_orders() -> None:
    assert 3 in limits(66, Equipment.UNBALANCED)
    assert 3 not in limits(66, Equipment.BALANCED)
    assert limits(250, Equipment.BALANCED_DEF)[37] == 4.7


def test_totals() -> None:
    currents = 100.0 / np.arange(1, 60)
    assert total_current(currents) == pytest.approx(100 * math.sqrt(sum(1 / h**2 for h in range(2, 41))))
    assert weighted_current(currents) == pytest.approx(100 * math.sqrt(sum(1 / h for h in range(14, 41))))


def test_a_drive_beyond_the_scope_is_refused() -> None:
    with pytest.raises(InputError, match=r"reference_amps is 200.*above 16 to 75 A.*61000-3-12"):
        judge_equipment(QUIET, 200, 100)
    with pytest.raises(InputError, match="reference_amps is 16;"):
        judge_equipment(QUIET, 16, 100)
    with pytest.raises(InputError, match="short_circuit_ratio is 20"):
        judge_equipment(QUIET, 50, 20)


def test_recalled_tables_say_so() -> None:
    assert "from memory" in judge_equipment(QUIET, 50, 100, Equipment.BALANCED_DEF).note
