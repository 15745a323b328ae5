"""Which share of measured values must keep a limit: percentile, window, period and multiplier by document."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.standards.loader import Limit, Origin, column_number, rows_of_edition, weakest

DAY: Final = "day"
WEEK: Final = "week"
SHARES_WITHIN: Final = 0.1
"""Percent within which shares of the time add up to all of it."""

ROUNDING: Final = 1e-9
"""Percent by which sums of shares may miss a mark: rounding, no more."""

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
    """All statistics that a document requires.

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


def kept_for(values: Sequence[float], shares_pct: Sequence[float], percent_of_time: float) -> float:
    """The value that is not exceeded in a share of the time, from states with the time that each takes.

    Parameters
    ----------
    values : sequence of float
        One of each state.
    shares_pct : sequence of float
        Share of the time of each, percent, 0 or more; together 100 within 0.1.
    percent_of_time : float
        Above 0 to 100 %.

    Returns
    -------
    float
        The smallest of the values such that it and those below it take that share of the time: the state that
        reaches over the mark counts whole, as a percentile of measured values does.

    Raises
    ------
    InputError
        Lengths differ, or a value outside its range.

    Examples
    --------
    6000 h at 3 %, 2400 h at 4.5 %, 360 h at 8 % of 8760 h: 95.9 % of the time stay below 8 %, by hand

    >>> hours = [6000.0, 2400.0, 360.0]
    >>> [kept_for([3.0, 4.5, 8.0], [h / 87.6 for h in hours], p) for p in (50, 95, 99)]
    [3.0, 4.5, 8.0]
    """
    mark = number("percent_of_time", percent_of_time, unit="%", above=0, most=100)
    reached = 0.0
    for value, share in sorted(_states(values, shares_pct)):
        reached += share
        if reached >= mark - ROUNDING:
            return value
    return max(values)


def duration_curve(values: Sequence[float], shares_pct: Sequence[float]) -> list[tuple[float, float]]:
    """States in falling order, each with the share of the time in which its value is reached or exceeded.

    Parameters
    ----------
    values, shares_pct : sequence of float
        As in `kept_for`.

    Returns
    -------
    list of tuple
        Value and percent of the time, as many as states; the last one is 100 %.

    Raises
    ------
    InputError
        As `kept_for`.

    Examples
    --------
    >>> duration_curve([3.0, 8.0, 4.5], [70.0, 5.0, 25.0])
    [(8.0, 5.0), (4.5, 30.0), (3.0, 100.0)]
    """
    states = sorted(_states(values, shares_pct), key=lambda state: -state[0])
    reached = accumulate(share for _, share in states)
    return [(value, share) for (value, _), share in zip(states, reached, strict=True)]


def _states(values: Sequence[float], shares_pct: Sequence[float]) -> list[tuple[float, float]]:
    if len(values) != len(shares_pct):
        raise InputError("shares_pct", f"{len(shares_pct)} values", f"as many as the {len(values)} values")
    if not values:
        raise InputError("values", "none", "one value or more")
    found = [number("values", value) for value in values]
    shares = [number("shares_pct", share, unit="%", least=0, most=100) for share in shares_pct]
    if abs(sum(shares) - 100.0) > SHARES_WITHIN:
        raise InputError("shares_pct", f"{sum(shares):g} % together", "100 % together")
    return list(zip(found, shares, strict=True))
