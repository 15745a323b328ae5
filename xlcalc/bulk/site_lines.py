"""Results of the sites of a schedule in words."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from xlcalc.bulk.result_tables import ResultTables


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
        yield (
            f"  TDD {_number(row['tdd pct'])} % (limit {_number(row['limit tdd pct'])} %), "
            f"voltage THD {_number(row['thdv pct'])} % (limit {_number(row['limit thdv pct'])} %), "
            f"Isc/IL {_number(row['isc/il'])}"
        )
        yield f"  Verdict: {row['verdict']}; binding: {row['binding']}"
        if case:
            yield (
                f"  Coupled: TDD {_number(row['coupled tdd pct'])} %, "
                f"voltage THD {_number(row['coupled thdv pct'])} %; verdict: {row['coupled verdict']}; "
                f"binding: {row['coupled binding']}; {row['coupled solution']}"
            )


def _number(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.4g}"
