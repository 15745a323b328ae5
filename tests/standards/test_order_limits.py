"""Tables of limits by order: completeness, no contradictions, user tables."""

from __future__ import annotations

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.standards.loader import Verified, read_table
from xlcalc.standards.order_limits import ORDER_TABLES, OrderRow, judge_orders, order_table, user_table
from xlcalc.standards.verdict import Verdict


@pytest.mark.parametrize("network", ["LV", "MV"])
def test_orders_15_and_21_by_edition_of_en_50160(network: str) -> None:
    """2010: three instrument manuals; 2022: recalled, no text read."""
    old, new = (order_table("en50160", edition=edition) for edition in ("2010", "2022"))
    assert order_table("en50160") == old
    changed = {
        h: (a.value, b.value)
        for h in range(2, 26)
        if (a := old.limit(h, network)) and (b := new.limit(h, network)) and a.value != b.value
    }
    assert changed == {15: (0.5, 1.0), 21: (0.5, 0.75)}
    limit = new.limit(15, network)
    assert limit is not None
    assert limit.origin.verified_text == "from memory (moderate)"


@pytest.mark.parametrize("name", ORDER_TABLES)
def test_no_order_has_two_limits(name: str) -> None:
    rows = [OrderRow.of_row(row) for row in read_table(name)]
    for origin, column in {((row.origin.clause, row.origin.edition), row.column) for row in rows}:
        own = [r for r in rows if (r.origin.clause, r.origin.edition) == origin]
        own = [r for r in own if (r.column, r.quantity) == (column, "order")]
        for order in range(2, 51):
            values = {row.limit(order).value for row in own if row.covers(order)}
            assert len(values) <= 1, (name, origin, column, order, values)


@pytest.mark.parametrize("name", ["iec61000_2_2", "iec61000_2_4", "iec61000_3_6"])
def test_level_tables_cover_every_order(name: str) -> None:
    table = order_table(name)
    for column in table.columns:
        missing = [h for h in range(2, 50) if table.limit(h, column) is None]
        assert not missing, (column, missing)


def test_formula_rows() -> None:
    """Computed from the formulas of the standards tables."""
    public = order_table("iec61000_2_2")
    assert [round(_value(public, h, "LV"), 2) for h in (19, 23, 25)] == [1.76, 1.41, 1.27]
    assert _value(public, 10, "LV") == pytest.approx(0.5)
    assert _value(order_table("iec61000_3_12", "Table 3"), 4, "33") == 4.0
    assert _value(order_table("iec61000_3_2"), 39, "class A") == pytest.approx(0.15 * 15 / 39)


def test_an_order_without_a_limit_gives_none() -> None:
    assert order_table("en50160").limit(27, "LV") is None


def test_totals() -> None:
    assert order_table("iec61000_2_4").total("THD", "class 2").value == 8
    assert order_table("iec61000_3_12", "Table 3").total("PWHC", "350").value == 46
    with pytest.raises(InputError, match="THC, PWHC"):
        order_table("iec61000_3_12", "Table 3").total("THD", "33")


def test_a_users_own_table_gives_the_same_kind_of_verdict() -> None:
    table = user_table("site agreement", [(5, 3.0), (7, 2.0)], total=4.0)
    limit = table.limit(7, "user")
    assert limit is not None
    verdict = Verdict.against("voltage harmonic", 7, 2.5, limit)
    assert (verdict.passes, verdict.margin, limit.origin.verified) == (False, -0.5, Verified.USER)
    assert table.limit(11, "user") is None


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: order_table("ieee519_current"), "name"),
        (lambda: order_table("iec61000_3_12"), "clause"),
        (lambda: order_table("iec61000_3_12", "Table 9"), "clause"),
        (lambda: order_table("en50160").limit(5, "HV"), "column"),
        (lambda: order_table("en50160").limit(1, "LV"), "order"),
        (lambda: user_table("", [(5, 3.0)]), "name"),
        (lambda: user_table("own", [(5, 3.0), (5, 4.0)]), "order"),
        (lambda: user_table("own", [(5, -3.0)]), "limit of order 5"),
        (lambda: user_table("own", []), "limits"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument


def _value(table: object, order: int, column: str) -> float:
    limit = table.limit(order, column)  # type: ignore[attr-defined]
    assert limit is not None
    return float(limit.value)


def test_a_spectrum_is_judged_where_the_document_gives_limits() -> None:
    percent = np.zeros(50)
    percent[[0, 4, 6, 26]] = 100.0, 4.0, 5.5, 9.0
    judgement = judge_orders(order_table("en50160"), "LV", "voltage harmonic", percent)
    assert judgement.passes is False
    assert [v.name for v in judgement.failures] == ["voltage harmonic, order 7", "THD"]
    assert judgement.of_quantity("THD").binding.value == pytest.approx((4**2 + 5.5**2 + 9**2) ** 0.5)
    own = judge_orders(user_table("site agreement", [(7, 6.0)]), "user", "voltage harmonic", percent)
    assert (own.word, len(own.verdicts)) == ("PASS", 1)
