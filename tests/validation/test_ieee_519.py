"""IEEE 519 tables against the copies of them in secondary sources.

The 1992 current table as reprinted in Kusko and Thompson, *Power Quality in Electrical Systems*; it is the
same in the 2014 and 2022 editions up to 69 kV. Tables above 69 kV and the multiplier rows after the first are
recalled, not read: their check is that they hold what was recalled.
"""

from __future__ import annotations

import pytest

from xlcalc.standards import ieee519
from xlcalc.standards.ieee519_multiplier import held_orders_multiplier
from xlcalc.standards.loader import read_table

EDITIONS = ("1992", "2014", "2022")
BAND_ORDERS = (7, 13, 19, 29, 41)

UP_TO_69_KV = {
    10: (4.0, 2.0, 1.5, 0.6, 0.3, 5.0),
    35: (7.0, 3.5, 2.5, 1.0, 0.5, 8.0),
    75: (10.0, 4.5, 4.0, 1.5, 0.7, 12.0),
    500: (12.0, 5.5, 5.0, 2.0, 1.0, 15.0),
    2000: (15.0, 7.0, 6.0, 2.5, 1.4, 20.0),
}
ABOVE_161_KV = {
    10: (1.0, 0.5, 0.38, 0.15, 0.1, 1.5),
    35: (2.0, 1.0, 0.75, 0.3, 0.15, 2.5),
    75: (3.0, 1.5, 1.15, 0.45, 0.22, 3.75),
}


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("ratio", UP_TO_69_KV)
def test_current_table_up_to_69_kv(edition: str, ratio: float) -> None:
    assert _row(ratio, 13.8, edition) == UP_TO_69_KV[ratio]


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("ratio", UP_TO_69_KV)
def test_current_table_up_to_161_kv_is_half(edition: str, ratio: float) -> None:
    """Recalled, not read."""
    assert _row(ratio, 115, edition) == pytest.approx([x / 2 for x in UP_TO_69_KV[ratio]])


@pytest.mark.parametrize("edition", ["2014", "2022"])
@pytest.mark.parametrize("ratio", ABOVE_161_KV)
def test_current_table_above_161_kv(edition: str, ratio: float) -> None:
    """Recalled, not read."""
    assert _row(ratio, 230, edition) == ABOVE_161_KV[ratio]


@pytest.mark.parametrize("edition", ["2014", "2022"])
def test_voltage_table(edition: str) -> None:
    """Four secondary sources."""
    for kv, individual, total in ((0.48, 5, 8), (13.8, 3, 5), (115, 1.5, 2.5), (400, 1.0, 1.5)):
        assert ieee519.voltage_limit(kv, 11, edition).value == individual
        assert ieee519.voltage_limit(kv, edition=edition).value == total


def test_multiplier_where_5_and_7_are_held_to_a_quarter_of_their_limits() -> None:
    """2014 Table 5: Isc/IL below 20, I5 and I7 at most 1 %; the other limits times 1.4 (one source)."""
    multiplier = held_orders_multiplier({5: 1.0, 7: 1.0}, 15, 0.48, "2014")
    assert multiplier is not None
    assert (multiplier.factor, multiplier.held) == (1.4, (5, 7))
    products = [
        ieee519.current_limit(h, 15, 0.48, "2014").value * multiplier.on(h) for h in (5, 7, 11, 17, 23, 35)
    ]
    assert products == pytest.approx([4.0, 4.0, 2.8, 2.1, 0.84, 0.42])


def test_no_multiplier_where_one_order_is_not_held() -> None:
    assert held_orders_multiplier({5: 1.0, 7: 1.01}, 15, 0.48, "2014") is None


@pytest.mark.parametrize("row", read_table("ieee519_multiplier"))
def test_multiplier_is_the_root_of_the_pulse_ratio(row: dict[str, str]) -> None:
    """The 1992 rule sqrt(q/6); the 2014 table prints it to one digit, 2.2 for 2.236 (recalled)."""
    exact = (int(row["pulses"]) / 6) ** 0.5
    digits = 4 if row["edition"] == "1992" else 1
    assert float(row["multiplier"]) == pytest.approx(exact, abs=0.51 * 10**-digits)


def _row(ratio: float, kv: float, edition: str) -> tuple[float, ...]:
    by_order = (ieee519.current_limit(h, ratio, kv, edition).value for h in BAND_ORDERS)
    return (*by_order, ieee519.tdd_limit(ratio, kv, edition).value)
