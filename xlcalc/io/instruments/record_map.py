"""What the channels of a record are: by a small TOML file, or by their headings."""

from __future__ import annotations

import datetime
import re
import zoneinfo
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.files.toml import read_toml
from xlcalc.measurement.recording import CURRENT, PHASES, UNITS, VOLTAGE, Channel

PERCENT: Final = "%"
SCALES: Final = {"k": 1e3, "": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6}
TIME_UNITS: Final = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6, "ns": 1e-9}
_PHASE_NAMES: Final = {
    **{phase: phase for phase in PHASES},
    "l1": "a",
    "l2": "b",
    "l3": "c",
    "1": "a",
    "2": "b",
    "3": "c",
    "r": "a",
    "s": "b",
    "t": "c",
    "0": "n",
    "l1l2": "ab",
    "l2l3": "bc",
    "l3l1": "ca",
    "12": "ab",
    "23": "bc",
    "31": "ca",
    "rs": "ab",
    "st": "bc",
    "tr": "ca",
    "an": "a",
    "bn": "b",
    "cn": "c",
    "neutral": "n",
    "l1n": "a",
    "l2n": "b",
    "l3n": "c",
    "1n": "a",
    "2n": "b",
    "3n": "c",
}
_UNIT: Final = re.compile(r"[(\[]\s*(?P<unit>[^)\]]*?)\s*[)\]]\s*$")
_QUANTITY: Final = r"(?P<quantity>u|v|i|volts?|voltage|amps?|current)"
_PHASE: Final = r"(?:phase )?(?P<phase>" + "|".join(sorted(_PHASE_NAMES, key=len, reverse=True)) + ")"
_ORDER: Final = (
    r"(?:(?:h|order|harmonic)[ ]?(?P<order>\d{1,3})|(?P<nth>\d{1,3})(?:st|nd|rd|th)(?: harmonic)?)"
)
_CHANNEL: Final = re.compile(rf"{_QUANTITY} ?{_PHASE}$")
_LOGGED: Final = (
    re.compile(rf"{_QUANTITY} ?{_PHASE} {_ORDER}$"),
    re.compile(rf"{_ORDER} {_QUANTITY} ?{_PHASE}$"),
    re.compile(rf"(?P<total>thd|tdd) ?{_QUANTITY} ?{_PHASE}$"),
    re.compile(rf"{_QUANTITY} ?{_PHASE} (?P<total>thd|tdd)$"),
)
_TIMES: Final = frozenset(
    ("t", "time", "times", "seconds", "time stamp", "timestamp", "date time", "datetime")
)
_FLAGS: Final = frozenset(("flag", "flagged", "flags"))


@dataclass(frozen=True, kw_only=True)
class RecordColumn:
    """One column of a record.

    Parameters
    ----------
    channel : Channel
        What it holds.
    scale : float, optional
        From the number in the file to V, A or percent; None where only the file itself states its unit.
    ratio : float, optional
        Of the transformer, primary over secondary; None where none is stated.
    sign : int
        1 or -1.
    order : int, optional
        Harmonic order in a log of intervals; 0 for the total distortion.
    percent : bool
        The values are percent.
    """

    channel: Channel
    scale: float | None = None
    ratio: float | None = None
    sign: int = 1
    order: int | None = None
    percent: bool = False

    def factor(self, unit: str = "", ratio: float = 1.0) -> float:
        """What a number in the file is multiplied by.

        Parameters
        ----------
        unit : str
            That the file states.
        ratio : float
            That the file states; what the map states goes before both.

        Raises
        ------
        InputError
            The unit is none of the quantity.
        """
        scale = self.scale
        if scale is None:
            scale = unit_scale(unit or self.channel.unit, self.channel.quantity)
        if scale is None:
            name, valid = (
                self.channel.name,
                f"{self.channel.unit}, with k, m or u before it; or unit in the map",
            )
            raise InputError(f"unit of {name}", unit, valid)
        return self.sign * scale * (ratio if self.ratio is None else self.ratio)


@dataclass(frozen=True, kw_only=True)
class RecordMap:
    """What a record leaves open about itself.

    Parameters
    ----------
    columns : mapping of str to RecordColumn
        By heading or channel name; all columns that are wanted. Empty: by their headings.
    rate : float, optional
        Samples per second of a file without a time column.
    time : str
        Heading of the time column; found by its name unless given.
    time_unit : str
        Of that column; by its heading, else s, unless given.
    zone : str
        Time zone of local time stamps, such as Europe/Vienna; UTC unless given.
    start : datetime64, optional
        Time of the first sample, UTC.
    """

    columns: Mapping[str, RecordColumn] = field(default_factory=dict)
    rate: float | None = None
    time: str = ""
    time_unit: str = ""
    zone: str = ""
    start: np.datetime64 | None = None


def read_record_map(path: Path) -> RecordMap:
    """The map in a TOML file.

    Its tables are ``[channels."heading"]`` with quantity (voltage, current), phase (a, b, c, n, ab, bc, ca),
    and where they are needed unit (V, kV, mV, A, kA, mA, %), ratio (of the transformer, primary over
    secondary, of values on the secondary side), sign (1 or -1) and, in a log of intervals, order (0 for the
    total distortion). Beside them: rate, time, time_unit, time_zone, start.

    Raises
    ------
    InputError
        No such file, an unknown name, or a value outside its range; names the file and the table.
    """
    tables = read_toml(path)
    known = {"channels", "rate", "time", "time_unit", "time_zone", "start"}
    unknown = sorted(set(tables) - known)
    if unknown:
        raise InputError(f"{path.name}", f"with the unknown name {unknown[0]!r}", ", ".join(sorted(known)))
    channels = tables.get("channels", {})
    if not isinstance(channels, dict):
        raise InputError(f"channels in {path.name}", "no table", '[channels."heading"] for each channel')
    rate = tables.get("rate")
    unit, zone = str(tables.get("time_unit", "")), str(tables.get("time_zone", ""))
    if unit and unit not in TIME_UNITS:
        raise InputError(f"time_unit in {path.name}", unit, "one of " + ", ".join(TIME_UNITS))
    return RecordMap(
        columns={name: _mapped(name, table, path.name) for name, table in channels.items()},
        rate=None if rate is None else number(f"rate in {path.name}", rate, above=0),
        time=str(tables.get("time", "")),
        time_unit=unit,
        zone=checked_zone(zone, path.name),
        start=_start(tables.get("start"), path.name),
    )


def checked_zone(zone: str, where: str) -> str:
    """A time zone that is known, or an empty text."""
    if zone:
        try:
            zoneinfo.ZoneInfo(zone)
        except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
            valid = "a name such as UTC or Europe/Vienna"
            raise InputError(f"time_zone in {where}", zone, valid, wrong_kind=True) from None
    return zone


def _start(value: Any, where: str) -> np.datetime64 | None:
    if value is None:
        return None
    if not isinstance(value, datetime.datetime) or value.tzinfo is None:
        raise InputError(f"start in {where}", value, "a time with its zone, such as 2026-03-02T10:00:00Z")
    return np.datetime64(value.astimezone(datetime.UTC).replace(tzinfo=None), "ns")


def _mapped(name: str, table: Any, where: str) -> RecordColumn:
    place = f'channels."{name}" in {where}'
    known = ("quantity", "phase", "unit", "ratio", "sign", "order")
    if not isinstance(table, dict):
        raise InputError(place, "no table", "quantity and phase")
    unknown = [key for key in table if key not in known]
    if unknown:
        raise InputError(place, f"with the unknown name {unknown[0]!r}", "one of " + ", ".join(known))
    quantity = str(table.get("quantity", ""))
    if quantity not in UNITS:
        raise InputError(f"quantity of {place}", quantity or None, "voltage or current", wrong_kind=True)
    phase = str(table.get("phase", ""))
    if phase not in PHASES:
        raise InputError(f"phase of {place}", phase or None, "one of " + ", ".join(PHASES), wrong_kind=True)
    unit = str(table.get("unit", ""))
    scale = unit_scale(unit, quantity) if unit else None
    if unit and scale is None:
        raise InputError(f"unit of {place}", unit, f"{UNITS[quantity]}, with k, m or u before it, or %")
    sign = table.get("sign", 1)
    if sign not in (1, -1):
        raise InputError(f"sign of {place}", sign, "1 or -1")
    ratio = table.get("ratio")
    order = table.get("order")
    return RecordColumn(
        channel=Channel(name, quantity, phase),
        scale=scale,
        ratio=None if ratio is None else number(f"ratio of {place}", ratio, above=0),
        sign=int(sign),
        order=None if order is None else whole_number(f"order of {place}", order, least=0, most=MAX_ORDER),
        percent=unit == PERCENT,
    )


def unit_scale(unit: str, quantity: str) -> float | None:
    """Factor of a unit to V, A or percent; None where it is none of the quantity.

    Examples
    --------
    >>> unit_scale("kV", "voltage"), unit_scale("mA", "current"), unit_scale("A", "voltage")
    (1000.0, 0.001, None)
    """
    if unit.casefold() in (PERCENT, "pct"):
        return 1.0
    base = UNITS[quantity]
    return SCALES.get(unit[: -len(base)]) if unit.endswith(base) else None


def plain(heading: str) -> tuple[str, str]:
    """A heading without its unit and signs, and the unit.

    Examples
    --------
    >>> plain("U_L1 (kV)"), plain("Time [ms]"), plain(" I-a ")
    (('u l1', 'kV'), ('time', 'ms'), ('i a', ''))
    """
    found = _UNIT.search(heading)
    name = heading[: found.start()] if found else heading
    text = " ".join(re.sub(r"[^\w%]+|_", " ", name.casefold()).split())
    unit = found["unit"] if found else ""
    if text.endswith("%") and not unit:
        text, unit = text[:-1].strip(), PERCENT
    return text, unit


def phase_name(text: str) -> str:
    """One of the phases by any usual name of it; empty where it is none.

    Examples
    --------
    >>> phase_name("L1"), phase_name("A-B"), phase_name("x")
    ('a', 'ab', '')
    """
    return _PHASE_NAMES.get(re.sub(r"[^a-z0-9]", "", text.casefold()), "")


def is_time(heading: str) -> bool:
    """Whether a heading is one of a time column."""
    return plain(heading)[0] in _TIMES


def is_flag(heading: str) -> bool:
    """Whether a heading is one of flagged intervals."""
    return plain(heading)[0] in _FLAGS


def recognised(heading: str, unit: str = "") -> RecordColumn | None:
    """What a column is by its heading alone; None where that is not certain.

    Parameters
    ----------
    heading : str
        Such as ``Ua``, ``I L2 [mA]``, ``Vab (kV)``, ``I a h5 (%)`` or ``THD U L1``.
    unit : str
        Where it stands elsewhere.

    Examples
    --------
    >>> recognised("I L2 [mA]").channel.phase, recognised("I L2 [mA]").factor()
    ('b', 0.001)
    >>> recognised("U_a h5 (%)").order, recognised("THD I L1").order, recognised("Temperature")
    (5, 0, None)
    """
    text, own = plain(heading)
    for pattern in (_CHANNEL, *_LOGGED):
        found = pattern.match(text)
        if found:
            parts = found.groupdict()
            quantity = VOLTAGE if parts["quantity"][0] in "uv" else CURRENT
            total = bool(parts.get("total"))
            stated = own or unit or (PERCENT if total else UNITS[quantity])
            scale = unit_scale(stated, quantity)
            nth = parts.get("order") or parts.get("nth")
            if scale is None or (nth and not 1 <= int(nth) <= MAX_ORDER):
                return None
            channel = Channel(heading.strip(), quantity, _PHASE_NAMES[parts["phase"]])
            order = 0 if total else int(nth) if nth else None
            percent = stated.casefold() in (PERCENT, "pct")
            return RecordColumn(channel=channel, scale=scale, order=order, percent=percent)
    return None
