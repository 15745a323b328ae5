"""Records larger than the memory is meant to be: binary COMTRADE and Parquet, read block by block."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from xlcalc.errors import InputError
from xlcalc.files.reading import read_bytes
from xlcalc.io.comtrade_record import (
    LARGEST_BYTES,
    MISSING_FLOAT,
    VALID,
    VALUE_BYTES,
    check_config,
    counted,
    decoded,
    read_columns,
    reader,
    record_start,
    stated_count,
)
from xlcalc.io.record_map import RecordMap, plain
from xlcalc.io.record_table import Table
from xlcalc.io.time_axis import MOST_MISSING, RATE_TOLERANCE, time_axis
from xlcalc.io.waveform_table import chosen_columns, record_seconds, time_column
from xlcalc.measurement.pieces import LongRecording
from xlcalc.spectrum import FloatArray

LONG_BYTES: Final = 256 << 20
"""Size of the data from which a record is read in pieces."""
BLOCK: Final = 1 << 17
_PROBED: Final = 1 << 16
_KINDS: Final = {"BINARY": "<i2", "BINARY32": "<i4", "FLOAT32": "<f4"}
_MISSING: Final = {"BINARY": -32_768, "BINARY32": -2_147_483_648}
_OLD_MISSING: Final = -1


def long_comtrade(path: Path, data: Path, record_map: RecordMap) -> LongRecording:
    """A binary COMTRADE record, whose .dat stays on the disk.

    Raises
    ------
    InputError
        As `xlcalc.io.comtrade_record.read_comtrade`; also data in ASCII, or several rates.
    """
    config, notes = decoded(read_bytes(path, LARGEST_BYTES, VALID), path)
    record = reader(path)(ignore_warnings=True)
    try:
        record.cfg.read(config)
    except Exception as problem:  # the package raises whatever a broken line happens to cause
        reason = f"not readable ({type(problem).__name__}: {problem})"
        raise InputError(path.name, reason, VALID, wrong_kind=True) from None
    cfg = record.cfg
    check_config(cfg, path)
    kind = str(cfg.ft).strip().upper()
    if kind not in VALUE_BYTES or len(cfg.sample_rates) > 1 or not float(cfg.sample_rates[0][0]) > 0.0:
        what = f"of {data.stat().st_size} bytes, in {kind} or with several rates"
        raise InputError(data.name, what, "binary data at one rate, where a record is so large")
    layout = _layout(cfg, kind)
    there = data.stat().st_size // layout.itemsize
    if not there:
        raise InputError(data.name, "without a whole row", f"rows of {layout.itemsize} bytes")
    notes += counted(there, cfg)
    size = min(there, stated_count(cfg))
    probe = _rows(data, layout, 0, min(size, _PROBED))
    first, last = int(probe["number"][0]), int(_rows(data, layout, size - 1, 1)["number"][0])
    if not first <= last <= first + (MOST_MISSING + 1) * size + 100:
        valid = "ascending numbers; does the number of channels in the configuration fit the data"
        raise InputError(f"sample number of the last row of {data.name}", f"{last} after {first}", valid)
    rate = float(cfg.sample_rates[0][0])
    _check_rate(probe, rate, cfg, path)
    columns, findings = read_columns(cfg, record_map, path)
    if last - first + 1 > size:
        findings.append(f"{path.name}: {last - first + 1 - size} sample numbers are missing")
    start, zone_notes = record_start(cfg, path)
    missing = _OLD_MISSING if str(cfg.rev_year).strip() == "1991" else _MISSING.get(kind)

    def blocks() -> Iterator[FloatArray]:
        expected = first
        for begin in range(0, size, BLOCK):
            block = _rows(data, layout, begin, min(BLOCK, size - begin))
            places = block["number"].astype(np.int64) - expected
            if places[0] < 0 or np.any(np.diff(places) < 1):
                raise InputError(
                    f"sample numbers of {data.name} after row {begin + 1}",
                    "not ascending",
                    "ascending numbers; does the number of channels in the configuration fit the data",
                )
            yield from _spread(places, _scaled(block["values"], columns, cfg, kind, missing))
            expected = int(block["number"][-1]) + 1

    return LongRecording(
        pieces=blocks,
        count=last - first + 1,
        rate=rate,
        channels=tuple(channel for _, _, channel in columns),
        start=start,
        findings=(*(f"{path.name}: {note}" for note in notes), *findings, *zone_notes),
    )


def _layout(cfg: Any, kind: str) -> np.dtype[Any]:
    return np.dtype(
        [
            ("number", "<u4"),
            ("stamp", "<u4"),
            ("values", _KINDS[kind], (cfg.analog_count,)),
            ("status", "V1", (2 * -(-cfg.status_count // 16),)),
        ]
    )


def _rows(data: Path, layout: np.dtype[Any], begin: int, count: int) -> Any:
    """Rows from the disk; a mapped file would count as memory of the process as far as it was read."""
    return np.fromfile(data, dtype=layout, count=count, offset=begin * layout.itemsize)


def _check_rate(rows: Any, rate: float, cfg: Any, path: Path) -> None:
    """The stated rate against the time stamps of the first rows."""
    seconds = rows["stamp"].astype(float) * cfg.time_base * cfg.timemult
    known = rows["stamp"] != 0xFFFFFFFF
    if known.sum() < 10 or not np.ptp(seconds[known]) > 0.0:
        return
    slope = float(np.polyfit(rows["number"][known].astype(float), seconds[known], 1)[0])
    if slope <= 0.0 or abs(rate * slope - 1.0) > RATE_TOLERANCE:
        valid = f"{1.0 / slope:.6g}, which the time stamps give" if slope > 0.0 else "ascending time stamps"
        raise InputError(f"rate in {path.name}", f"{rate:g} samples per second", valid)


def _scaled(values: Any, columns: Any, cfg: Any, kind: str, missing: int | None) -> FloatArray:
    found = np.empty((values.shape[0], len(columns)))
    for place, (index, factor, _) in enumerate(columns):
        raw = values[:, index]
        lost = raw <= MISSING_FLOAT if kind == "FLOAT32" else raw == missing
        channel = cfg.analog_channels[index]
        found[:, place] = factor * (channel.a * raw.astype(float) + channel.b)
        found[lost, place] = np.nan
    return found


def _spread(places: Any, samples: FloatArray) -> Iterator[FloatArray]:
    """Samples at their places, NaN between, in blocks that are not much larger."""
    if int(places[-1]) + 1 == samples.shape[0]:
        yield samples
        return
    edges = [0, *(np.flatnonzero(np.diff(places) > BLOCK) + 1).tolist(), samples.shape[0]]
    at = 0
    for begin, end in pairwise(edges):
        while int(places[begin]) - at > BLOCK:
            yield np.full((BLOCK, samples.shape[1]), np.nan)
            at += BLOCK
        whole = np.full((int(places[end - 1]) + 1 - at, samples.shape[1]), np.nan)
        whole[places[begin:end] - at] = samples[begin:end]
        yield whole
        at = int(places[end - 1]) + 1


def long_parquet(path: Path, record_map: RecordMap) -> LongRecording:
    """Waveforms in a Parquet file, of which only the columns of channels are read, block by block.

    Raises
    ------
    InputError
        As `xlcalc.io.waveform_table.read_waveforms`.
    """
    try:
        import pyarrow.parquet as parquet
    except ImportError:
        reason = "a Parquet file, which needs: pip install 'xlcalc[parquet]'"
        raise InputError(path.name, reason, "a .csv or .xlsx file", wrong_kind=True) from None
    try:
        file = parquet.ParquetFile(path)
        rows = file.metadata.num_rows
        headings = tuple(name for name in file.schema_arrow.names if not name.startswith("__index"))
        probe = next(file.iter_batches(batch_size=_PROBED, columns=list(headings))).to_pandas()
    except Exception as problem:  # pyarrow raises many kinds for damaged files
        raise InputError(path.name, f"no sound Parquet file ({problem})", "a Parquet file") from None
    head = Table(
        name=path.name, headings=headings, columns=tuple(probe[name] for name in headings), first_row=1
    )
    time = time_column(head, record_map)
    columns, findings = chosen_columns(head, record_map, time)
    if any(column.order is not None or column.percent for _, column in columns):
        raise InputError(path.name, "a log of intervals", "samples of waveforms, where a file is so large")
    if time is None and record_map.rate is None:
        raise InputError(path.name, "without a time column", "rate in the map, in samples per second")
    names = [headings[index] for index, _ in columns]
    factors = np.array([column.factor(plain(headings[index])[1]) for index, column in columns])
    start, rate, count = record_map.start, record_map.rate or 0.0, rows
    if time is not None:
        seconds, stamp, note = record_seconds(head, time, record_map)
        findings += [note] if note else []
        rate = time_axis(seconds, head.row, record_map.rate).rate
        start = start if start is not None else stamp
        count = _position(_last_time(file, headings[time]), head, time, record_map, rate) + 1
        if not 0 < count <= (MOST_MISSING + 1) * rows + 100:
            raise InputError(f"time in the last row of {path.name}", count, "ascending times, evenly spaced")
        if count > rows:
            findings.append(f"{path.name}: {count - rows} samples are missing by the times of the rows")
    wanted = names + ([] if time is None else [headings[time]])

    def blocks() -> Iterator[FloatArray]:
        expected = 0
        for batch in parquet.ParquetFile(path).iter_batches(batch_size=BLOCK, columns=wanted):
            frame = batch.to_pandas()
            samples = factors * frame[names].to_numpy(float)
            places = np.arange(len(frame))
            if time is not None:
                places = _position(frame[headings[time]], head, time, record_map, rate) - expected
                if places[0] < 0 or np.any(np.diff(places) < 1):
                    raise InputError(f"time in {path.name}", "not ascending", "ascending times, each once")
            yield from _spread(places, samples)
            expected += int(places[-1]) + 1

    return LongRecording(
        pieces=blocks,
        count=count,
        rate=rate,
        channels=tuple(column.channel for _, column in columns),
        start=start,
        findings=tuple(findings),
    )


def _last_time(file: Any, name: str) -> Any:
    group = file.read_row_group(file.metadata.num_row_groups - 1, columns=[name])
    return group.column(0).to_pandas().iloc[-1]


def _position(times: Any, head: Table, index: int, record_map: RecordMap, rate: float) -> Any:
    """Number of a sample, or of each of a column, by its time."""
    one = not isinstance(times, pd.Series)
    first = head.columns[index].iloc[0]
    both = pd.Series([first, times]) if one else pd.concat([pd.Series([first]), times], ignore_index=True)
    columns = tuple(both if k == index else column for k, column in enumerate(head.columns))
    table = Table(name=head.name, headings=head.headings, columns=columns, first_row=0)
    seconds, _, _ = record_seconds(table, index, record_map)
    places = np.round((seconds[1:] - seconds[0]) * rate).astype(np.int64)
    return int(places[0]) if one else places
