"""Results of the sites of a schedule on the terminal."""

from __future__ import annotations

import pandas as pd
from rich.console import Console

from xlcalc.bulk.result_tables import ResultTables


def print_sites(tables: ResultTables, out: Console) -> None:
    """The verdict at every PCC, with what is missing in it."""
    for row in tables.sites.to_dict("records"):
        case = f", {row['case']}, PCC {row['pcc']}" if isinstance(row.get("case"), str) else ""
        out.print(
            f"{row['site']}{case}: {row['rows']} rows, {row['rows solved']} solved, "
            f"{row['rows rejected']} rejected, {row['rows without stable solution']} without stable solution",
            markup=False,
        )
        if row["what is missing"]:
            out.print(f"  Missing: {row['what is missing']}", markup=False)
        out.print(
            f"  TDD {_number(row['tdd pct'])} % (limit {_number(row['limit tdd pct'])} %), "
            f"voltage THD {_number(row['thdv pct'])} % (limit {_number(row['limit thdv pct'])} %), "
            f"Isc/IL {_number(row['isc/il'])}"
        )
        out.print(f"  Verdict: {row['verdict']}; binding: {row['binding']}", markup=False)
        if case:
            out.print(
                f"  Coupled: TDD {_number(row['coupled tdd pct'])} %, "
                f"voltage THD {_number(row['coupled thdv pct'])} %; verdict: {row['coupled verdict']}; "
                f"binding: {row['coupled binding']}; {row['coupled solution']}",
                markup=False,
            )


def _number(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.4g}"
