"""What became of the rows of a schedule, counted and put in words."""

from __future__ import annotations

import numpy as np
import pandas as pd

from xlcalc.worksheet.functions.link_power import WATTS_PER_UNIT

SOLVED, UNSTABLE, REJECTED, OFF = "solved", "no stable solution", "rejected", "not supplied in this case"
NO_VERDICT = "NO VERDICT"


def counts(rows: pd.DataFrame) -> dict[str, object]:
    """Rows by what became of them, and the power that is in and is not in the sums."""
    solved = rows[rows["status"] == SOLVED]
    missing = rows[~rows["status"].isin((SOLVED, OFF))]
    return {
        "rows": len(rows),
        "rows solved": len(solved),
        "rows rejected": int((rows["status"] == REJECTED).sum()),
        "rows without stable solution": int((rows["status"] == UNSTABLE).sum()),
        "drives solved": int(solved["quantity"].sum()),
        "kw solved": _kw(solved),
        "kw missing at least": _kw(missing),
    }


def missing_rows(rows: pd.DataFrame, lost: int) -> str:
    """The rows that the sums lack, in words."""
    parts = []
    for status in (REJECTED, UNSTABLE):
        tags = rows.loc[rows["status"] == status, ["row", "tag"]]
        if len(tags):
            listed = ", ".join(f"{tag or '?'} (row {row})" for row, tag in tags.to_numpy()[:10])
            more = f" and {len(tags) - 10} more" if len(tags) > 10 else ""
            parts.append(f"{len(tags)} of {len(rows)} rows {status}: {listed}{more}")
    if lost:
        parts.append(f"{lost} rows of no known site")
    return "; ".join(parts) + ("; the sums are without them" if parts else "")


def _kw(rows: pd.DataFrame) -> float:
    """Rated shaft power of rows as far as it can be read."""
    units = rows["quantity"].where(rows["quantity"] >= 1.0, 1.0)
    watts = rows["rating"] * rows["unit"].map(WATTS_PER_UNIT) * units
    return float(watts[np.isfinite(watts) & (watts > 0)].sum() / 1e3)
