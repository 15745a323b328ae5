"""A notch close below its limit next to plain capacitors is no PASS: its depth is not known that closely."""

from __future__ import annotations

import pytest

from xlcalc.equipment.notch import Notch
from xlcalc.studies.notching import BusNotch


@pytest.mark.parametrize(
    ("depth", "plain", "word"),
    [(17.0, True, "PASS"), (19.0, True, "NO VERDICT"), (19.0, False, "PASS"), (21.0, True, "FAIL")],
)
def test_depth_against_20_percent(depth: float, plain: bool, word: str) -> None:
    """General systems: 20 %, IEEE 519-1992 Table 10.2 (secondary sources)."""
    notch = Notch(depth, depth, 1e-6, 1e-5)
    found = BusNotch(bus="main", volts=480.0, tags=("A",), notch=notch, plain_capacitors=plain)
    judgement = found.judged("general")
    assert judgement.word == word
    assert ("capacitors" in judgement.reason) == (word == "NO VERDICT")
