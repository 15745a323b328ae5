"""Operating time: what each PCC sees over the year, from cases that state their share of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import pandas as pd

from xlcalc.standards.statistics import SHARES_WITHIN, duration_curve, kept_for

SHARE: Final = "share of year pct"
COLUMNS: Final = (
    "site", "pcc", "quantity", "case", SHARE, "value pct", "limit pct", "reached pct of time",
)  # fmt: skip
MARKS: Final = (95.0, 99.0, 100.0)
TDD, THDV = "TDD", "voltage THD"


def year_table(sites: pd.DataFrame, orders: pd.DataFrame) -> pd.DataFrame:
    """Duration curves of TDD, of voltage THD and of the binding order at every PCC.

    Parameters
    ----------
    sites : DataFrame
        One row per case and PCC with its share of the year.
    orders : DataFrame
        Current at each PCC by order, with its limits. The binding order is the one that comes nearest to its
        limit, or farthest above it, in any case.

    Returns
    -------
    DataFrame
        Columns `COLUMNS`; a row per case that takes time, the largest value of a quantity first, with the
        percent of the time in which this value is reached or exceeded. Empty where the shares of a PCC do not
        add up to the year, or where one of its cases has no result: `year_lines` says so.
    """
    parts = [_curves(*place, rows, orders) for place, rows in _whole(sites)]
    frames = [part for part in parts if not part.empty]
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=list(COLUMNS))


def year_lines(sites: pd.DataFrame, year: pd.DataFrame) -> Iterator[str]:
    """Each quantity of `year_table` over the year, or why a PCC has none; nothing without shares."""
    if SHARE not in sites:
        return
    for (site, pcc), rows in sites.groupby(["site", "pcc"], sort=False):
        place = f"{site}, PCC {pcc}, over the year"
        if reason := _lack(rows):
            yield f"{place}: {reason}"
            continue
        own = year[(year["site"] == site) & (year["pcc"] == pcc)]
        for quantity, states in own.groupby("quantity", sort=False):
            values, shares = states["value pct"].tolist(), states[SHARE].tolist()
            most, more, every = (f"{kept_for(values, shares, mark):.4g}" for mark in MARKS)
            limits = states["limit pct"].dropna()
            limit = f" (limit {limits.min():.4g} %)" if len(limits) else ""
            yield (
                f"{place}: {quantity} up to {most} % in 95 % of the time, {more} % in 99 %, "
                f"{every} % at most{limit}"
            )


def _whole(sites: pd.DataFrame) -> Iterator[tuple[tuple[str, str], pd.DataFrame]]:
    if SHARE not in sites:
        return
    for (site, pcc), rows in sites.groupby(["site", "pcc"], sort=False):
        if not _lack(rows):
            yield (str(site), str(pcc)), rows[rows[SHARE] > 0.0]


def _lack(rows: pd.DataFrame) -> str:
    """Why the cases of a PCC make no year; empty where they do."""
    total = float(rows[SHARE].sum())
    if abs(total - 100.0) > SHARES_WITHIN:
        return f"its cases take {total:g} % of it together, not 100 %"
    lacking = rows.loc[(rows[SHARE] > 0.0) & rows["tdd pct"].isna(), "case"]
    return f"case {', '.join(lacking.astype(str))} has no result" if len(lacking) else ""


def _curves(site: str, pcc: str, rows: pd.DataFrame, orders: pd.DataFrame) -> pd.DataFrame:
    shares = rows.set_index("case")[SHARE]
    quantities = [
        (TDD, rows.set_index("case")["tdd pct"], rows.set_index("case")["limit tdd pct"]),
        (THDV, rows.set_index("case")["thdv pct"], rows.set_index("case")["limit thdv pct"]),
    ]
    own = orders[(orders["site"] == site) & (orders["pcc"] == pcc) & orders["case"].isin(shares.index)]
    used = own["current pct"] / own["current limit pct"]
    if used.notna().any():
        order = int(own["order"].to_numpy()[used.argmax()])
        binding = own[own["order"] == order].set_index("case")
        quantities.append((f"current of order {order}", binding["current pct"], binding["current limit pct"]))
    found: list[tuple[Any, ...]] = []
    for quantity, values, limits in quantities:
        held = values.reindex(shares.index)
        if held.isna().any():
            continue
        curve = duration_curve(held.tolist(), shares.tolist())
        for place, (value, reached) in zip(np.argsort(-held.to_numpy(), kind="stable"), curve, strict=True):
            case = shares.index[place]
            found.append((site, pcc, quantity, case, shares.iloc[place], value, limits.get(case), reached))
    return pd.DataFrame(found, columns=list(COLUMNS))
