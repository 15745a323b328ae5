"""Which share of measured values must keep a limit: percentile, window, period and multiplier by document."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from xlcalc.errors import InputError
from xlcalc.standards.loader import Limit, Origin, column_number, rows_of_edition, weakest

DAY: Final = "day"
WEEK: Final = "week"
SECONDS: Final = {DAY: 86_400.0, WEEK: 604_800.0}
"""Of a period."""

IEEE_519: Final = "ieee519_statistics"
EN_50160: Final = "en50160_statistics"
IEC_61000_2_4: Final = "iec61000_2_4_statistics"


@dataclass(frozen=True)
class Statistic:
    """A percentile of the values of one window length in each period, against a multiple of the limit.

    Parameters
    ----------
    window : str
        "3 s" or "10 min".
    percentile : float
        Percent of the values of a period that must keep the limit.
    period : str
        "day" or "week".
    multiplier : float
        On the limit of the table.
    origin : Origin
    """

    window: str
    percentile: float
    period: str
    multiplier: float
    origin: Origin

    @property
    def text(self) -> str:
        """In words, without the multiplier.

        Examples
        --------
        >>> [rule.text for rule in statistics(IEEE_519, "current", "2022")]
        ['99 % of 3 s values of a day', '99 % of 10 min values of a week', '95 % of 10 min values of a week']
        """
        return f"{self.percentile:g} % of {self.window} values of a {self.period}"

    def limit(self, own: Limit) -> Limit:
        """The multiple of a limit, as little verified as the less verified of the two."""
        return Limit(self.multiplier * own.value, weakest(own.origin, [self.origin]), own.unit)


def statistics(table: str, quantity: str, edition: str) -> tuple[Statistic, ...]:
    """All statistics that a document asks for.

    Parameters
    ----------
    table : str
        `IEEE_519`, `EN_50160` or `IEC_61000_2_4`.
    quantity : str
        "voltage" or "current".
    edition : str
        One of the table; IEEE 519-1992 has no statistics.

    Raises
    ------
    InputError
        The table has no such edition or quantity.
    """
    rows = [row for row in rows_of_edition(table, edition) if row["quantity"] == quantity]
    if not rows:
        raise InputError("quantity", quantity, f"a quantity with a statistic in {table}")
    return tuple(
        Statistic(
            row["window"],
            column_number(row, "percentile"),
            row["period"],
            column_number(row, "multiplier"),
            Origin.of_row(row),
        )
        for row in rows
    )
