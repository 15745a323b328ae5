"""Waveforms in Parquet and text files larger than the memory is meant to be, read block by block."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.io.instruments.line_blocks import Lines
from xlcalc.io.instruments.record_map import RecordMap, plain
from xlcalc.io.instruments.record_table import BLANK, Table, frame_of, has_comma, layout_of
from xlcalc.io.instruments.time_axis import BLOCK, MOST_MISSING, spread, time_axis
from xlcalc.io.instruments.waveform_table import chosen_columns, record_seconds, time_column
from xlcalc.measurement.pieces import LongRecording

_PROBED: Final = 1 << 16
_HEAD_BYTES: Final = 1 << 20
_SAME: Final = 1e-6
"""Share of the rows by which the times of the first and last row may count others: rounded, not missing."""

Tables = Callable[[Sequence[int]], Iterator[Table]]
"""Consecutive parts of a table, of which only the columns at some places are filled."""


def long_parquet(path: Path, record_map: RecordMap) -> LongRecording:
    """Waveforms in a Parquet file, of which only the columns of channels are read.

    Raises
    ------
    InputError
        As `xlcalc.io.instruments.waveform_table.read_waveforms`.
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
        ending = file.read_row_group(file.metadata.num_row_groups - 1, columns=list(headings))
        last = ending.slice(ending.num_rows - 1).to_pandas()
    except Exception as problem:  # pyarrow raises many kinds for damaged files
        raise InputError(path.name, f"no sound Parquet file ({problem})", "a Parquet file") from None

    def table(frame: pd.DataFrame, at: int) -> Table:
        nothing = pd.Series(dtype=float)
        columns = tuple(frame.get(name, nothing) for name in headings)
        return Table(name=path.name, headings=headings, columns=columns, first_row=1 + at)

    def tables(wanted: Sequence[int]) -> Iterator[Table]:
        at, names = 0, [headings[k] for k in wanted]
        for batch in parquet.ParquetFile(path).iter_batches(batch_size=BLOCK, columns=names):
            yield table(batch.to_pandas(), at)
            at += batch.num_rows

    found = _long(table(probe, 0), table(last, rows - 1), rows, tables, record_map)
    if found is None:
        raise InputError(path.name, "a log of intervals", "samples of waveforms, where a file is so large")
    return found


def long_text(path: Path, record_map: RecordMap) -> LongRecording | None:
    """Waveforms in a text file of any delimiter; None where it holds a log of intervals.

    What is no number counts as missing, as the findings say.

    Raises
    ------
    InputError
        As `xlcalc.io.instruments.waveform_table.read_waveforms`; also text in UTF-16 or UTF-32.
    """
    with path.open("rb") as stream:
        start = stream.read(_HEAD_BYTES)
    start = start[: start.rfind(b"\n") + 1]
    if b"\x00" in start:
        valid = "UTF-8 or Windows-1252, where a file is so large"
        raise InputError(path.name, "no text in one of those (it holds NUL characters)", valid)
    remarks = [f"{path.name}: read in pieces; texts in place of numbers count as missing"]
    try:
        text = start.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = start.decode("cp1252", errors="replace")
        remarks.append(f"{path.name} is no UTF-8 text; read as Windows-1252")
    lines = text.split("\n")[:-1]
    layout = layout_of(lines, path.name)
    begin = sum(len(line) + 1 for line in start.split(b"\n")[: layout.first])
    body = Lines.of(path, begin)
    probe = frame_of(io.StringIO("\n".join(lines[layout.first :])), layout, path.name, dtype=str)
    comma = layout.delimiter != "," and has_comma(probe, path.name)

    def table(block: bytes, at: int) -> Table:
        frame = frame_of(
            io.BytesIO(block),
            layout,
            path.name,
            decimal="," if comma else ".",
            na_values=[*BLANK, *(word.upper() for word in BLANK), "NaN"],
            encoding="latin-1",
            low_memory=False,
        )
        return Table(
            name=path.name,
            headings=layout.headings,
            columns=tuple(frame[k] for k in range(layout.width)),
            first_row=layout.first + 1 + at,
            comma=comma,
            remarks=tuple(remarks),
        )

    def tables(wanted: Sequence[int]) -> Iterator[Table]:
        at = 0
        for block in body.blocks():
            part = table(block, at)
            yield part
            at += len(part.columns[0])

    rows = body.count()
    return _long(next(tables(())), table(body.last, rows - 1), rows, tables, record_map)


def _long(head: Table, last: Table, rows: int, tables: Tables, record_map: RecordMap) -> LongRecording | None:
    """The recording of a table of which `head` is the first part and `last` the last row."""
    time = time_column(head, record_map)
    columns, findings = chosen_columns(head, record_map, time)
    if any(column.order is not None or column.percent for _, column in columns):
        return None
    if time is None and record_map.rate is None:
        raise InputError(head.name, "without a time column", "rate in the map, in samples per second")
    wanted = [index for index, _ in columns]
    factors = np.array([column.factor(plain(head.headings[index])[1]) for index, column in columns])
    start, rate, count = record_map.start, record_map.rate or 0.0, rows
    findings = [*head.remarks, *findings]
    if time is not None:
        seconds, stamp, note = record_seconds(head, time, record_map)
        findings += [note] if note else []
        rate = time_axis(seconds, head.row, record_map.rate).rate
        start = start if start is not None else stamp
        lasting = float(_since(head, last, time, record_map)[0])
        if abs(lasting * rate - (rows - 1)) < 0.5 + _SAME * rows:
            rate = (rows - 1) / lasting
        count = round(lasting * rate) + 1
        if not 0 < count <= (MOST_MISSING + 1) * rows + 100:
            raise InputError(f"time in the last row of {head.name}", count, "ascending times, evenly spaced")
        if count > rows:
            findings.append(f"{head.name}: {count - rows} samples are missing by the times of the rows")

    def blocks() -> Iterator[FloatArray]:
        expected = 0
        for part in tables([*wanted, *([] if time is None else [time])]):
            samples = factors * np.column_stack([part.numbers(index)[0] for index in wanted])
            places: npt.NDArray[np.int64] = np.arange(len(samples))
            if time is not None:
                places = np.round(_since(head, part, time, record_map) * rate).astype(np.int64) - expected
                if places[0] < 0 or np.any(np.diff(places) < 1):
                    k = int(np.flatnonzero(np.diff(places, prepend=-1) < 1)[0])
                    raise InputError(f"time in {part.row(k)}", "not ascending", "ascending times, each once")
            yield from spread(places, samples)
            expected += int(places[-1]) + 1

    return LongRecording(
        pieces=blocks,
        count=count,
        rate=rate,
        channels=tuple(column.channel for _, column in columns),
        start=start,
        findings=tuple(findings),
    )


def _since(head: Table, part: Table, index: int, record_map: RecordMap) -> FloatArray:
    """Seconds of each row of a part after the first row of all."""
    first = pd.Series([head.columns[index].iloc[0]])
    both = pd.concat([first, part.columns[index]], ignore_index=True)
    columns = tuple(both if k == index else column for k, column in enumerate(part.columns))
    row = part.first_row - 1
    whole = Table(name=part.name, headings=part.headings, columns=columns, first_row=row, comma=part.comma)
    seconds, _, _ = record_seconds(whole, index, record_map)
    return np.asarray(seconds[1:] - seconds[0])
