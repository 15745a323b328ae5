"""Waveforms in a table: one row per sample, a column per channel, and a time column or a rate."""

from __future__ import annotations

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.io.instruments.record_map import TIME_UNITS, RecordColumn, RecordMap, is_time, plain, recognised
from xlcalc.io.instruments.record_table import Table
from xlcalc.io.instruments.time_axis import TimeAxis, time_axis
from xlcalc.measurement.recording import Recording


def read_waveforms(table: Table, record_map: RecordMap) -> Recording:
    """The recording in a table.

    Parameters
    ----------
    table : Table
    record_map : RecordMap
        With channels, only those are read; without, all whose heading says what they are.

    Raises
    ------
    InputError
        A channel of the map is not in the table, none is recognised, there is neither time nor rate, or the
        times are not even.
    """
    time = time_column(table, record_map)
    columns, findings = chosen_columns(table, record_map, time)
    findings = [*table.remarks, *findings]
    values = []
    for index, column in columns:
        if column.order is not None or column.percent:
            raise InputError(
                f"column {table.headings[index]} of {table.name}",
                "an order or percent",
                "samples of a waveform",
            )
        numbers, note = table.numbers(index)
        values.append(column.factor(plain(table.headings[index])[1]) * numbers)
        findings += [note] if note else []
    samples = np.column_stack(values)
    start = record_map.start
    if time is None:
        if record_map.rate is None:
            raise InputError(table.name, "without a time column", "rate in the map, in samples per second")
        axis = TimeAxis(np.arange(samples.shape[0]), record_map.rate)
    else:
        seconds, stamp, note = record_seconds(table, time, record_map)
        findings += [note] if note else []
        axis = time_axis(seconds, table.row, record_map.rate)
        start = start if start is not None else stamp
    return Recording(
        samples=axis.spread(samples),
        rate=axis.rate,
        channels=tuple(column.channel for _, column in columns),
        start=start,
        findings=(*findings, *axis.findings),
    )


def time_column(table: Table, record_map: RecordMap) -> int | None:
    """Index of the time column; None where there is none.

    Raises
    ------
    InputError
        The map names one that is not there, or two headings are those of a time.
    """
    if record_map.time:
        if record_map.time not in table.headings:
            raise InputError("time", repr(record_map.time), "one of " + ", ".join(table.headings[:20]))
        return table.headings.index(record_map.time)
    found = [k for k, heading in enumerate(table.headings) if is_time(heading)]
    if len(found) > 1:
        both = " and ".join(table.headings[k] for k in found[:2])
        raise InputError(table.name, f"with two time columns, {both}", "time in the map, the heading of one")
    return found[0] if found else None


def chosen_columns(
    table: Table, record_map: RecordMap, time: int | None
) -> tuple[list[tuple[int, RecordColumn]], list[str]]:
    """Columns that are read, and sentences on those that are not.

    Raises
    ------
    InputError
        A channel of the map is not in the table, or none is recognised, or two are of one phase.
    """
    found: list[tuple[int, RecordColumn]] = []
    left: list[str] = []
    for name in record_map.columns:
        if name not in table.headings:
            raise InputError(
                f'channels."{name}"', f"not in {table.name}", "one of " + ", ".join(table.headings[:20])
            )
    for index, heading in enumerate(table.headings):
        if index == time:
            continue
        column = record_map.columns.get(heading) if record_map.columns else recognised(heading)
        if column is None:
            left.append(heading)
        else:
            found.append((index, column))
    if not found:
        raise InputError(
            table.name,
            "without a heading that is recognised: " + ", ".join(table.headings[:8]),
            "headings such as Ua (V), I L1 [A], time (s); or a map of the channels",
            wrong_kind=True,
        )
    taken: dict[tuple[str, str, int | None], str] = {}
    for index, column in found:
        key = (column.channel.quantity, column.channel.phase, column.order)
        other = taken.setdefault(key, table.headings[index])
        if list(table.headings).index(other) != index:
            what = f"{other} and {table.headings[index]}, both {key[0]} of phase {key[1]}"
            raise InputError(f"columns of {table.name}", what, "one column each")
    notes = [f"{table.name}: left out, as not recognised: {', '.join(left[:8])}"] if left else []
    return found, notes


def record_seconds(
    table: Table, index: int, record_map: RecordMap
) -> tuple[FloatArray, np.datetime64 | None, str]:
    """Times as seconds, the time of the first sample where they are dates, and a note.

    Raises
    ------
    InputError
        A time that is missing or cannot be read.
    """
    unit = record_map.time_unit or plain(table.headings[index])[1] or "s"
    if unit not in TIME_UNITS:
        raise InputError(f"unit of {table.headings[index]}", unit, "one of " + ", ".join(TIME_UNITS))
    numbers, note = table.numbers(index)
    if np.isfinite(numbers).any():
        if note:
            raise InputError("time", note, "a number in every row", message=note)
        return TIME_UNITS[unit] * numbers, None, ""
    stamps, zone_note = utc_times(table, index, record_map.zone)
    first = stamps[0]
    return (stamps - first) / np.timedelta64(1, "s"), first, zone_note


def utc_times(table: Table, index: int, zone: str) -> tuple[np.ndarray, str]:
    """Dates and times of a column in UTC, and a sentence where the zone was not stated.

    Raises
    ------
    InputError
        A cell is no date with time, or a local time that does not exist or exists twice.
    """
    column = table.columns[index]
    try:
        stamps = pd.to_datetime(
            column, format=None if pd.api.types.is_datetime64_any_dtype(column) else "ISO8601"
        )
    except (ValueError, TypeError) as problem:
        reason = str(problem).split(". ")[0]
        raise InputError(
            f"time in {table.name}", reason, "dates as 2026-03-02 10:00:00", wrong_kind=True
        ) from None
    if stamps.isna().any():
        k = int(np.flatnonzero(stamps.isna().to_numpy())[0])
        raise InputError(f"time in {table.row(k)}", None, "a date with time in every row", wrong_kind=True)
    if stamps.dt.tz is not None:
        return stamps.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy("datetime64[ns]"), ""
    if not zone:
        note = f"{table.name}: the time zone is not stated; the times are taken as UTC"
        return stamps.to_numpy("datetime64[ns]"), note
    try:
        placed = stamps.dt.tz_localize(zone, ambiguous="infer", nonexistent="raise")
    except ValueError as problem:
        raise InputError(
            f"time in {table.name}", f"in the zone {zone} ({problem})", "times that exist once, or UTC"
        ) from None
    return placed.dt.tz_convert("UTC").dt.tz_localize(None).to_numpy("datetime64[ns]"), ""
