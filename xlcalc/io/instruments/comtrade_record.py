"""COMTRADE records (IEEE C37.111-1991, -1999, -2013) through the package `comtrade`, checked by us.

The package reads several broken files without an error and fills missing samples with zeros. What it is given
is therefore compared with the configuration: the number of samples and of values in each, their numbers in
order, their time stamps against the stated rate.
"""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.files.reading import read_bytes
from xlcalc.io.instruments.record_map import RecordColumn, RecordMap, phase_name, recognised
from xlcalc.io.instruments.time_axis import MOST_MISSING, RATE_TOLERANCE, stamps_against, time_axis
from xlcalc.measurement.recording import CURRENT, VOLTAGE, Channel, Recording

LARGEST_BYTES: Final = 1 << 30
VALID: Final = "a COMTRADE record (.cfg with .dat, or .cff)"
NEEDS: Final = "to read COMTRADE: pip install 'xlcalc[measurement]'"
VALUE_BYTES: Final = {"BINARY": 2, "BINARY32": 4, "FLOAT32": 4}
SECTION: Final = re.compile(
    rb"^--- *file type: *([a-z]+) *([a-z0-9]*) *:? *([0-9]*) *---[ \t]*\r?\n", re.IGNORECASE | re.MULTILINE
)
_OFFSET: Final = re.compile(r"([+-]?)(\d{1,2})(?:h(\d{2}))?$")
NO_STAMP: Final = 0xFFFFFFFF
MISSING_FLOAT: Final = -3.4e38
"""Below it a 32-bit float is the mark of a missing sample (FF7FFFFF hex in the 2013 edition; from memory)."""


def read_comtrade(path: Path, record_map: RecordMap) -> Recording:
    """The recording in a COMTRADE record.

    Values of the secondary side are brought to the primary by the ratio in the configuration, or in the map.
    Samples that the file lacks are NaN.

    Parameters
    ----------
    path : Path
        .cfg, whose .dat lies beside it, or .cff.
    record_map : RecordMap
        Channels by their name; without any, those of which the configuration says quantity and phase.

    Raises
    ------
    InputError
        The package is not installed; the record cannot be read or contradicts its configuration; or no
        channel is recognised.
    """
    config, data, notes = _parts(path)
    record = reader(path)(ignore_warnings=True, use_numpy_arrays=True, use_double_precision=True)
    try:
        record.cfg.read(config)
        check_config(record.cfg, path)
        rows = (
            _ascii_rows(record.cfg, data, path) if _is_ascii(record.cfg) else _binary_rows(record.cfg, data)
        )
        config = _with_count(config, record.cfg, rows.count)
        record.read(config, rows.data)
    except InputError:
        raise
    except Exception as problem:  # the package raises whatever a broken line happens to cause
        reason = f"not readable ({type(problem).__name__}: {problem})"
        raise InputError(path.name, reason, VALID, wrong_kind=True) from None
    return _recording(record, rows, path, record_map, [*notes, *rows.notes])


def reader(path: Path) -> Any:
    """The class of the package `comtrade`, or a line on what to install."""
    try:
        from comtrade import Comtrade
    except ImportError:
        raise InputError(str(path), "a COMTRADE record", NEEDS, wrong_kind=True) from None
    return Comtrade


@dataclass(frozen=True)
class _Rows:
    """Whole rows of the data, their numbers and time stamps, and sentences on the rest."""

    data: str | bytes
    numbers: npt.NDArray[np.int64]
    stamps: FloatArray
    notes: tuple[str, ...]

    @property
    def count(self) -> int:
        return int(self.numbers.size)


def data_beside(path: Path) -> Path | None:
    """The .dat of a .cfg, whatever the case of its letters."""
    if not path.is_file():
        return None
    wanted = f"{path.stem}.dat".casefold()
    return next((p for p in path.parent.iterdir() if p.name.casefold() == wanted), None)


def _parts(path: Path) -> tuple[str, bytes, list[str]]:
    """Configuration and data."""
    content = read_bytes(path, LARGEST_BYTES, VALID)
    if path.suffix.casefold() != ".cff":
        beside = data_beside(path)
        if beside is None:
            raise InputError(path.name, "without its data", f"{path.stem}.dat in the same folder")
        text, notes = decoded(content, path)
        return text, read_bytes(beside, LARGEST_BYTES, VALID), notes
    found = list(SECTION.finditer(content))
    ends = [*(section.start() for section in found[1:]), len(content)]
    parts = {s[1].upper(): (s, content[s.end() : end]) for s, end in zip(found, ends, strict=True)}
    if b"CFG" not in parts or b"DAT" not in parts:
        raise InputError(path.name, "without the sections CFG and DAT", VALID, wrong_kind=True)
    header, data = parts[b"DAT"]
    if header[2].upper() not in (b"", b"ASCII"):
        data = content[header.end() :]
    text, notes = decoded(parts[b"CFG"][1], path)
    size = int(header[3]) if header[3] else len(data)
    if size != len(data):
        notes.append(f"{path.name}: the data section has {len(data)} bytes of the {size} that it states")
    return text, data, notes


def decoded(content: bytes, path: Path) -> tuple[str, list[str]]:
    """Text of a configuration, and a sentence where its encoding was guessed."""
    try:
        text, notes = content.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
        notes = [f"{path.name} is no UTF-8 text; read as Windows-1252"]
    if "\x00" in text:
        raise InputError(path.name, "no text (it holds NUL characters)", VALID, wrong_kind=True)
    return text, notes


def _is_ascii(cfg: Any) -> bool:
    return str(cfg.ft).strip().upper() == "ASCII"


def check_config(cfg: Any, path: Path) -> None:
    """Refuse a configuration that contradicts itself.

    Raises
    ------
    InputError
        Its kind of data, channels, conversions or ratios cannot be.
    """
    kind = str(cfg.ft).strip().upper()
    if kind != "ASCII" and kind not in VALUE_BYTES:
        raise InputError(f"data file type in {path.name}", cfg.ft, "ASCII, " + ", ".join(VALUE_BYTES))
    if cfg.channels_count != cfg.analog_count + cfg.status_count:
        parts = f"{cfg.analog_count} analogue and {cfg.status_count} status"
        what = f"{cfg.channels_count} channels, of which {parts}"
        raise InputError(path.name, what, "numbers that add up")
    if not cfg.analog_count:
        raise InputError(path.name, "without analogue channels", "a record of voltages or currents")
    for channel in cfg.analog_channels:
        if not (math.isfinite(channel.a) and math.isfinite(channel.b)) or channel.a == 0.0:
            valid = "finite numbers, the multiplier not 0"
            raise InputError(
                f"conversion of {channel.name} in {path.name}", f"{channel.a}, {channel.b}", valid
            )
        ratio = _ratio(channel)
        if ratio is None:
            what = f"{channel.primary:g}/{channel.secondary:g}"
            raise InputError(f"ratio of {channel.name} in {path.name}", what, "two numbers above 0")


def _ratio(channel: Any) -> float | None:
    """To the primary side; None where the two numbers are no ratio."""
    if str(channel.pors).strip().upper() != "S":
        return 1.0
    if not (channel.primary > 0.0 and channel.secondary > 0.0):
        return None
    return float(channel.primary / channel.secondary)


def stated_count(cfg: Any) -> int:
    """Samples that a configuration states."""
    return int(cfg.sample_rates[-1][1])


def counted(found: int, cfg: Any) -> list[str]:
    """A sentence where the data have another number of rows than the configuration states."""
    stated = stated_count(cfg)
    if found < stated:
        return [f"the data file is truncated: {found} of {stated} samples are there"]
    if found > stated:
        return [f"the data file has {found} samples; the {found - stated} beyond those stated were left out"]
    return []


def _ascii_rows(cfg: Any, data: bytes, path: Path) -> _Rows:
    lines = data.replace(b"\x1a", b"").decode("latin-1").splitlines()
    while lines and not lines[-1].strip():
        lines.pop()
    width = 2 + cfg.analog_count + cfg.status_count
    cells = [[cell.strip() for cell in line.split(",")] for line in lines]
    notes = []
    if cells and len(cells[-1]) != width and len(cells) > 1:
        notes.append(f"row {len(cells)} of the data breaks off and was left out")
        cells.pop()
    for number, row in enumerate(cells, start=1):
        if len(row) != width:
            valid = f"{width}: number, time, {cfg.analog_count} analogue, {cfg.status_count} status"
            raise InputError(f"row {number} of the data of {path.name}", f"of {len(row)} values", valid)
    if not cells:
        raise InputError(path.name, "without data", "rows of samples", wrong_kind=True)
    notes += counted(len(cells), cfg)
    cells = cells[: stated_count(cfg)]
    blank = "" if str(cfg.rev_year).strip() == "1991" else "99999"
    analog = slice(2, 2 + cfg.analog_count)
    for row in cells:
        row[analog] = [blank if cell in ("", "99999") else cell for cell in row[analog]]
    return _Rows(
        "\n".join(",".join(row) for row in cells),
        np.array([int(row[0]) for row in cells], dtype=np.int64),
        np.array([float(row[1]) if row[1] else np.nan for row in cells]),
        tuple(notes),
    )


def _binary_rows(cfg: Any, data: bytes) -> _Rows:
    size = VALUE_BYTES[str(cfg.ft).strip().upper()] * cfg.analog_count + 2 * math.ceil(cfg.status_count / 16)
    layout = np.dtype([("number", "<u4"), ("stamp", "<u4"), ("values", f"V{size}")])
    found, rest = divmod(len(data), layout.itemsize)
    if not found:
        raise InputError("data", f"of {len(data)} bytes", f"rows of {layout.itemsize} bytes", wrong_kind=True)
    notes = counted(found, cfg)
    if rest:
        notes.append(f"{rest} bytes after the last whole row of {layout.itemsize} bytes were left out")
    count = min(found, stated_count(cfg))
    rows = np.frombuffer(data[: count * layout.itemsize], dtype=layout)
    stamps = np.where(rows["stamp"] == NO_STAMP, np.nan, rows["stamp"].astype(float))
    return _Rows(data[: count * layout.itemsize], rows["number"].astype(np.int64), stamps, tuple(notes))


def _with_count(config: str, cfg: Any, count: int) -> str:
    """The configuration with the number of samples that are there: the package would add zeros."""
    if count == stated_count(cfg):
        return config
    lines = config.splitlines()
    first = 2 + cfg.channels_count + 2
    for line in range(first, first + cfg.nrates):
        rate, end = lines[line].split(",")[:2]
        lines[line] = f"{rate},{min(int(end), count)}"
    last = first + cfg.nrates - 1
    lines[last] = f"{lines[last].split(',')[0]},{count}"
    return "\n".join(lines)


def _recording(record: Any, rows: _Rows, path: Path, record_map: RecordMap, notes: list[str]) -> Recording:
    cfg = record.cfg
    steps = np.diff(rows.numbers)
    if np.any(steps < 1):
        k = int(np.flatnonzero(steps < 1)[0]) + 1
        raise InputError(
            f"sample number of row {k + 1} of the data of {path.name}",
            f"{rows.numbers[k]} after {rows.numbers[k - 1]}",
            "ascending numbers; does the number of channels in the configuration fit the data",
        )
    if rows.numbers[-1] - rows.numbers[0] > (MOST_MISSING + 1) * rows.count + 100:
        k = int(np.argmax(steps)) + 1
        raise InputError(
            f"sample number of row {k + 1} of the data of {path.name}",
            f"{rows.numbers[k]} after {rows.numbers[k - 1]}",
            "consecutive numbers; does the number of channels in the configuration fit the data",
        )
    columns, findings = read_columns(cfg, record_map, path)
    values = []
    for index, factor, _ in columns:
        raw = np.array(record.analog[index][: rows.count], dtype=float)
        channel = cfg.analog_channels[index]
        if str(cfg.ft).strip().upper() == "FLOAT32":
            raw[(raw - channel.b) / channel.a <= MISSING_FLOAT] = np.nan
        if np.any(np.isnan(raw)):
            lost = int(np.isnan(raw).sum())
            findings.append(f"{path.name}: {lost} samples of {channel.name} are marked as missing")
        values.append(factor * raw)
    samples = np.column_stack(values)
    part, rate, rate_notes = _rate(cfg, rows, path)
    numbers = rows.numbers[part]
    positions = numbers - numbers[0]
    whole = np.full((int(positions[-1]) + 1, samples.shape[1]), np.nan)
    whole[positions] = samples[part]
    if whole.shape[0] > positions.size:
        lost = whole.shape[0] - positions.size
        before = int(numbers[np.argmax(np.diff(numbers) > 1)])
        rate_notes.append(f"{path.name}: {lost} sample numbers are missing, the first after {before}")
    start, zone_notes = record_start(cfg, path)
    named = [f"{path.name}: {note}" for note in notes]
    return Recording(
        samples=whole,
        rate=rate,
        channels=tuple(channel for _, _, channel in columns),
        start=start,
        findings=(*named, *findings, *rate_notes, *zone_notes),
    )


def read_columns(
    cfg: Any, record_map: RecordMap, path: Path
) -> tuple[list[tuple[int, float, Channel]], list[str]]:
    """Index, factor and description of the channels that are read."""
    names = [str(channel.name).strip() for channel in cfg.analog_channels]
    for name in record_map.columns:
        if name not in names:
            raise InputError(f'channels."{name}"', f"not in {path.name}", "one of " + ", ".join(names[:20]))
    found: list[tuple[int, float, Channel]] = []
    left, skewed = [], []
    taken: dict[tuple[str, str], str] = {}
    for index, (name, channel) in enumerate(zip(names, cfg.analog_channels, strict=True)):
        unit = str(channel.uu).strip()
        column = record_map.columns.get(name) if record_map.columns else recognised(name, unit)
        if column is None and not record_map.columns:
            quantity = {"V": VOLTAGE, "A": CURRENT}.get(unit[-1:])
            phase = phase_name(str(channel.ph))
            if quantity and phase:
                column = RecordColumn(channel=Channel(name, quantity, phase))
        if column is None:
            left.append(name)
            continue
        key = (column.channel.quantity, column.channel.phase)
        if key in taken:
            what = f"{taken[key]} and {name}, both {key[0]} of phase {key[1]}"
            raise InputError(f"channels of {path.name}", what, "a map that names those that are meant")
        taken[key] = name
        found.append((index, column.factor(unit, _ratio(channel) or 1.0), column.channel))
        if channel.skew:
            skewed.append(f"{name} {channel.skew:g} us")
    if not found:
        what = "without a channel that is recognised: " + ", ".join(names[:8])
        raise InputError(path.name, what, "a map of the channels", wrong_kind=True)
    notes = [f"{path.name}: left out, as not recognised: {', '.join(left[:8])}"] if left else []
    if skewed:
        notes.append(
            f"{path.name}: channels are skewed in time, which is not corrected: {', '.join(skewed[:8])}"
        )
    return found, notes


def _rate(cfg: Any, rows: _Rows, path: Path) -> tuple[slice, float, list[str]]:
    """Rows of one rate, that rate, and notes."""
    seconds = rows.stamps * cfg.time_base * cfg.timemult
    known = np.flatnonzero(np.isfinite(seconds))
    stamped = known.size > 1 and float(np.ptp(seconds[known])) > 0.0
    rates = [(float(rate), int(end)) for rate, end in cfg.sample_rates]
    if all(rate == 0.0 for rate, _ in rates):
        if known.size < seconds.size or not stamped:
            raise InputError(path.name, "without a rate and without time stamps", "one of the two")
        axis = time_axis(seconds, lambda k: f"row {k + 1} of the data of {path.name}")
        return slice(None), axis.rate, list(axis.findings)
    bounds = [0, *(min(end, rows.count) for _, end in rates)]
    parts = [slice(a, b) for a, b in pairwise(bounds)]
    longest = max(range(len(parts)), key=lambda k: parts[k].stop - parts[k].start)
    part, rate = parts[longest], rates[longest][0]
    notes = []
    left = rows.count - (part.stop - part.start)
    if left > 0:
        notes.append(
            f"{path.name}: several rates; {left} samples of other rates than {rate:g} Hz were left out"
        )
    inside = known[(known >= part.start) & (known < part.stop)]
    if stamped and inside.size > 10:
        slope = float(np.polyfit(rows.numbers[inside], seconds[inside], 1)[0])
        if slope <= 0.0 or abs(rate * slope - 1.0) > RATE_TOLERANCE:
            valid = (
                f"{1.0 / slope:.6g}, which the time stamps give" if slope > 0.0 else "ascending time stamps"
            )
            raise InputError(f"rate in {path.name}", f"{rate:g} samples per second", valid)
        notes += stamps_against(rate, slope, path.name)
    return part, rate, notes


def record_start(cfg: Any, path: Path) -> tuple[np.datetime64 | None, list[str]]:
    """Time of the first sample in UTC."""
    local = cfg.start_timestamp
    if local.year < 100:
        if local.year <= 1:
            return None, []
        local = local.replace(year=local.year + (1900 if local.year >= 70 else 2000))
    found = _OFFSET.match(str(cfg._time_code).strip())
    if str(cfg.rev_year).strip() != "2013" or found is None:
        return np.datetime64(local, "ns"), [f"{path.name}: the time zone is not stated; taken as UTC"]
    minutes = 60 * int(found[2]) + int(found[3] or 0)
    ahead = datetime.timedelta(minutes=-minutes if found[1] == "-" else minutes)
    return np.datetime64(local - ahead, "ns"), []
