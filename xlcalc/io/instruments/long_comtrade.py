"""COMTRADE records larger than the memory is meant to be: their data stay on the disk, read by blocks."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np
import numpy.typing as npt
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.files.reading import read_bytes
from xlcalc.io.instruments.comtrade_record import (
    LARGEST_BYTES,
    MISSING_FLOAT,
    NO_STAMP,
    SECTION,
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
from xlcalc.io.instruments.line_blocks import Lines, line_count
from xlcalc.io.instruments.record_map import RecordMap
from xlcalc.io.instruments.time_axis import BLOCK, MOST_MISSING, RATE_TOLERANCE, spread, stamps_against
from xlcalc.measurement.pieces import LongRecording

_PROBED: Final = 1 << 16
_HEAD: Final = 16 << 20
_KINDS: Final = {"BINARY": "<i2", "BINARY32": "<i4", "FLOAT32": "<f4"}
_MISSING: Final = {"BINARY": -32_768, "BINARY32": -2_147_483_648}
_OLD_MISSING: Final = -1
_NO_VALUE: Final = 99_999
_FIT: Final = "ascending numbers; does the number of channels in the configuration fit the data"
_ASCII: Final = re.compile(rb"^[ \t]*ascii[ \t]*\r?$", re.IGNORECASE | re.MULTILINE)

Rows = tuple[npt.NDArray[np.int64], FloatArray, FloatArray]
"""Numbers, time stamps and values (NaN where marked as missing) of some rows."""


class _Data(Protocol):
    """Rows of the data, before the conversion of each channel."""

    there: int
    notes: list[str]

    def blocks(self, count: int) -> Iterator[Rows]:
        """The first `count` rows."""

    def last_number(self, count: int) -> int:
        """Number of the sample in the last of `count` rows."""


def is_text(path: Path) -> bool:
    """Whether the beginning of a .cfg or .cff declares its data as ASCII."""
    with path.open("rb") as stream:
        return _ASCII.search(stream.read(1 << 20)) is not None


def long_comtrade(path: Path, data: Path, record_map: RecordMap) -> LongRecording:
    """A COMTRADE record whose data stay on the disk.

    Parameters
    ----------
    path : Path
        .cfg or .cff.
    data : Path
        The .dat, or the .cff itself.
    record_map : RecordMap

    Raises
    ------
    InputError
        As `xlcalc.io.instruments.comtrade_record.read_comtrade`; also data at several rates.
    """
    content, begin, size, parts_notes = _parts(path, data)
    config, notes = decoded(content, path)
    record = reader(path)(ignore_warnings=True)
    try:
        record.cfg.read(config)
    except Exception as problem:  # the package raises whatever a broken line happens to cause
        reason = f"not readable ({type(problem).__name__}: {problem})"
        raise InputError(path.name, reason, VALID, wrong_kind=True) from None
    cfg = record.cfg
    check_config(cfg, path)
    if len(cfg.sample_rates) > 1 or not float(cfg.sample_rates[0][0]) > 0.0:
        what = f"of {size} bytes with several rates, or none"
        raise InputError(data.name, what, "data at one rate, where a record is so large")
    kind = str(cfg.ft).strip().upper()
    rows: _Data = (
        _Ascii(data, begin, cfg) if kind not in VALUE_BYTES else _Binary(data, begin, size, cfg, kind)
    )
    if not rows.there:
        raise InputError(data.name, "without a whole row", "rows of samples", wrong_kind=True)
    notes += [*parts_notes, *rows.notes, *counted(rows.there, cfg)]
    count = min(rows.there, stated_count(cfg))
    numbers, stamps, _ = next(rows.blocks(min(count, _PROBED)))
    first, last = int(numbers[0]), rows.last_number(count)
    if not first <= last <= first + (MOST_MISSING + 1) * count + 100:
        raise InputError(f"sample number of the last row of {data.name}", f"{last} after {first}", _FIT)
    if np.any(np.diff(numbers) < 1):
        raise InputError(f"sample numbers of {data.name}", "not ascending", _FIT)
    rate = float(cfg.sample_rates[0][0])
    clock = _check_rate(numbers, stamps * cfg.time_base * cfg.timemult, rate, path)
    columns, findings = read_columns(cfg, record_map, path)
    findings += clock
    if last - first + 1 > count:
        findings.append(f"{path.name}: {last - first + 1 - count} sample numbers are missing")
    start, zone_notes = record_start(cfg, path)
    chosen = [index for index, _, _ in columns]
    factors = np.array([factor for _, factor, _ in columns])
    slope, offset = (factors * [getattr(cfg.analog_channels[k], part) for k in chosen] for part in "ab")

    def blocks() -> Iterator[FloatArray]:
        expected, done = first, 0
        for numbers, _, values in rows.blocks(count):
            places = numbers - expected
            if places[0] < 0 or np.any(np.diff(places) < 1):
                raise InputError(f"sample numbers of {data.name} after row {done + 1}", "not ascending", _FIT)
            yield from spread(places, slope * values[:, chosen] + offset)
            expected, done = int(numbers[-1]) + 1, done + numbers.size

    return LongRecording(
        pieces=blocks,
        count=last - first + 1,
        rate=rate,
        channels=tuple(channel for _, _, channel in columns),
        start=start,
        findings=(*(f"{path.name}: {note}" for note in notes), *findings, *zone_notes),
    )


def _parts(path: Path, data: Path) -> tuple[bytes, int, int, list[str]]:
    """Configuration; where the data begin in their file, and their bytes; notes."""
    if path != data:
        return read_bytes(path, LARGEST_BYTES, VALID), 0, data.stat().st_size, []
    with path.open("rb") as stream:
        head = stream.read(_HEAD)
    found = list(SECTION.finditer(head))
    places = {section[1].upper(): k for k, section in enumerate(found)}
    if not {b"CFG", b"DAT"} <= places.keys() or places[b"DAT"] != len(found) - 1:
        raise InputError(
            path.name, "without a section CFG, or with sections after DAT", VALID, wrong_kind=True
        )
    header, config = found[-1], found[places[b"CFG"]]
    after = min(section.start() for section in found if section.start() > config.start())
    size = path.stat().st_size - header.end()
    stated = int(header[3]) if header[3] else size
    notes = [f"the data section has {size} bytes of the {stated} that it states"] if size != stated else []
    return head[config.end() : after], header.end(), size, notes


class _Binary:
    """Rows of equal size; a mapped file would count as memory of the process as far as it was read."""

    def __init__(self, data: Path, begin: int, size: int, cfg: Any, kind: str) -> None:
        self._data, self._begin, self._kind = data, begin, kind
        self._layout = np.dtype(
            [
                ("number", "<u4"),
                ("stamp", "<u4"),
                ("values", _KINDS[kind], (cfg.analog_count,)),
                ("status", "V1", (2 * -(-cfg.status_count // 16),)),
            ]
        )
        old = str(cfg.rev_year).strip() == "1991"
        self._missing = _OLD_MISSING if old else _MISSING.get(kind)
        self.there, rest = divmod(size, self._layout.itemsize)
        left = f"{rest} bytes after the last whole row of {self._layout.itemsize} bytes were left out"
        self.notes = [left] if rest and self.there else []

    def _rows(self, begin: int, count: int) -> Any:
        offset = self._begin + begin * self._layout.itemsize
        return np.fromfile(self._data, dtype=self._layout, count=count, offset=offset)

    def last_number(self, count: int) -> int:
        return int(self._rows(count - 1, 1)["number"][0])

    def blocks(self, count: int) -> Iterator[Rows]:
        for begin in range(0, count, BLOCK):
            rows = self._rows(begin, min(BLOCK, count - begin))
            raw = rows["values"]
            lost = raw <= MISSING_FLOAT if self._kind == "FLOAT32" else raw == self._missing
            values = np.where(lost, np.nan, raw.astype(float))
            stamps = np.where(rows["stamp"] == NO_STAMP, np.nan, rows["stamp"].astype(float))
            yield rows["number"].astype(np.int64), stamps, values


class _Ascii:
    """Rows of text; a broken last one is left out."""

    def __init__(self, data: Path, begin: int, cfg: Any) -> None:
        self._name, self._analog = data.name, cfg.analog_count
        self._width = 2 + cfg.analog_count + cfg.status_count
        self._lines = Lines.of(data, begin)
        self.notes = []
        if self._lines.last.count(b",") != self._width - 1:
            self._lines = self._lines.without_last()
            self.notes = ["the last row of the data breaks off and was left out"]
        self.there = self._lines.count()

    def last_number(self, count: int) -> int:
        if count == self.there:
            return int(self._read(self._lines.last, self.there - 1)[0][-1])
        numbers = 0
        for found, _, _ in self.blocks(count):
            numbers = int(found[-1])
        return numbers

    def blocks(self, count: int) -> Iterator[Rows]:
        done = 0
        for block in self._lines.blocks():
            numbers, stamps, values = self._read(block, done)
            kept = min(numbers.size, count - done)
            yield numbers[:kept], stamps[:kept], values[:kept]
            done += numbers.size
            if done >= count:
                return

    def _read(self, block: bytes, first: int) -> Rows:
        if block.count(b",") != (self._width - 1) * line_count(block):
            for k, line in enumerate(block.splitlines(), start=first + 1):
                if (cells := line.count(b",") + 1) != self._width:
                    status = self._width - 2 - self._analog
                    valid = f"{self._width}: number, time, {self._analog} analogue, {status} status"
                    raise InputError(f"row {k} of the data of {self._name}", f"of {cells} values", valid)
        try:
            frame = pd.read_csv(
                io.BytesIO(block),
                header=None,
                usecols=list(range(2 + self._analog)),
                dtype=float,
                skipinitialspace=True,
                skip_blank_lines=False,
            )
            numbers = frame[0].to_numpy()
            if not np.all(np.isfinite(numbers)):
                raise ValueError("a sample without a number")
        except ValueError as problem:
            where = f"rows {first + 1} to {first + line_count(block)} of the data of {self._name}"
            raise InputError(where, str(problem).strip(), "numbers", wrong_kind=True) from None
        values = frame.iloc[:, 2:].to_numpy()
        return numbers.astype(np.int64), frame[1].to_numpy(), np.where(values == _NO_VALUE, np.nan, values)


def _check_rate(numbers: npt.NDArray[np.int64], seconds: FloatArray, rate: float, path: Path) -> list[str]:
    """The stated rate against the time stamps of the first rows."""
    known = np.isfinite(seconds)
    if known.sum() < 10 or not np.ptp(seconds[known]) > 0.0:
        return []
    slope = float(np.polyfit(numbers[known].astype(float), seconds[known], 1)[0])
    if slope <= 0.0 or abs(rate * slope - 1.0) > RATE_TOLERANCE:
        valid = f"{1.0 / slope:.6g}, which the time stamps give" if slope > 0.0 else "ascending time stamps"
        raise InputError(f"rate in {path.name}", f"{rate:g} samples per second", valid)
    return stamps_against(rate, slope, path.name)
