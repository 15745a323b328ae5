"""Tables of limits by harmonic order: compatibility levels, planning levels, emission limits, own tables.

A row holds ``limit = constant + scale * reference / h`` for the orders it covers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.orders_given import OrdersNotListed, by_order, gap_text, orders_text, root_sum_square
from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.standards.loader import (
    Limit,
    Origin,
    Row,
    Verified,
    column_number,
    editions_of,
    rows_of_edition,
)
from xlcalc.standards.verdict import Judgement, Verdict

ORDER_TABLES = (
    "en50160",
    "iec61000_2_2",
    "iec61000_2_4",
    "iec61000_3_2",
    "iec61000_3_6",
    "iec61000_3_12",
)


@dataclass(frozen=True)
class OrderRow:
    """One row: the orders it covers, and the limit there."""

    column: str
    quantity: str
    h_from: int
    h_to: int
    parity: str
    triplen: str
    constant: float
    scale: float
    reference: float
    unit: str
    origin: Origin

    @classmethod
    def of_row(cls, row: Row) -> OrderRow:
        return cls(
            column=row["column"],
            quantity=row["quantity"],
            h_from=int(row["h_from"]),
            h_to=int(row["h_to"]),
            parity=row["parity"],
            triplen=row["triplen"],
            constant=column_number(row, "constant"),
            scale=column_number(row, "scale"),
            reference=column_number(row, "reference"),
            unit=row["unit"],
            origin=Origin.of_row(row),
        )

    def covers(self, order: int) -> bool:
        in_parity = self.parity == "any" or (order % 2 == 0) == (self.parity == "even")
        in_triplen = self.triplen == "any" or (order % 3 == 0) == (self.triplen == "yes")
        return self.h_from <= order <= self.h_to and in_parity and in_triplen

    def limit(self, order: int = 1) -> Limit:
        return Limit(self.constant + self.scale * self.reference / order, self.origin, self.unit)


@dataclass(frozen=True)
class OrderTable:
    """Limits by order, in one or more columns (classes, voltage levels, short-circuit ratios)."""

    rows: tuple[OrderRow, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(row.column for row in self.rows))

    def limit(self, order: int, column: str) -> Limit | None:
        """Limit of one order; None where the document gives none for it.

        Parameters
        ----------
        order : int
            2 or above.
        column : str
            One of `columns`.

        Raises
        ------
        InputError
            Unknown column, or no whole order of 2 or above.
        """
        h = whole_number("order", order, least=2)
        found = [row for row in self._column(column) if row.quantity == "order" and row.covers(h)]
        return found[0].limit(h) if found else None

    def total(self, quantity: str, column: str) -> Limit:
        """Limit of a total such as "THD", "THC" or "PWHC".

        Raises
        ------
        InputError
            Unknown column or quantity.
        """
        rows = self._column(column)
        for row in rows:
            if row.quantity == quantity:
                return row.limit()
        known = dict.fromkeys(row.quantity for row in rows if row.quantity != "order")
        raise InputError("quantity", quantity, "one of " + ", ".join(known))

    def _column(self, column: str) -> tuple[OrderRow, ...]:
        if column not in self.columns:
            raise InputError("column", column, "one of " + ", ".join(self.columns))
        return tuple(row for row in self.rows if row.column == column)


def order_table(name: str, clause: str | None = None, edition: str | None = None) -> OrderTable:
    """A published table by order.

    Parameters
    ----------
    name : str
        One of `ORDER_TABLES`.
    clause : str, optional
        Only the rows of this clause (IEC 61000-3-12 has four tables).
    edition : str, optional
        Only the rows of this edition; None takes the first that the table has, which is verified best.

    Raises
    ------
    InputError
        Unknown table, clause or edition.

    Examples
    --------
    IEC TR 61000-3-6 planning levels at order 25 (formula rows; computed):

    >>> table = order_table("iec61000_3_6")
    >>> [round(table.limit(25, column).value, 3) for column in table.columns]
    [1.092, 0.816]
    """
    if name not in ORDER_TABLES:
        raise InputError("name", name, "one of " + ", ".join(ORDER_TABLES))
    rows = rows_of_edition(name, editions_of(name)[0] if edition is None else edition)
    clauses = tuple(dict.fromkeys(row["clause"] for row in rows))
    if clause is not None:
        if clause not in clauses:
            raise InputError("clause", clause, "one of " + ", ".join(clauses))
        rows = tuple(row for row in rows if row["clause"] == clause)
    elif len(clauses) > 1:
        raise InputError("clause", None, "one of " + ", ".join(clauses), wrong_kind=True)
    return OrderTable(tuple(OrderRow.of_row(row) for row in rows))


def judge_orders(
    table: OrderTable,
    column: str,
    quantity: str,
    values: npt.ArrayLike,
    total: str = "THD",
    *,
    orders_not_listed: str = OrdersNotListed.NOT_GIVEN,
) -> Judgement:
    """A spectrum against a table by order, and its root sum square against the table's total.

    Parameters
    ----------
    table : OrderTable
        Published or own table.
    column : str
        One of its columns.
    quantity : str
        Name for the verdicts, for instance "voltage harmonic".
    values : array of float, shape (n,)
        Magnitudes of orders 1..n in the unit of the table; the first is not judged. Orders for which the
        document gives no limit are not judged either. NaN, and orders above n, were not given: an order with
        a limit is then judged neither PASS nor FAIL, and a total that lacks orders may fail but not pass.
    total : str
        Name of the total in the table; a table without it gives verdicts by order only.
    orders_not_listed : str
        "not given", or "zero" where all orders that were not given are known to be zero.

    Returns
    -------
    Judgement
        The orders that have a limit, up to 50, then the total.

    Raises
    ------
    InputError
        Unknown column, or values that are no row of numbers.

    Examples
    --------
    >>> import numpy as np
    >>> percent = np.zeros(50)
    >>> percent[[4, 6]] = 5.5, 2.0
    >>> judgement = judge_orders(order_table("iec61000_2_4"), "class 2", "voltage harmonic", percent)
    >>> judgement.word, judgement.binding.name
    ('PASS', 'voltage harmonic, order 5')
    """
    magnitudes = by_order("values", values, MAX_ORDER, orders_not_listed)
    needed: set[int] = set()
    verdicts = []
    for order in range(2, MAX_ORDER + 1):
        limit = table.limit(order, column)
        if limit is not None:
            needed.add(order)
            verdicts.append(Verdict.against(quantity, order, magnitudes[order - 1], limit))
    for row in table.rows:
        if row.column == column and row.quantity == total:
            needed.update(range(row.h_from, row.h_to + 1))
            rss, lacking = root_sum_square(magnitudes, row.h_from, row.h_to)
            verdicts.append(Verdict.against(total, None, rss, row.limit(), at_least=bool(lacking)))
    gap = gap_text(magnitudes, needed)
    unlimited = [h for h in range(2, MAX_ORDER + 1) if magnitudes[h - 1] > 0.0 and h not in needed]
    remark = f"no limit for orders {orders_text(unlimited)}: not judged" if unlimited else ""
    return Judgement(tuple(verdicts), gaps=(gap,) if gap else (), remarks=(remark,) if remark else ())


def user_table(
    name: str, limits: Iterable[tuple[int, float]], total: float | None = None, unit: str = "%"
) -> OrderTable:
    """A user's own table: pairs of order and limit, and a total distortion.

    Parameters
    ----------
    name : str
        Name of the document the user took the numbers from.
    limits : iterable of (int, float)
        Order (2 to 50) and limit (above 0), each order once.
    total : float, optional
        Limit of the total harmonic distortion.

    Raises
    ------
    InputError
        An order or a limit is outside its range, or an order appears twice.
    """
    if not str(name).strip():
        raise InputError("name", name, "the name of the document the numbers come from")
    origin = Origin(str(name).strip(), "", "user's own table", Verified.USER)
    rows: list[OrderRow] = []
    seen: set[int] = set()
    for order, value in limits:
        h = whole_number("order", order, least=2, most=MAX_ORDER)
        if h in seen:
            raise InputError("order", order, "each order once")
        seen.add(h)
        limit = number(f"limit of order {h}", value, unit=unit, above=0)
        rows.append(
            OrderRow(
                column="user",
                quantity="order",
                h_from=h,
                h_to=h,
                parity="any",
                triplen="any",
                constant=limit,
                scale=0.0,
                reference=1.0,
                unit=unit,
                origin=origin,
            )
        )
    if total is not None:
        thd = number("total", total, unit=unit, above=0)
        rows.append(
            OrderRow(
                column="user",
                quantity="THD",
                h_from=2,
                h_to=50,
                parity="any",
                triplen="any",
                constant=thd,
                scale=0.0,
                reference=1.0,
                unit=unit,
                origin=origin,
            )
        )
    if not rows:
        raise InputError("limits", "empty", "one order or more")
    return OrderTable(tuple(rows))
