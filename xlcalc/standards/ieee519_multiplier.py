"""IEEE 519: higher limits where low orders are held down by a higher pulse number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from xlcalc.standards.ieee519 import current_limit
from xlcalc.standards.loader import Origin, Row, column_number, rows_of_edition
from xlcalc.standards.verdict import within


@dataclass(frozen=True)
class HeldOrders:
    """A factor on the limits of all odd orders that are not held down themselves."""

    factor: float
    held: tuple[int, ...]
    origin: Origin

    def on(self, order: int) -> float:
        """Factor on the limit of one order: 1 for the held ones and for even orders."""
        return 1.0 if order in self.held or order % 2 == 0 else self.factor


def held_orders_multiplier(
    current_pct: Mapping[int, float], isc_il: float, kv: float, edition: str
) -> HeldOrders | None:
    """The largest multiplier whose condition holds, or None.

    Condition: each of the row's low orders stays at or below a quarter of its own limit. The limit of the
    total demand distortion is not raised: no source settles whether it would be.

    Parameters
    ----------
    current_pct : mapping of int to float
        Currents by order in percent of the maximum demand current. An order that is not given is not known
        to be held down.
    isc_il, kv, edition
        As in `xlcalc.standards.ieee519.current_limit`.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    >>> held_orders_multiplier({5: 0.9, 7: 0.8, 11: 2.0, 13: 1.5}, 15, 0.48, "2014").factor
    1.4
    """
    best = None
    for row in rows_of_edition("ieee519_multiplier", edition):
        held = tuple(int(order) for order in row["held_orders"].split())
        if not _holds(row, held, current_pct, isc_il, kv, edition):
            break
        best = HeldOrders(column_number(row, "multiplier"), held, Origin.of_row(row))
    return best


def _holds(
    row: Row, held: tuple[int, ...], current_pct: Mapping[int, float], isc_il: float, kv: float, edition: str
) -> bool:
    fraction = column_number(row, "held_to_fraction")
    return all(
        order in current_pct
        and within(current_pct[order], fraction * current_limit(order, isc_il, kv, edition).value)
        for order in held
    )
