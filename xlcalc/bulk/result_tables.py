"""Results of a schedule as tables: per drive, per bus, per site, by order, and what is missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

import xlcalc
from xlcalc.bulk.schedule import Schedule
from xlcalc.bulk.site_run import SiteRun
from xlcalc.network.base import short_circuit_va
from xlcalc.spectrum import Spectrum
from xlcalc.study.tables import pcc_table
from xlcalc.worksheet.functions.plant import WATTS_PER_UNIT, network

SHOWN_ORDERS = (5, 7, 11, 13)
SOLVED, UNSTABLE, REJECTED = "solved", "no stable solution", "rejected"
NO_VERDICT = "NO VERDICT"


@dataclass(frozen=True)
class ResultTables:
    """What a schedule gives.

    Parameters
    ----------
    drives : DataFrame
        One row per row of the schedule, rejected ones included, with the reason.
    buses, sites : DataFrame
        One row per bus and per site. Sums are over the drives that were solved; how many are missing stands
        beside them.
    orders : DataFrame
        Current and voltage at each PCC by order with their limits.
    problems : DataFrame
        Every bad cell of the schedule.
    """

    drives: pd.DataFrame
    buses: pd.DataFrame
    sites: pd.DataFrame
    orders: pd.DataFrame
    problems: pd.DataFrame

    def named(self) -> dict[str, pd.DataFrame]:
        """Tables by the name of their sheet or file."""
        return {
            "drives": self.drives,
            "buses": self.buses,
            "sites": self.sites,
            "orders": self.orders,
            "problems": self.problems,
        }

    @property
    def complete(self) -> bool:
        """True where no row is missing from the sums."""
        return bool((self.drives["status"] == SOLVED).all())


def result_tables(schedule: Schedule, runs: Sequence[SiteRun]) -> ResultTables:
    """Tables of a schedule that was run site by site."""
    drives = _drives(schedule, runs)
    return ResultTables(
        drives,
        pd.DataFrame([row for run in runs for row in _buses(run, drives)]),
        pd.DataFrame([_site(run, drives) for run in runs]),
        _orders(runs),
        pd.DataFrame(
            [(p.row, p.column, p.value, p.valid) for p in schedule.problems],
            columns=["row", "column", "value", "valid"],
        ),
    )


def _drives(schedule: Schedule, runs: Sequence[SiteRun]) -> pd.DataFrame:
    rows = schedule.rows
    inputs = [
        *("site", "tag", "description", "quantity", "rating", "unit", "volts", "efficiency pct", "bus"),
        *("pulses", "line reactor pct", "dc choke pct", "load pct"),
    ]
    table = rows[[*inputs, *(c for c in rows.columns if c not in (*inputs, "accepted"))]].copy()
    computed = pd.concat([_computed(run) for run in runs]) if runs else pd.DataFrame()
    table = table.join(computed)
    rejected = ~rows["accepted"]
    table.loc[rejected, "status"] = REJECTED
    reasons = pd.Series(schedule.reasons(), dtype=object)
    table["remark"] = reasons.reindex(table.index).where(rejected, table["remark"]).fillna("")
    carried = schedule.carried.rename(
        columns={c: f"{c} (not used)" if c in table.columns else c for c in schedule.carried.columns}
    )
    return table.join(carried).reset_index()


def _computed(run: SiteRun) -> pd.DataFrame:
    """Computed columns of the rows of a site, from those of its kinds of drives."""
    plant = network(run.site.site)
    kinds = []
    for result in run.results:
        spectrum = result.spectrum if result.stable else None
        at_pcc = np.nan
        if spectrum is not None and run.pcc is not None:
            at_pcc = max(float(phase.magnitude[4]) for phase in result.at(plant, run.pcc.bus))
        blank = [np.nan] * (3 + len(SHOWN_ORDERS))
        kinds.append(
            (
                result.source_pct,
                result.source_xr,
                *(blank if spectrum is None else _figures(spectrum)),
                at_pcc / result.drive.quantity,
                SOLVED if result.stable else UNSTABLE,
                result.reason,
            )
        )
    columns = ["source pct", "source x/r", "fundamental amps", "rms amps", "thd pct"]
    columns += [f"{order}th pct" for order in SHOWN_ORDERS]
    columns += ["5th at the pcc amps per unit", "status", "remark"]
    table = pd.DataFrame(kinds, columns=columns)
    return table.iloc[run.kind_of_row.to_numpy()].set_axis(run.kind_of_row.index)


def _figures(spectrum: Spectrum) -> list[float]:
    percent = spectrum.percent
    shown = [float(percent[order - 1]) for order in SHOWN_ORDERS]
    return [spectrum.fundamental, spectrum.rms, spectrum.thd_pct, *shown]


def _kw(rows: pd.DataFrame) -> float:
    """Rated shaft power of rows as far as it can be read."""
    units = rows["quantity"].where(rows["quantity"] >= 1.0, 1.0)
    watts = rows["rating"] * rows["unit"].map(WATTS_PER_UNIT) * units
    return float(watts[np.isfinite(watts) & (watts > 0)].sum() / 1e3)


def _counts(rows: pd.DataFrame) -> dict[str, object]:
    solved = rows[rows["status"] == SOLVED]
    missing = rows[rows["status"] != SOLVED]
    return {
        "rows": len(rows),
        "rows solved": len(solved),
        "rows rejected": int((rows["status"] == REJECTED).sum()),
        "rows without stable solution": int((rows["status"] == UNSTABLE).sum()),
        "drives solved": int(solved["quantity"].sum()),
        "kw solved": _kw(solved),
        "kw missing at least": _kw(missing),
    }


def _buses(run: SiteRun, drives: pd.DataFrame) -> list[dict[str, object]]:
    plant = network(run.site.site)
    here = drives[drives["site"] == run.site.name]
    rows = []
    for bus in plant.buses:
        result = run.buses.get(bus)
        rows.append(
            {
                "site": run.site.name,
                "bus": bus,
                "volts": plant.volts(bus),
                "short circuit mva": short_circuit_va(plant, bus) / 1e6,
                **_counts(here[here["bus"] == bus]),
                "fundamental amps through it": result.fundamental_amps if result else np.nan,
                "harmonic amps through it": result.current.harmonic_rms if result else np.nan,
                "thd of its current pct": result.current.thd_pct if result else np.nan,
                "voltage thd pct": result.thdv_pct if result else np.nan,
            }
        )
    return rows


def _site(run: SiteRun, drives: pd.DataFrame) -> dict[str, object]:
    rows = drives[drives["site"] == run.site.name]
    lost = drives[drives["site"].isna()]
    counts = _counts(rows)
    missing = len(rows) + len(lost) - int((rows["status"] == SOLVED).sum())
    pcc = run.pcc
    judgement = pcc.judgement if pcc else None
    tdd, thdv = judgement.verdicts[:2] if judgement else (None, None)
    complete = missing == 0 and judgement is not None
    return {
        "site": run.site.name,
        "title": str(run.site.study.get("title", "")),
        "verdict": judgement.word if judgement and complete else NO_VERDICT,
        "what is missing": _missing(rows, len(lost)) if judgement else "no load draws current at the PCC",
        **counts,
        "rows of no known site": len(lost),
        "pcc": run.options.pcc,
        "isc amps": pcc.short_circuit_amps if pcc else np.nan,
        "il amps": pcc.demand_amps if pcc else np.nan,
        "isc/il": pcc.isc_il if pcc else np.nan,
        "tdd pct": tdd.value if tdd else np.nan,
        "limit tdd pct": tdd.limit if tdd else np.nan,
        "thdv pct": thdv.value if thdv else np.nan,
        "limit thdv pct": thdv.limit if thdv else np.nan,
        "binding": judgement.binding.name if judgement else "",
        "margin pct of limit": 100.0 * (1.0 - judgement.binding.ratio) if judgement else np.nan,
        "limit from": f"{judgement.binding.origin.text}; {judgement.binding.verified}" if judgement else "",
        "edition": run.options.edition,
        "computed by": f"xlcalc {xlcalc.__version__}",
    }


def _missing(rows: pd.DataFrame, lost: int) -> str:
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


def _orders(runs: Sequence[SiteRun]) -> pd.DataFrame:
    tables = [
        pcc_table(run.pcc).reset_index().assign(site=run.site.name, pcc=run.pcc.bus)
        for run in runs
        if run.pcc is not None
    ]
    if not tables:
        return pd.DataFrame(columns=["site", "pcc", "order"])
    table = pd.concat(tables, ignore_index=True)
    table.columns = table.columns.str.replace("_", " ")
    return table[["site", "pcc", *(c for c in table.columns if c not in ("site", "pcc"))]]
