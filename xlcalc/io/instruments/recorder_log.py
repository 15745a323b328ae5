"""Logs of power-quality recorders: one row per interval, a column per order and phase."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.io.instruments.record_map import RecordColumn, RecordMap, is_flag, plain
from xlcalc.io.instruments.record_table import Table
from xlcalc.io.instruments.waveform_table import chosen_columns, time_column, utc_times
from xlcalc.measurement.aggregation import LENGTHS, Series

_FALSE = frozenset(("", "0", "false", "no", "n", "ok", "-"))


@dataclass(frozen=True, kw_only=True)
class Log:
    """Harmonics of one quantity and phase, as a recorder logged them.

    Parameters
    ----------
    quantity, phase : str
    length : str
        "3 s" or "10 min".
    time : array of datetime64, shape (t,)
        Start of each interval, UTC.
    values : array of float, shape (t, 50)
        By order, NaN where the log lacks it.
    percent : bool
        Percent of whatever the recorder takes as 100 %; else V or A.
    total : array of float, shape (t,), optional
        Total distortion, percent.
    flagged : array of bool, shape (t,)
    """

    quantity: str
    phase: str
    length: str
    time: npt.NDArray[np.datetime64]
    values: FloatArray
    percent: bool
    total: FloatArray | None
    flagged: npt.NDArray[np.bool_]

    def series(self, base: float | None = None) -> Series:
        """The log in percent.

        Parameters
        ----------
        base : float, optional
            What is 100 % of the limits: the demand current, A, or the nominal voltage, V. Without it the
            percent of the recorder are taken as they are: they must be of that same base.

        Raises
        ------
        InputError
            Values in V or A without a base, or percent with one.
        """
        if self.percent is (base is not None):
            what = f"{self.quantity} of phase {self.phase}"
            if base is None:
                valid = "a nominal voltage or demand current that is 100 %, or a log in percent"
                raise InputError("base", f"not given for {what} in V or A", valid)
            raise InputError("base", f"{base:g} for {what} in percent", "no base: the log has one of its own")
        scale = 1.0 if base is None else 100.0 / number("base", base, above=0)
        return Series(
            phase=self.phase,
            length=self.length,
            time=self.time,
            percent=scale * self.values,
            total=self.total if self.percent else None,
            flagged=self.flagged,
        )


@dataclass(frozen=True)
class RecorderLog:
    """All quantities and phases of a log, and what was found on reading it."""

    logs: tuple[Log, ...]
    findings: tuple[str, ...] = ()


def read_log(table: Table, record_map: RecordMap) -> RecorderLog:
    """The log in a table.

    Rows may be in any order. Rows that repeat another one in every column are left out and counted.

    Raises
    ------
    InputError
        No time column, times that repeat with other values, steps that are neither 3 s nor 10 minutes,
        columns of one phase partly in percent, or what `chosen_columns` refuses.
    """
    time = time_column(table, record_map)
    if time is None:
        raise InputError(table.name, "without a time column", "a column time with date and time")
    flags = next((k for k, heading in enumerate(table.headings) if is_flag(heading)), None)
    columns, findings = chosen_columns(table, record_map, time)
    if flags is not None:
        findings = [note for note in findings if not note.endswith(f": {table.headings[flags]}")]
    stamps, zone_note = utc_times(table, time, record_map.zone)
    order, notes = _in_order(table, stamps, [index for index, _ in columns])
    length, gap_notes = _length(table, stamps[order])
    flagged = _flags(table, flags)[order]
    findings = [*table.remarks, *findings, *filter(None, [zone_note]), *notes, *gap_notes]
    grouped: dict[tuple[str, str], list[tuple[RecordColumn, FloatArray]]] = defaultdict(list)
    for index, column in columns:
        if column.order is None:
            findings.append(f"{table.name}: {table.headings[index]} has no order: left out")
            continue
        values, note = table.numbers(index)
        findings += [note] if note else []
        factor = column.factor(plain(table.headings[index])[1])
        grouped[column.channel.quantity, column.channel.phase].append((column, factor * values[order]))
    logs = [
        _log(quantity, phase, held, length, stamps[order], flagged)
        for (quantity, phase), held in grouped.items()
    ]
    return RecorderLog(tuple(log for log in logs if log is not None), tuple(findings))


def _log(
    quantity: str,
    phase: str,
    held: list[tuple[RecordColumn, FloatArray]],
    length: str,
    time: npt.NDArray[np.datetime64],
    flagged: npt.NDArray[np.bool_],
) -> Log | None:
    """None for a quantity of which the log has neither orders nor a total."""
    orders = [(column, values) for column, values in held if column.order]
    for column, _ in held:
        if column.order == 0 and not column.percent:
            raise InputError(f"unit of {column.channel.name}", "V or A", "percent for a total distortion")
    total = next((values for column, values in held if column.order == 0), None)
    if not orders and total is None:
        return None
    kinds = {column.percent for column, _ in orders if column.order != 1}
    if len(kinds) > 1:
        raise InputError(f"{quantity} of phase {phase}", "partly in percent", "one unit for all orders")
    rows = np.full((time.size, MAX_ORDER), np.nan)
    for column, values in orders:
        negative = np.flatnonzero(values < 0.0)
        if negative.size:
            at = np.datetime_as_string(time[negative[0]], unit="s")
            raise InputError(f"{column.channel.name} at {at}", float(values[negative[0]]), "0 or more")
        if column.percent or kinds == {False}:
            rows[:, (column.order or 1) - 1] = values
    percent = kinds != {False}
    return Log(
        quantity=quantity,
        phase=phase,
        length=length,
        time=time,
        values=rows,
        percent=percent,
        total=total,
        flagged=flagged,
    )


def _in_order(
    table: Table, stamps: npt.NDArray[np.datetime64], used: list[int]
) -> tuple[npt.NDArray[np.int64], list[str]]:
    """Rows in the order of time, each once."""
    order = np.argsort(stamps, kind="stable")
    notes = []
    if np.any(np.diff(stamps) < np.timedelta64(0)):
        later = int(np.flatnonzero(np.diff(stamps) < np.timedelta64(0))[0]) + 1
        at = np.datetime_as_string(stamps[later], unit="s")
        notes.append(f"{table.row(later)}: {at} comes after a later time; the rows were sorted")
    twice = np.flatnonzero(np.diff(stamps[order]) == np.timedelta64(0)) + 1
    for first, second in zip(order[twice - 1].tolist(), order[twice].tolist(), strict=True):
        same = all(
            str(table.columns[index].iloc[first]) == str(table.columns[index].iloc[second]) for index in used
        )
        if not same:
            at = np.datetime_as_string(stamps[second], unit="s")
            message = (
                f"{table.row(second)}: the time {at} is also that of row {table.first_row + first}, with "
                "other values; where a clock was set back for daylight saving, state time_zone in the map"
            )
            raise InputError("time", at, "each time once", message=message)
    if twice.size:
        notes.append(f"{table.row(int(order[twice[0]]))}: a repeated row; {twice.size} such were left out")
    return np.delete(order, twice), notes


def _length(table: Table, time: npt.NDArray[np.datetime64]) -> tuple[str, list[str]]:
    """Length of the intervals, and a sentence on those that are missing."""
    if time.size < 2:
        raise InputError(table.name, f"with {time.size} interval(s)", "two intervals or more")
    steps = np.diff(time) / np.timedelta64(1, "s")
    step = float(np.median(steps))
    length = next((name for name, seconds in LENGTHS.items() if abs(step - seconds) < 0.05 * seconds), None)
    if length is None:
        raise InputError(f"step of {table.name}", f"{step:g} s", "3 s or 10 min")
    close = np.flatnonzero(steps < 0.5 * step)
    if close.size:
        at = np.datetime_as_string(time[close[0] + 1], unit="s")
        raise InputError(f"time in {table.name}", f"{at}, {steps[close[0]]:g} s after the one before", length)
    gaps = np.flatnonzero(steps > 1.5 * step)
    if not gaps.size:
        return length, []
    missing = int(np.sum(np.round(steps[gaps] / step) - 1))
    at = np.datetime_as_string(time[gaps[0]], unit="s")
    hour = abs(float(steps[gaps[0]]) - step - 3600.0) < 1.0
    saving = "; an hour may be daylight saving: state time_zone in the map" if hour else ""
    return length, [f"{table.name}: {missing} intervals are missing, the first after {at}{saving}"]


def _flags(table: Table, index: int | None) -> npt.NDArray[np.bool_]:
    if index is None:
        return np.zeros(len(table.columns[0]), bool)
    texts = table.columns[index].astype("string").fillna("").str.strip().str.casefold()
    return ~texts.isin(_FALSE).to_numpy(dtype=bool)
