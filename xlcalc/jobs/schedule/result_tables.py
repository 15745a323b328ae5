"""Everything that a schedule gives, as tables and in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pandas as pd

from xlcalc.io.lists.schedule import Schedule
from xlcalc.jobs.schedule.site_results import (
    ASSUMED_OF_DRIVES,
    OFF,
    REJECTED,
    SOLVED,
    site_buses,
    site_computed,
    site_orders,
    site_phases,
    site_rows,
)
from xlcalc.jobs.schedule.site_run import SiteRun
from xlcalc.jobs.schedule.year_table import year_lines, year_table
from xlcalc.schema.inputs.drive import FILTER_FIELDS
from xlcalc.standards.verdict import PASS, printed
from xlcalc.studies.verdict.phases import COLUMNS as PHASE_COLUMNS

TABLES = ("drives", "buses", "sites", "orders", "phases", "year", "problems")


@dataclass(frozen=True, kw_only=True)
class ResultTables:
    """What a schedule gives.

    Parameters
    ----------
    drives : DataFrame
        One row per row of the schedule, rejected ones included, with the reason; on a network of buses one
        per case and row.
    buses, sites : DataFrame
        One row per bus and per site; on a network one per case and bus, and per case and PCC. Sums are over
        the drives that were solved; how many are missing stands beside them.
    orders : DataFrame
        Current and voltage at each PCC by order with their limits.
    phases : DataFrame
        The three phases at each PCC where they differ, by order, with a verdict on each.
    year : DataFrame
        Duration curves at each PCC, where the cases state their share of the year.
    problems : DataFrame
        Every bad cell of the schedule.
    runs : tuple of SiteRun
        What they were made of.
    """

    drives: pd.DataFrame
    buses: pd.DataFrame
    sites: pd.DataFrame
    orders: pd.DataFrame
    phases: pd.DataFrame
    year: pd.DataFrame
    problems: pd.DataFrame
    runs: tuple[SiteRun, ...] = ()

    def named(self) -> dict[str, pd.DataFrame]:
        """Tables by the name of their sheet or file."""
        return {name: getattr(self, name) for name in TABLES}

    @property
    def complete(self) -> bool:
        """True where no row is missing from the sums."""
        return bool(self.drives["status"].isin((SOLVED, OFF)).all())


def result_tables(schedule: Schedule, runs: Sequence[SiteRun]) -> ResultTables:
    """Tables of a schedule that was run site by site."""
    drives = _drives(schedule, runs)
    sites = pd.DataFrame([row for run in runs for row in site_rows(run, drives)])
    orders = _by_place([table for run in runs for table in site_orders(run)], ["order"])
    return ResultTables(
        drives=drives,
        buses=pd.DataFrame([row for run in runs for row in site_buses(run, drives)]),
        sites=sites,
        orders=orders,
        phases=_by_place([table for run in runs for table in site_phases(run)], PHASE_COLUMNS),
        year=year_table(sites, orders),
        problems=pd.DataFrame(
            [(p.row, p.column, p.value, p.valid) for p in schedule.problems],
            columns=["row", "column", "value", "valid"],
        ),
        runs=tuple(runs),
    )


def _drives(schedule: Schedule, runs: Sequence[SiteRun]) -> pd.DataFrame:
    rows = schedule.rows
    inputs = [
        *(
            "site",
            "tag",
            "description",
            "quantity",
            "rating",
            "unit",
            "volts",
            "efficiency pct",
            "efficiency",
        ),
        "bus",
        *("pulses", "line reactor pct", "dc choke pct", "load pct"),
    ]
    left_out = {"accepted"}
    if not (rows["filter capacitor pct"].fillna(0.0) > 0.0).any():
        left_out.update(field.name for field in FILTER_FIELDS)
    if rows["phase shift deg"].isna().all():
        left_out.add("phase shift deg")
    table = rows[[*inputs, *(c for c in rows.columns if c not in (*inputs, *left_out))]].copy()
    table = table.join(pd.concat([site_computed(run) for run in runs]))
    if "case" in table:
        table.insert(1, "case", table.pop("case").fillna(""))
    rejected = ~rows["accepted"].reindex(table.index)
    table.loc[rejected, "status"] = REJECTED
    reasons = pd.Series(schedule.reasons(), dtype=object)
    table["remark"] = reasons.reindex(table.index).where(rejected, table["remark"]).fillna("")
    carried = schedule.carried.rename(
        columns={c: f"{c} (not used)" if c in table.columns else c for c in schedule.carried.columns}
    )
    return table.join(carried).reset_index()


def _by_place(tables: Sequence[pd.DataFrame], columns: Sequence[str]) -> pd.DataFrame:
    if not tables:
        return pd.DataFrame(columns=["site", "pcc", *columns])
    table = pd.concat(tables, ignore_index=True)
    table.columns = table.columns.str.replace("_", " ")
    first = [name for name in ("site", "case", "pcc", "supply") if name in table]
    return table[[*first, *(c for c in table.columns if c not in first)]]


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
        yield f"  Verdict: {_marked(row['verdict'], row[ASSUMED_OF_DRIVES])}; binding: {row['binding']}"
        if row["reason"] and row["reason"] != row["what is missing"]:
            yield f"  Reason: {row['reason']}"
        if row["remarks"]:
            yield f"  Remarks: {row['remarks']}"
        if row["solution"] == "coupled":
            yield (
                f"  Quick estimate: TDD {_number(row['quick tdd pct'])} %, "
                f"voltage THD {_number(row['quick thdv pct'])} %; it alone would be: {row['quick verdict']}"
            )
    yield from year_lines(tables.sites, tables.year)


def _marked(word: str, assumed: str) -> str:
    """The word, a PASS with what it assumes of drives known by their nameplates."""
    return f"{word} with assumed {assumed}" if assumed and word == PASS else word


def _number(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.4g}"
