"""What a record is judged by, and one line for each of many records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.face.record import Record, read_record
from xlcalc.files.errors import WorkbookFileError
from xlcalc.jobs.pools import HerePool, Lost, Pool
from xlcalc.measurement.recording import VOLTAGE
from xlcalc.standards.ieee519 import DEFAULT_EDITION

if TYPE_CHECKING:
    from xlcalc.standards.verdict import Judgement


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Limits by which records are judged; what is None is not asked for.

    Parameters
    ----------
    demand_amps, isc_il, kv, edition
        As in `Record.judge_current`; the demand current is not needed for a log in percent of it.
    en50160 : str, optional
        "LV" or "MV".
    plant_class : str, optional
        "1", "2" or "3" of IEC 61000-2-4.
    hz : float, optional
        Frequency, where known.

    Raises
    ------
    InputError
        Values of which one needs another that is not there.
    """

    demand_amps: float | None = None
    isc_il: float | None = None
    kv: float | None = None
    edition: str = DEFAULT_EDITION
    en50160: str | None = None
    plant_class: str | None = None
    hz: float | None = None

    def __post_init__(self) -> None:
        alone = self.demand_amps is not None and self.isc_il is None
        if alone or (self.isc_il is not None and self.kv is None):
            valid = (
                "all three of --demand-amps, --isc-il and --kv, without the first for a log in percent of "
                "it, or --kv alone for the voltages"
            )
            given = f"{self.demand_amps}, {self.isc_il}"
            raise InputError("--demand-amps, --isc-il", given, valid, wrong_kind=True)

    def record(self, path: Path, record_map: Path | None = None) -> Record:
        """The record in a file, flagged by the nominal voltage where it is known."""
        volts = None if self.kv is None else 1e3 * self.kv
        return read_record(path, record_map, hz=self.hz, nominal_volts=volts)

    def judgements(self, record: Record) -> dict[str, Judgement]:
        """What can be judged of the quantities that a record holds, by name."""
        judged = {}
        if self.isc_il is not None and self.kv is not None:
            judged[f"currents, IEEE 519-{self.edition}"] = record.judge_current(
                demand_amps=self.demand_amps, isc_il=self.isc_il, kv=self.kv, edition=self.edition
            )
        if self.kv is not None and VOLTAGE in record.quantities:
            name = f"voltages, IEEE 519-{self.edition}"
            judged[name] = record.judge_voltage(kv=self.kv, edition=self.edition)
        if self.en50160 is not None:
            judged[f"voltages, EN 50160 {self.en50160}"] = record.judge_en50160(self.en50160)
        if self.plant_class is not None:
            name = f"class {self.plant_class}"
            judged[f"voltages, IEC 61000-2-4 {name}"] = record.judge_iec61000_2_4(name)
        return judged


@dataclass(frozen=True)
class _Task:
    path: Path
    record_map: Path | None
    asked: Asked


def measure_many(
    paths: Sequence[Path], record_map: Path | None, asked: Asked, pool: Pool | None = None
) -> pd.DataFrame:
    """Records reduced and judged one by one: a row each, with the reason where a file cannot be used.

    Parameters
    ----------
    paths : sequence of Path
    record_map : Path, optional
        The same for all.
    asked : Asked
    pool : Pool, optional
        Where the work is done: processes of this machine or a Dask cluster; here unless given.
    """
    tasks = [_Task(path.absolute(), record_map and record_map.absolute(), asked) for path in paths]
    rows: dict[int, dict[str, Any]] = {}
    for number, row in (pool or HerePool()).run(_row, tasks):
        lost = isinstance(row, Lost)
        rows[number] = {"file": str(paths[number]), "problem": row.reason} if lost else dict(row)  # type: ignore[union-attr,arg-type]
    return pd.DataFrame([rows[number] for number in range(len(paths))])


def _row(task: _Task) -> dict[str, Any]:
    row: dict[str, Any] = {"file": str(task.path), "problem": ""}
    try:
        record = task.asked.record(task.path, task.record_map)
        row |= record.summary()
        if not record.is_log:
            found = record.reduction
            for k, channel in enumerate(record.channels):
                row[f"{channel.name} mean {channel.unit}"] = float(np.nanmean(found.fundamental[:, k]))
                row[f"{channel.name} largest thd %"] = float(np.nanmax(found.thd_pct[:, k]))
        for name, judgement in task.asked.judgements(record).items():
            row |= {name: judgement.word, f"{name}, why": judgement.reason}
        row["findings"] = "; ".join(record.findings)
    except (InputError, NoSolutionError, WorkbookFileError) as problem:
        row["problem"] = str(problem)
    return row
