"""Results of a schedule on a network of buses as tables: the coupled solution beside the uncoupled one."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

import xlcalc
from xlcalc.bulk.plant_run import CaseRun, PlantRun
from xlcalc.bulk.row_counts import NO_VERDICT, OFF, SOLVED, counts, missing_rows
from xlcalc.bulk.site_results import COMPUTED, FIGURES, drive_rows, figures, judged
from xlcalc.network.base import short_circuit_va
from xlcalc.study.solution import PlantSolution
from xlcalc.study.tables import pcc_table

COUPLED = "coupled "


def plant_computed(run: PlantRun) -> pd.DataFrame:
    """Computed columns of the rows of a plant, one row per row of the schedule and case."""
    return pd.concat([_case_computed(run, case) for case in run.cases])


def _case_computed(run: PlantRun, case: CaseRun) -> pd.DataFrame:
    (pcc_bus, *_) = case.pcc_buses(run.site)
    kinds = []
    for k, row in enumerate(drive_rows(case.results, case.network, pcc_bus)):
        coupled = case.coupled_kinds.get(k)
        kinds.append([*row, *figures(coupled.spectrum if coupled else None)])
    table = pd.DataFrame(kinds, columns=[*COMPUTED, *(COUPLED + name for name in FIGURES)])
    solved = table.iloc[case.kind_of_row.to_numpy()].set_axis(case.kind_of_row.index)
    off = pd.DataFrame({"status": OFF, "remark": ""}, index=case.off_rows)
    together = pd.concat([solved, off]) if len(off) else solved
    return together.assign(case=case.name)


def plant_buses(run: PlantRun, drives: pd.DataFrame) -> Iterator[dict[str, object]]:
    """A row per case and bus."""
    for case in run.cases:
        here = _rows_of(run, case, drives)
        for record in run.site.tables["buses"]:
            bus = str(record["name"])
            quick, coupled = (_bus(s, bus, case) for s in (case.uncoupled, case.coupled))
            yield {
                "site": run.site.name,
                "case": case.name,
                "bus": bus,
                "volts": 1e3 * record["kv"],
                "short circuit mva": _level(case, bus),
                **counts(here[here["bus"] == bus]),
                **quick,
                **{COUPLED + name: value for name, value in coupled.items()},
            }


def _bus(solution: PlantSolution | None, bus: str, case: CaseRun) -> dict[str, float]:
    pcc = case.judged(solution, bus, 1.0)
    return {
        "fundamental amps through it": pcc.fundamental_amps if pcc else np.nan,
        "harmonic amps through it": pcc.current.harmonic_rms if pcc else np.nan,
        "voltage thd pct": pcc.thdv_pct if pcc else np.nan,
    }


def _level(case: CaseRun, bus: str) -> float:
    return short_circuit_va(case.network, bus) / 1e6 if bus in case.network.buses else float("nan")


def plant_sites(run: PlantRun, drives: pd.DataFrame) -> Iterator[dict[str, object]]:
    """A row per case and PCC."""
    for case in run.cases:
        rows = _rows_of(run, case, drives)
        lost = int(drives["site"].isna().sum())
        doubts = case.notes.doubts
        complete = lost == 0 and not doubts and bool(rows["status"].isin((SOLVED, OFF)).all())
        for bus in case.pcc_buses(run.site):
            quick, coupled = (case.pcc(s, run.site, bus) for s in (case.uncoupled, case.coupled))
            none = "" if quick else f"no result at {bus}: {case.reason or 'no current flows there'}"
            missing = [text for text in (missing_rows(rows, lost), none, *doubts) if text]
            yield {
                "site": run.site.name,
                "case": case.name,
                "title": str(run.site.study.get("title", "")),
                "verdict": quick.judgement.word if quick and complete else NO_VERDICT,
                COUPLED + "verdict": coupled.judgement.word if coupled and complete else NO_VERDICT,
                "what is missing": "; ".join(missing),
                "remarks": "; ".join(case.notes.remarks),
                COUPLED + "solution": case.reason or "converged",
                **counts(rows),
                "rows not supplied": int((rows["status"] == OFF).sum()),
                "rows of no known site": lost,
                "pcc": bus,
                **judged(quick),
                **{
                    COUPLED + name: value
                    for name, value in judged(coupled).items()
                    if name in ("tdd pct", "thdv pct", "binding", "margin pct of limit")
                },
                "edition": case.settings["edition"],
                "computed by": f"xlcalc {xlcalc.__version__}",
            }


def plant_orders(run: PlantRun) -> Iterator[pd.DataFrame]:
    """Current and voltage by order, a table per case and PCC."""
    for case in run.cases:
        for bus in case.pcc_buses(run.site):
            quick, coupled = (case.pcc(s, run.site, bus) for s in (case.uncoupled, case.coupled))
            if quick is None:
                continue
            table = pcc_table(quick).reset_index().assign(site=run.site.name, case=case.name, pcc=bus)
            for name in ("current_amps", "current_pct", "voltage_pct"):
                beside = pcc_table(coupled)[name].to_numpy() if coupled else np.nan
                table[COUPLED + name] = beside
            yield table


def _rows_of(run: PlantRun, case: CaseRun, drives: pd.DataFrame) -> pd.DataFrame:
    """Rows of a case; a rejected row belongs to every case."""
    return drives[(drives["site"] == run.site.name) & (drives["case"].isin((case.name, "")))]
