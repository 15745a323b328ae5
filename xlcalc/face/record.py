"""A record of an instrument: what it holds, reduced, and judged by percentiles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.io.instruments.recorder_log import Log, RecorderLog
from xlcalc.io.instruments.records import read_any
from xlcalc.measurement.aggregation import LENGTHS, TEN_MINUTES, THREE_SECONDS, Intervals, Series
from xlcalc.measurement.judgement import (
    judge_ieee519_current,
    judge_ieee519_voltage,
    judge_levels,
)
from xlcalc.measurement.pieces import LongRecording
from xlcalc.measurement.recording import CURRENT, VOLTAGE, Channel, Recording
from xlcalc.measurement.reduction import Reduction, reduced
from xlcalc.standards.ieee519 import DEFAULT_EDITION
from xlcalc.standards.statistics import IEC_61000_2_4
from xlcalc.standards.verdict import Judgement

File = str | Path

NO_START: Final = np.datetime64("1970-01-01T00:00:00", "ns")
"""Stands for the first sample of a recording without a start time."""
_LENGTHS: Final = {name.replace(" ", ""): name for name in LENGTHS}
_TRIPLES: Final = (("a", "b", "c"), ("ab", "bc", "ca"))


@dataclass(frozen=True, kw_only=True, repr=False)
class Record:
    """Waveforms, or a log of intervals, of one site.

    Made by `read_record`. Tables are DataFrames; amounts are V, A, percent, Hz and s.

    Parameters
    ----------
    name : str
        The file.
    content : Recording, LongRecording or RecorderLog
    nominal_hz, hz, nominal_volts : float, optional
        As in `read_record`.
    """

    name: str
    content: Recording | LongRecording | RecorderLog = field(repr=False)
    nominal_hz: float | None = None
    hz: float | None = None
    nominal_volts: float | None = None

    def __repr__(self) -> str:
        if isinstance(self.content, RecorderLog):
            return f"Record({self.name!r}: a log of {len(self.content.logs)} quantities)"
        channels = ", ".join(channel.name for channel in self.content.channels)
        return f"Record({self.name!r}: {self.content.seconds:.6g} s of {channels})"

    @property
    def findings(self) -> tuple[str, ...]:
        """What was missing, left out, assumed or is implausible, each a sentence."""
        return self.content.findings

    @property
    def waveforms(self) -> Recording:
        """The samples; of a record that is read in pieces those of its first 10 minutes.

        Raises
        ------
        InputError
            The record is a log, which holds none.
        """
        if isinstance(self.content, RecorderLog):
            raise InputError(self.name, "a log of intervals without samples", "a record of waveforms")
        return self.content.first_part() if isinstance(self.content, LongRecording) else self.content

    @property
    def channels(self) -> tuple[Channel, ...]:
        """Of waveforms; a log has none."""
        return () if isinstance(self.content, RecorderLog) else self.content.channels

    def logs(self, length: str) -> tuple[Log, ...]:
        """What a log holds of one length; empty for waveforms."""
        if not isinstance(self.content, RecorderLog):
            return ()
        return tuple(log for log in self.content.logs if log.length == length)

    @property
    def is_log(self) -> bool:
        """Whether it holds intervals without samples."""
        return isinstance(self.content, RecorderLog)

    @property
    def quantities(self) -> frozenset[str]:
        """ "voltage", "current" or both."""
        held = self.content.logs if isinstance(self.content, RecorderLog) else self.content.channels
        return frozenset(one.quantity for one in held)

    @property
    def lengths(self) -> tuple[str, ...]:
        """Lengths of the intervals of a log, or those that can be made of waveforms."""
        if isinstance(self.content, RecorderLog):
            return tuple(dict.fromkeys(log.length for log in self.content.logs))
        return tuple(LENGTHS)

    def summary(self) -> dict[str, object]:
        """What the record is, in a few words and numbers."""
        if isinstance(self.content, RecorderLog):
            held = {
                f"{log.quantity} {log.phase}": f"{log.time.size} values of {log.length}"
                for log in self.content.logs
            }
            return {"kind": "log of intervals", **held}
        found, recording = self.reduction, self.content
        return {
            "kind": "waveforms",
            "channels": ", ".join(channel.name for channel in recording.channels),
            "start (UTC)": "not stated" if recording.start is None else str(recording.start),
            "seconds": recording.seconds,
            "samples per second": recording.rate,
            "window": found.first.label,
            "windows": found.start_s.size,
            "flagged windows": int(found.flagged.sum()),
            "values of 3 s": found.three.start_s.size,
            "values of 10 min": found.ten.start_s.size,
            "mean frequency, Hz": float(found.hz.mean()),
            "highest order": found.last_order,
        }

    @cached_property
    def reduction(self) -> Reduction:
        """Windows and intervals, computed once.

        Raises
        ------
        InputError
            The record is a log.
        NoSolutionError
            No channel has a frequency, or less than a cycle was recorded.
        """
        content = self.waveforms if isinstance(self.content, RecorderLog) else self.content
        return reduced(content, nominal_hz=self.nominal_hz, hz=self.hz, nominal_volts=self.nominal_volts)

    def windows(self) -> pd.DataFrame:
        """One row per window and channel: start, frequency, fundamental, THD, crest factor, flag, kind."""
        found = self.reduction
        rows = len(found.start_s)
        parts = [
            pd.DataFrame(
                {
                    "start s": found.start_s,
                    "channel": [channel.name] * rows,
                    "hz": found.hz,
                    "fundamental": found.fundamental[:, k],
                    "unit": channel.unit,
                    "thd %": found.thd_pct[:, k],
                    "crest factor": found.crest_factor[:, k],
                    "flagged": found.flagged,
                }
            )
            for k, channel in enumerate(self.channels)
        ]
        return pd.concat(parts, ignore_index=True).assign(window=found.first.label)

    def aggregate(self, length: str = TEN_MINUTES) -> pd.DataFrame:
        """Values by interval, one row per interval and phase, one column per order.

        Parameters
        ----------
        length : str
            "3 s" or "10 min"; of a log only its own.

        Raises
        ------
        InputError
            Another length.
        """
        wanted = _LENGTHS.get(length.replace(" ", ""))
        if wanted is None:
            raise InputError("length", length, "one of " + ", ".join(LENGTHS))
        if isinstance(self.content, RecorderLog):
            parts = [
                _rows(log.time, f"{log.quantity} {log.phase}", log.values, log.flagged)
                for log in self.logs(wanted)
            ]
        else:
            found = self.reduction.intervals(wanted)
            time = _times(found, self.content.start)
            parts = [
                _rows(time, channel.name, found.values[:, k, :], found.flagged).assign(
                    coverage=found.coverage[:, k]
                )
                for k, channel in enumerate(self.content.channels)
                if time.size
            ]
        return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["time", "channel"])

    def spectrum(self) -> pd.DataFrame:
        """Orders by channel: rms of the subgroups over all windows, percent of the fundamental, angle.

        Angles are those of the lines of the first window against its start.
        """
        found = self.reduction
        parts = []
        for k, channel in enumerate(self.channels):
            rms = found.rms[k, : found.last_order]
            angle = np.full(rms.size, np.nan)
            lines = found.first.phasors(k)[: rms.size]
            angle[: lines.size] = np.degrees(np.angle(lines))
            with np.errstate(divide="ignore", invalid="ignore"):
                percent = 100.0 * rms / rms[0]
            parts.append(
                pd.DataFrame(
                    {
                        "channel": channel.name,
                        "order": np.arange(1, rms.size + 1),
                        "rms": rms,
                        "unit": channel.unit,
                        "% of fundamental": percent,
                        "angle deg": angle,
                    }
                )
            )
        return pd.concat(parts, ignore_index=True)

    def judge_current(
        self,
        *,
        demand_amps: float | None,
        isc_il: float,
        kv: float,
        edition: str = DEFAULT_EDITION,
        phases: Sequence[str] = _TRIPLES[0],
    ) -> Judgement:
        """Currents against IEEE 519 by the percentiles of days and weeks.

        Parameters
        ----------
        demand_amps : float or None
            Maximum demand current IL, A; None only for a log in percent of it.
        isc_il, kv, edition
            As in `xlcalc.standards.ieee519.current_limit`.
        phases : sequence of str
            Phases that must be there.

        Raises
        ------
        InputError
            An argument is outside its range, or does not fit the unit of the record.
        """
        series = self.series(CURRENT, demand_amps)
        return judge_ieee519_current(series, isc_il, kv, edition, phases=phases)

    def judge_voltage(
        self, *, kv: float, edition: str = DEFAULT_EDITION, phases: Sequence[str] | None = None
    ) -> Judgement:
        """Voltages against IEEE 519, in percent of the nominal voltage; else as `judge_current`.

        `phases` are a, b, c, or ab, bc, ca where the record has line-to-line voltages, unless given.

        Parameters
        ----------
        kv : float
            Nominal line-to-line voltage, above 0; picks the row of the limits.
        edition : str
            Of IEEE 519.
        phases : sequence of str, optional
            As above.

        Returns
        -------
        Judgement
        """
        series = self.series(VOLTAGE, 1e3 * kv)
        found = judge_ieee519_voltage(series, kv, edition, phases=phases or _triple(series))
        logs = self.content.logs if isinstance(self.content, RecorderLog) else ()
        if not any(log.percent and log.quantity == VOLTAGE for log in logs):
            return found
        remark = "the log is in percent: of what its recorder takes as 100 %, not always the nominal voltage"
        return replace(found, remarks=(*found.remarks, remark))

    def judge_en50160(self, column: str = "LV", *, phases: Sequence[str] | None = None) -> Judgement:
        """Voltages against EN 50160 ("LV" or "MV"), percent of the fundamental; else as `judge_voltage`."""
        series = self.series(VOLTAGE, None)
        return judge_levels(series, column, phases=phases or _triple(series))

    def judge_iec61000_2_4(
        self, column: str = "class 2", *, phases: Sequence[str] | None = None
    ) -> Judgement:
        """Voltages in a plant against IEC 61000-2-4 ("class 1", "class 2", "class 3"); as `judge_en50160`."""
        series = self.series(VOLTAGE, None)
        return judge_levels(series, column, document=IEC_61000_2_4, phases=phases or _triple(series))

    def series(self, quantity: str, base: float | None) -> list[Series]:
        """Series of a quantity by phase and length, percent of a base; that of a voltage is line to line.

        Raises
        ------
        InputError
            Currents without a base, or a base that does not fit the unit of a log.
        """
        if isinstance(self.content, RecorderLog):
            logs = [log for log in self.content.logs if log.quantity == quantity and log.phase != "n"]
            return [
                log.series(
                    None
                    if base is None or (log.percent and quantity == VOLTAGE)
                    else _base(base, quantity, log.phase)
                )
                for log in logs
            ]
        if quantity == CURRENT and base is None:
            raise InputError("demand_amps", None, "the maximum demand current, A", wrong_kind=True)
        start = self.content.start if self.content.start is not None else NO_START
        return [
            Series.of_intervals(
                self.reduction.intervals(length),
                k,
                channel.phase,
                start,
                None if base is None else _base(base, quantity, channel.phase),
            )
            for k, channel in enumerate(self.content.channels)
            if channel.quantity == quantity and channel.phase != "n"
            for length in (THREE_SECONDS, TEN_MINUTES)
            if self.reduction.intervals(length).start_s.size
        ]


def read_record(
    path: File,
    map: File | None = None,
    *,
    nominal_hz: float | None = None,
    hz: float | None = None,
    nominal_volts: float | None = None,
) -> Record:
    """What an instrument wrote: COMTRADE, a table of waveforms, or a log of 3 s or 10-minute values.

    Parameters
    ----------
    path : str or Path
        .cfg (with .dat beside it), .cff, .csv, .txt, .tsv, .xlsx, .xlsm, .ods or .parquet.
    map : str or Path, optional
        TOML file that says what the channels are, where their names do not.
    nominal_hz : float, optional
        50 or 60; the nearer one unless given.
    hz : float, optional
        Frequency where it is known and constant; tracked unless given.
    nominal_volts : float, optional
        Declared line-to-line voltage, V: with it intervals with a dip, swell or interruption are flagged.

    Raises
    ------
    InputError
        The file cannot be read for certain; the message names file, row or time.
    WorkbookFileError
        A workbook that is not sound.
    """
    source = Path(path)
    content = read_any(source, None if map is None else Path(map))
    return Record(
        name=source.name, content=content, nominal_hz=nominal_hz, hz=hz, nominal_volts=nominal_volts
    )


def _times(found: Intervals, start: np.datetime64 | None) -> np.ndarray:
    offsets = np.round(found.start_s * 1e9).astype("timedelta64[ns]")
    return (NO_START if start is None else start.astype("datetime64[ns]")) + offsets


def _rows(time: np.ndarray, channel: str, values: np.ndarray, flagged: np.ndarray) -> pd.DataFrame:
    orders = pd.DataFrame(values, columns=[f"h{h}" for h in range(1, values.shape[1] + 1)])
    return pd.concat([pd.DataFrame({"time": time, "channel": channel, "flagged": flagged}), orders], axis=1)


def _base(base: float, quantity: str, phase: str) -> float:
    """100 % of one phase: a voltage to neutral is the line-to-line one over the root of 3."""
    return base / np.sqrt(3.0) if quantity == VOLTAGE and len(phase) == 1 else base


def _triple(series: Sequence[Series]) -> Sequence[str]:
    lines = any(len(one.phase) == 2 for one in series)
    return _TRIPLES[1] if lines and not any(len(one.phase) == 1 for one in series) else _TRIPLES[0]
