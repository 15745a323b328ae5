"""Results of the sites of a schedule on the terminal."""

from __future__ import annotations

import pandas as pd
from rich.console import Console

from xlcalc.bulk.result_tables import ResultTables


def print_sites(tables: ResultTables, out: Console) -> None:
    for row in tables.sites.to_dict("records"):
        out.print(
            f"{row['site']}: {row['rows']} rows, {row['rows solved']} solved, "
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


def _number(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.4g}"
