"""Results of a schedule on a network of buses as tables, the quick estimate beside the verdict."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

import xlcalc
from xlcalc.bulk.plant_run import CaseRun, PlantRun
from xlcalc.bulk.site_results import (
    OFF,
    beside,
    computed,
    counts,
    judged,
    missing_rows,
    order_table,
    verdict_of,
)


def plant_computed(run: PlantRun) -> pd.DataFrame:
    """Computed columns of the rows of a plant, one row per row of the schedule and case."""
    return pd.concat([_case_computed(run, case) for case in run.cases])


def _case_computed(run: PlantRun, case: CaseRun) -> pd.DataFrame:
    (pcc_bus, *_) = run.site.pccs_in(case.network)
    solved = computed(case.kinds, case.network, pcc_bus, case.kind_of_row)
    off = pd.DataFrame({"status": OFF, "remark": ""}, index=case.off_rows)
    together = pd.concat([solved, off]) if len(off) else solved
    return together.assign(case=case.name)


def plant_buses(run: PlantRun, drives: pd.DataFrame) -> Iterator[dict[str, object]]:
    """A row per case and bus."""
    for case in run.cases:
        here = _rows_of(run, case, drives)
        for record in run.site.tables["buses"]:
            bus = str(record["name"])
            pcc = case.at(bus)
            yield {
                "site": run.site.name,
                "case": case.name,
                "bus": bus,
                "volts": 1e3 * record["kv"],
                "short circuit mva": _level(case, bus),
                **counts(here[here["bus"] == bus]),
                "fundamental amps through it": pcc.fundamental_amps if pcc else np.nan,
                "harmonic amps through it": pcc.current.harmonic_rms if pcc else np.nan,
                "voltage thd pct": pcc.thdv_pct if pcc else np.nan,
            }


def _level(case: CaseRun, bus: str) -> float:
    return case.network.short_circuit_va(bus) / 1e6 if bus in case.network.buses else float("nan")


def plant_sites(run: PlantRun, drives: pd.DataFrame) -> Iterator[dict[str, object]]:
    """A row per case and PCC."""
    for case in run.cases:
        rows = _rows_of(run, case, drives)
        lost = int(drives["site"].isna().sum())
        missing = missing_rows(rows, lost)
        for bus, assessment in case.kinds.assessments.items():
            yield {
                "site": run.site.name,
                "case": case.name,
                "title": str(run.site.study.get("title", "")),
                **verdict_of(assessment, missing),
                "solution": "coupled",
                **counts(rows),
                "rows not supplied": int((rows["status"] == OFF).sum()),
                "rows of no known site": lost,
                "pcc": bus,
                **judged(assessment.pcc),
                **beside(assessment),
                "edition": case.settings["edition"],
                "computed by": f"xlcalc {xlcalc.__version__}",
            }


def plant_orders(run: PlantRun) -> Iterator[pd.DataFrame]:
    """Current and voltage by order, a table per case and PCC."""
    for case in run.cases:
        for bus, assessment in case.kinds.assessments.items():
            table = order_table(assessment, coupled=True)
            if table is not None:
                yield table.assign(site=run.site.name, case=case.name, pcc=bus)


def _rows_of(run: PlantRun, case: CaseRun, drives: pd.DataFrame) -> pd.DataFrame:
    """Rows of a case; a rejected row belongs to every case."""
    return drives[(drives["site"] == run.site.name) & (drives["case"].isin((case.name, "")))]
