"""IEEE 519: current limits by order, demand distortion and voltage limits, editions 1992, 2014 and 2022.

Rows of the current tables are half open: a ratio that equals a printed edge belongs to the higher row, so
that 1000 belongs to the last one. A voltage belongs to the class whose upper edge it equals (69 kV is "up to
69 kV"). A ratio or voltage that differs from an edge by rounding only equals it.
"""

from __future__ import annotations

import math
from enum import StrEnum

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.standards.loader import (
    Limit,
    Origin,
    Row,
    column_number,
    editions_of,
    rows_of_edition,
    weakest,
)
from xlcalc.standards.verdict import within

DEFAULT_EDITION = "2022"
HIGHEST_KV = 1200.0
NEAR_EDGE = 0.10
ANY_CAUSE = ""
HVDC = "HVDC terminal"
FIRST_ROW_RATIO = 1.0
"""An Isc/IL of the first row, which power generation has whatever its own is."""
INVERTERS_LEFT_OUT_PCT = 10.0
"""Inverter-based generation, percent of the annual average load, from which edition 2022 gives way."""
INVERTER_STANDARDS = "IEEE 1547 or IEEE 2800"
JUST_BELOW = 0.999


def editions() -> tuple[str, ...]:
    """Editions with tables in the package."""
    return editions_of("ieee519_current")


def current_limit(order: int, isc_il: float, kv: float, edition: str = DEFAULT_EDITION) -> Limit:
    """Limit of one harmonic current, percent of the maximum demand current.

    Parameters
    ----------
    order : int
        2 to 50; 2 and above for the 1992 edition, whose last band is open.
    isc_il : float
        Short-circuit current over maximum demand current at the PCC, above 0.
    kv : float
        Nominal line-to-line voltage of the PCC, 0.12 to 1200 kV.
    edition : str
        "1992", "2014" or "2022".

    Returns
    -------
    Limit
        The even-order rule of the edition is applied: 25 % of the odd limit in 1992 and 2014; in 2022 50 % up
        to order 6 and no reduction above.

    Raises
    ------
    InputError
        An argument is outside its range or the edition is unknown.

    Examples
    --------
    Table 2 of the 2014 and 2022 editions (cross-checked in three secondary sources):

    >>> current_limit(5, 15, 0.48, "2014").value, current_limit(13, 60, 13.8, "2014").value
    (4.0, 4.5)
    >>> current_limit(4, 15, 0.48, "2014").value, current_limit(4, 15, 0.48, "2022").value
    (1.0, 2.0)
    """
    row = _current_row(isc_il, kv, edition)
    band = _band(order, edition)
    parts = [Origin.of_row(band)]
    value = column_number(row, band["band"])
    if order % 2 == 0:
        even = _even_row(order, edition)
        value *= column_number(even, "factor")
        parts.append(Origin.of_row(even))
    return Limit(value, weakest(Origin.of_row(row), parts))


def tdd_limit(isc_il: float, kv: float, edition: str = DEFAULT_EDITION) -> Limit:
    """Limit of the total demand distortion, percent of the maximum demand current.

    Parameters
    ----------
    isc_il, kv, edition
        As in `current_limit`.

    Raises
    ------
    InputError
        An argument is outside its range or the edition is unknown.

    Examples
    --------
    >>> tdd_limit(1000, 13.8, "2014").value, tdd_limit(999.9, 13.8, "2014").value
    (20.0, 15.0)
    """
    row = _current_row(isc_il, kv, edition)
    return Limit(column_number(row, "tdd"), Origin.of_row(row))


class Installation(StrEnum):
    """What a PCC connects."""

    LOAD = "load"
    GENERATION = "generation"


def ratio_of(
    installation: str,
    isc_il: float,
    inverter_pct: float | None = None,
    edition: str = DEFAULT_EDITION,
) -> float:
    """Isc/IL with which an installation enters the current tables.

    Power generation has the first row whatever its own ratio is (two secondary sources).

    Parameters
    ----------
    installation : str
        "load" or "generation".
    isc_il : float
        Its own ratio.
    inverter_pct : float, optional
        Inverter-based generation of the site, percent of its annual average load, 0 % or more; None: there is
        none.
    edition : str
        "1992", "2014" or "2022".

    Raises
    ------
    InputError
        An argument is outside its range or the edition is unknown.
    NoSolutionError
        Edition 2022 leaves this generation to other standards.

    Examples
    --------
    >>> tdd_limit(ratio_of("load", 60.0), 13.8).value, tdd_limit(ratio_of("generation", 60.0), 13.8).value
    (12.0, 5.0)
    """
    if reason := left_to_others(inverter_pct, edition):
        raise NoSolutionError(reason)
    return FIRST_ROW_RATIO if installation == Installation.GENERATION else isc_il


def left_to_others(inverter_pct: float | None, edition: str = DEFAULT_EDITION) -> str:
    """Why IEEE 519 has no limit of current for a site with inverter-based generation; empty where it has.

    Two secondary sources: from 10 % of the annual average load on edition 2022 leaves it to IEEE 1547 or 2800
    (at exactly 10 % they differ; it is left to those here).

    Parameters
    ----------
    inverter_pct, edition
        As in `ratio_of`.

    Raises
    ------
    InputError
        An argument is outside its range or the edition is unknown.

    Examples
    --------
    >>> left_to_others(9.9), left_to_others(40.0, "2014")
    ('', '')
    """
    if edition not in editions():
        raise InputError("edition", edition, "one of " + ", ".join(editions()))
    share = 0.0 if inverter_pct is None else number("inverter_pct", inverter_pct, unit="%", least=0)
    if edition != DEFAULT_EDITION or not within(INVERTERS_LEFT_OUT_PCT, share):
        return ""
    return (
        f"inverter-based generation of {share:g} % of the annual average load: from "
        f"{INVERTERS_LEFT_OUT_PCT:g} % on IEEE 519-{edition} leaves the currents to {INVERTER_STANDARDS}, "
        "whose limits are not among the tables here"
    )


def voltage_limit(
    kv: float, order: int | None = None, edition: str = DEFAULT_EDITION, cause: str = ANY_CAUSE
) -> Limit:
    """Limit of the voltage distortion at the PCC, percent of the nominal voltage.

    Parameters
    ----------
    kv : float
        Nominal line-to-line voltage of the PCC, above 0 to 1200 kV.
    order : int, optional
        2 or above (2 to 50 in 2014 and 2022) for an individual order; None for the total.
    edition : str
        "1992", "2014" or "2022". The 1992 edition has no class of 1 kV and below.
    cause : str
        `HVDC` for the footnote on distortion that the terminal of a direct-current line causes and that is
        attenuated where a user may be connected: above 161 kV only.

    Raises
    ------
    InputError
        An argument is outside its range or the edition is unknown.

    Examples
    --------
    >>> voltage_limit(0.48).value, voltage_limit(0.48, 5).value, voltage_limit(0.48, edition="1992").value
    (8.0, 5.0, 5.0)
    """
    volts = number("kv", kv, unit="kV", above=0, most=HIGHEST_KV)
    rows = [row for row in rows_of_edition("ieee519_voltage", edition) if row["cause"] == cause]
    for row in rows:
        if not within(volts, column_number(row, "kv_above")) and within(volts, column_number(row, "kv_to")):
            if order is None:
                return Limit(column_number(row, "thd"), Origin.of_row(row))
            _band(order, edition)
            return Limit(column_number(row, "individual"), Origin.of_row(row))
    if not rows:
        raise InputError("cause", cause, f"blank or {HVDC}")
    above = min(column_number(row, "kv_above") for row in rows)
    raise InputError("kv", kv, f"above {above:g} up to {HIGHEST_KV:g} kV")


def current_row_text(isc_il: float, kv: float, edition: str = DEFAULT_EDITION) -> str:
    """The row of the current table that applies, in words.

    Examples
    --------
    >>> current_row_text(135, 69, "2014")
    '100 <= Isc/IL < 1000'
    """
    row = _current_row(isc_il, kv, edition)
    low, high = column_number(row, "isc_il_from"), column_number(row, "isc_il_below")
    if low == 0:
        return f"Isc/IL < {high:g}"
    return f"Isc/IL >= {low:g}" if math.isinf(high) else f"{low:g} <= Isc/IL < {high:g}"


def neighbouring_rows(
    isc_il: float, kv: float, edition: str = DEFAULT_EDITION, share: float = NEAR_EDGE
) -> tuple[float, ...]:
    """Ratios to judge besides the actual one, because an edge of the current table is near.

    Neither the short-circuit current nor the maximum demand current is known to a few percent, so that a
    ratio close to an edge may belong to the row on its other side.

    Parameters
    ----------
    isc_il, kv, edition
        As in `current_limit`.
    share : float
        How near an edge must be, as a share of the larger of ratio and edge; 0 to 0.5. An edge at exactly
        this distance is near.

    Returns
    -------
    tuple of float
        One ratio in each neighbouring row, ascending: the edge itself where it lies above `isc_il`, 0.999 of
        the edge where `isc_il` equals or exceeds it. Empty where no edge is near. Without the actual ratio.

    Raises
    ------
    InputError
        An argument is outside its range or the edition is unknown.

    Examples
    --------
    >>> neighbouring_rows(19, 13.8), neighbouring_rows(1000, 13.8), neighbouring_rows(54, 13.8)
    ((20.0,), (999.0,), (49.95,))
    >>> neighbouring_rows(30, 13.8), neighbouring_rows(24, 230)
    ((), (25.0,))
    """
    number("share", share, least=0, most=0.5)
    own = _current_row(isc_il, kv, edition)
    low, high = column_number(own, "isc_il_from"), column_number(own, "isc_il_below")
    found = []
    if low > 0 and within(isc_il - low, share * max(isc_il, low)):
        found.append(JUST_BELOW * low)
    if not math.isinf(high) and within(high - isc_il, share * high):
        found.append(high)
    return tuple(found)


def last_order(edition: str = DEFAULT_EDITION) -> float:
    """Highest order with a limit: 50, or infinity for the 1992 edition."""
    return max(column_number(row, "h_to") for row in rows_of_edition("ieee519_order_bands", edition))


def _current_row(isc_il: float, kv: float, edition: str) -> Row:
    rows = rows_of_edition("ieee519_current", edition)
    ratio = number("isc_il", isc_il, above=0)
    lowest = min(column_number(row, "kv_above") for row in rows)
    volts = number("kv", kv, unit="kV", least=lowest, most=HIGHEST_KV)
    classes = [r for r in rows if _in_class(volts, r, lowest)]
    return next(
        r
        for r in classes
        if within(column_number(r, "isc_il_from"), ratio)
        and not within(column_number(r, "isc_il_below"), ratio)
    )


def _in_class(volts: float, row: Row, lowest: float) -> bool:
    bottom = column_number(row, "kv_above")
    above = not within(volts, bottom) or bottom == lowest
    return above and within(volts, column_number(row, "kv_to"))


def _band(order: int, edition: str) -> Row:
    last = last_order(edition)
    h = whole_number("order", order, least=2, most=None if math.isinf(last) else int(last))
    rows = rows_of_edition("ieee519_order_bands", edition)
    return next(r for r in rows if column_number(r, "h_from") <= h <= column_number(r, "h_to"))


def _even_row(order: int, edition: str) -> Row:
    rows = rows_of_edition("ieee519_even_orders", edition)
    return next(r for r in rows if column_number(r, "h_from") <= order <= column_number(r, "h_to"))
