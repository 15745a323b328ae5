"""Results of the sites of a schedule in words."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from xlcalc.bulk.result_tables import ResultTables
from xlcalc.standards.verdict import printed


def site_lines(tables: ResultTables) -> Iterator[str]:
    """The verdict at every PCC, with what is missing in it."""
    for row in tables.sites.to_dict("records"):
        case = f", {row['case']}, PCC {row['pcc']}" if isinstance(row.get("case"), str) else ""
        yield (
            f"{row['site']}{case}: {row['rows']} rows, {row['rows solved']} solved, "
            f"{row['rows rejected']} rejected, {row['rows without stable solution']} without stable solution"
        )
        if row["what is missing"]:
            yield f"  Missing: {row['what is missing']}"
        tdd, tdd_limit = printed(row["tdd pct"], row["limit tdd pct"], _number)
        thdv, thdv_limit = printed(row["thdv pct"], row["limit thdv pct"], _number)
        yield (
            f"  TDD {tdd} % (limit {tdd_limit} %), voltage THD {thdv} % (limit {thdv_limit} %), "
            f"Isc/IL {_number(row['isc/il'])}"
        )
        yield f"  Verdict: {row['verdict']}; binding: {row['binding']}"
        if row["reason"] and row["reason"] != row["what is missing"]:
            yield f"  Reason: {row['reason']}"
        if row["remarks"]:
            yield f"  Remarks: {row['remarks']}"
        if row["solution"] == "coupled":
            yield (
                f"  Quick estimate: TDD {_number(row['quick tdd pct'])} %, "
                f"voltage THD {_number(row['quick thdv pct'])} %; it alone would be: {row['quick verdict']}"
            )


def _number(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.4g}"
