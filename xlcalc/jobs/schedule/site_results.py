"""Rows of a schedule counted, and the results of a site as tables, case by case and PCC by PCC."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

import xlcalc
from xlcalc.core.spectrum import MAX_ORDER, Spectrum
from xlcalc.jobs.schedule.assessed_kinds import AssessedKinds
from xlcalc.jobs.schedule.site_run import CaseRun, SiteRun
from xlcalc.network.nodal import NodalNetwork
from xlcalc.schema.assembly.drive import WATTS_PER_UNIT
from xlcalc.studies.drives import DriveResult
from xlcalc.studies.pcc import PccResult, pcc_columns
from xlcalc.studies.sources import currents_through
from xlcalc.studies.verdict.assessed import Assessment
from xlcalc.studies.verdict.phases import BUS_COLUMNS, bus_phases, phase_table
from xlcalc.studies.verdict.phases import COLUMNS as PHASE_COLUMNS

ASSUMED_OF_DRIVES = "assumed of drives"
"""Column of what stands for values that nameplates leave open; a PASS rests on it."""
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


SHOWN_ORDERS = (5, 7, 11, 13)
FIGURES = ("fundamental amps", "rms amps", "thd pct", *(f"{order}th pct" for order in SHOWN_ORDERS))
QUICK = "quick "
COMPUTED = ("source pct", "source x/r", *FIGURES, "5th at the pcc amps per unit", "status", "remark")


def site_computed(run: SiteRun) -> pd.DataFrame:
    """Computed columns of the rows of a site, from those of its kinds of drives: one row per case and row."""
    return pd.concat([_case_computed(case) for case in run.cases])


def _case_computed(case: CaseRun) -> pd.DataFrame:
    solved = computed(case.kinds, case.network, case.points[0].pcc, case.kind_of_row)
    off = pd.DataFrame({"status": OFF, "remark": ""}, index=case.off_rows)
    together = pd.concat([solved, off]) if len(off) else solved
    return together.assign(**_named(case))


def computed(
    kinds: AssessedKinds, plant: NodalNetwork, pcc_bus: str, kind_of_row: pd.Series[int]
) -> pd.DataFrame:
    """Computed columns of rows: `COMPUTED`, and coupled the figures of every drive alone beside them."""
    rows = drive_rows(kinds.results, plant, pcc_bus)
    if kinds.coupled:
        quick = (figures(result.spectrum if result.stable else None) for result in kinds.alone)
        rows = [[*row, *alone] for row, alone in zip(rows, quick, strict=True)]
    columns = [*COMPUTED, *((QUICK + name for name in FIGURES) if kinds.coupled else ())]
    table = pd.DataFrame(rows, columns=columns)
    return table.iloc[kind_of_row.to_numpy()].set_axis(kind_of_row.index)


def drive_rows(results: Sequence[DriveResult], plant: NodalNetwork, pcc_bus: str) -> list[list[float | str]]:
    """Values of `COMPUTED` for each drive; NaN where the drive has no result."""
    at_pcc = np.full(len(results), np.nan)
    stable = [k for k, result in enumerate(results) if result.stable]
    loads = [load for k in stable if (load := results[k].load) is not None]
    fifth = np.abs(currents_through(loads, plant, pcc_bus)[:, :, 4])
    at_pcc[stable] = fifth.max(axis=1) / [load.quantity for load in loads]
    return [
        [
            result.source_pct,
            result.source_xr,
            *figures(result.spectrum if result.stable else None),
            amps,
            SOLVED if result.stable else UNSTABLE,
            result.reason,
        ]
        for result, amps in zip(results, at_pcc.tolist(), strict=True)
    ]


def figures(spectrum: Spectrum | None) -> list[float]:
    """Values of `FIGURES`; NaN without a spectrum."""
    if spectrum is None:
        return [float("nan")] * len(FIGURES)
    percent = spectrum.percent
    shown = [float(percent[order - 1]) for order in SHOWN_ORDERS]
    return [spectrum.fundamental, spectrum.rms, spectrum.thd_pct, *shown]


def site_buses(run: SiteRun, drives: pd.DataFrame) -> Iterator[dict[str, object]]:
    """A row per case and bus."""
    for case in run.cases:
        here = _rows_of(run, case, drives)
        for bus, volts in run.site.all_volts.items():
            result = case.at(bus)
            flows = result is not None and not result.is_dead
            supplied = bus in case.network.buses
            yield {
                "site": run.site.name,
                **_named(case),
                "bus": bus,
                "volts": volts,
                "short circuit mva": case.network.short_circuit_va(bus) / 1e6 if supplied else np.nan,
                **counts(here[here["bus"] == bus]),
                "fundamental amps through it": result.fundamental_amps if result else np.nan,
                "harmonic amps through it": result.current.harmonic_rms if result else np.nan,
                "thd of its current pct": result.current.thd_pct if result and flows else np.nan,
                "voltage thd pct": result.thdv_pct if result else np.nan,
                **_phases_of(case, result),
            }


def _phases_of(case: CaseRun, result: PccResult | None) -> dict[str, object]:
    """Columns of the phases of a bus; blank where there is no result."""
    solution = case.kinds.solution
    if result is None or solution is None:
        return dict(zip(BUS_COLUMNS, (*[np.nan] * 3, "", np.nan), strict=True))
    found = bus_phases(result, solution.flow.bus_volts(result.bus)[:, 0])
    return dict(zip(BUS_COLUMNS, found, strict=True))


def site_phases(run: SiteRun) -> Iterator[pd.DataFrame]:
    """The three phases by order, a table per case and PCC where they differ."""
    for case in run.cases:
        for bus, assessment in case.kinds.assessments.items():
            found = phase_table(assessment)
            if found is not None and found.differ:
                rows = [[np.nan if cell == "" else cell for cell in row] for row in found.rows]
                table = pd.DataFrame(rows, columns=PHASE_COLUMNS)
                yield table.assign(site=run.site.name, **_named(case), pcc=bus, supply=found.supply)


def site_rows(run: SiteRun, drives: pd.DataFrame) -> Iterator[dict[str, object]]:
    """A row per case and PCC."""
    lost = int(drives["site"].isna().sum())
    for case in run.cases:
        rows = _rows_of(run, case, drives)
        missing = missing_rows(rows, lost)
        off = {"rows not supplied": int((rows["status"] == OFF).sum())} if case.name else {}
        for point in case.points:
            assessment = case.kinds.assessments[point.pcc]
            yield {
                "site": run.site.name,
                **_named(case),
                "title": str(run.site.study.get("title", "")),
                **verdict_of(assessment, missing),
                ASSUMED_OF_DRIVES: assessment.spread.names if assessment.spread else "",
                "solution": "coupled" if case.kinds.coupled else "quick estimate",
                **counts(rows),
                **off,
                "rows of no known site": lost,
                "pcc": point.pcc,
                **_share(run, case),
                **judged(assessment.pcc),
                **beside(assessment),
                "edition": point.edition,
                "computed by": f"xlcalc {xlcalc.__version__}",
            }


def _named(case: CaseRun) -> dict[str, str]:
    """The column of the case; none where a site has no cases."""
    return {"case": case.name} if case.name else {}


def _share(run: SiteRun, case: CaseRun) -> dict[str, float]:
    """The column of the time that a case takes; none where no case states it."""
    name = "share of year pct"
    if all(settings.get(name) is None for settings in run.site.cases.values()):
        return {}
    share = run.site.cases[case.name].get(name)
    return {name: np.nan if share is None else float(share)}


def _rows_of(run: SiteRun, case: CaseRun, drives: pd.DataFrame) -> pd.DataFrame:
    """Rows of a case; a rejected row belongs to every case."""
    rows = drives[drives["site"] == run.site.name]
    return rows[rows["case"].isin((case.name, ""))] if case.name else rows


def verdict_of(assessment: Assessment | None, missing: str, none: str = "") -> dict[str, object]:
    """The verdict on a PCC, why there is none, and what qualifies it.

    `missing` says which rows the sums lack, `none` why there is no assessment.
    """
    reason = assessment.reason if assessment else none
    lacking = [text for text in (missing, "" if assessment and assessment.pcc else reason) if text]
    return {
        "verdict": assessment.word if assessment and not missing else NO_VERDICT,
        "reason": "; ".join(text for text in (missing, reason) if text),
        "remarks": assessment.remark if assessment else "",
        "what is missing": "; ".join(lacking),
    }


def beside(assessment: Assessment | None) -> dict[str, object]:
    """What stands beside a verdict: basis of I_L, quick estimate, typical supply."""
    quick = assessment.quick if assessment else None
    assumed = assessment.assumed if assessment else None
    typical = assumed.pcc if assumed else None
    return {
        "il basis": assessment.il_basis if assessment else "",
        "fundamental amps": (assessment.fundamental_amps if assessment else None) or np.nan,
        "quick tdd pct": quick.tdd_pct if quick else np.nan,
        "quick thdv pct": quick.thdv_pct if quick else np.nan,
        "quick verdict": assessment.quick_word if assessment else "",
        "typical tdd pct": typical.tdd_pct if typical else np.nan,
        "typical verdict": assessment.assumed_word if assessment else "",
    }


def judged(pcc: PccResult | None) -> dict[str, object]:
    """Figures of a PCC and its verdicts; NaN and blanks without a result."""
    judgement = pcc.judgement if pcc else None
    tdd, thdv = judgement.verdicts[:2] if judgement else (None, None)
    return {
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
    }


def site_orders(run: SiteRun) -> Iterator[pd.DataFrame]:
    """Current and voltage by order, a table per case and PCC where any current flows."""
    for case in run.cases:
        for bus, assessment in case.kinds.assessments.items():
            table = order_table(assessment, case.kinds.coupled)
            if table is not None:
                yield table.assign(site=run.site.name, **_named(case), pcc=bus)


def order_table(assessment: Assessment, coupled: bool) -> pd.DataFrame | None:
    """Current and voltage at a PCC by order, with the quick estimate beside a coupled one; None without."""
    pcc, quick = assessment.pcc, assessment.quick
    if pcc is None:
        return None
    table = pcc_table(pcc).reset_index()
    if coupled:
        for name in ("current_amps", "current_pct", "voltage_pct"):
            table[QUICK + name] = pcc_table(quick)[name].to_numpy() if quick else np.nan
    return table


def pcc_table(pcc: PccResult) -> pd.DataFrame:
    """One row per order 1..50; limits and margins are missing at the fundamental.

    Columns: current_amps, current_pct, current_limit_pct, current_margin, voltage_pct, voltage_limit_pct,
    voltage_margin. Margins are in points.
    """
    return pd.DataFrame(pcc_columns(pcc), index=pd.Index(range(1, MAX_ORDER + 1), name="order"))
