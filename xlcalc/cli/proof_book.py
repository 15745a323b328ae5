"""The workbook of a field proof, made from a record."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, FloatArray
from xlcalc.face.beside import Beside
from xlcalc.face.judged import Asked
from xlcalc.face.record import Record
from xlcalc.files.celltext import storable
from xlcalc.measurement.aggregation import TEN_MINUTES, THREE_SECONDS, Series
from xlcalc.measurement.percentiles import percentile_bounds
from xlcalc.measurement.recording import CURRENT
from xlcalc.standards import ieee519
from xlcalc.standards.statistics import IEEE_519, statistics
from xlcalc.workbooks.proof.proof_data import (
    MOST_TREND,
    PHASES,
    WAVE_POINTS,
    WEEK,
    ProofData,
)

VALUES_OF_DAY = 28_800
MOST_DAYS = 7
BEYOND = ("beyond the first week", "all phases", 0, float("nan"))
"""A line without a verdict, so that the sheets never pass a record of which they hold a part."""
LONGER = (
    "the record is longer than a week: the sheets hold its first week and have no verdict on the whole; the "
    "sheet verdicts judges every week"
)
HOUR = np.timedelta64(3_600_000_000_000, "ns")
DAY = np.timedelta64(1, "D")


def write_proof(data: ProofData, tables: Mapping[str, pd.DataFrame], output: Path) -> None:
    """Build the workbook with further tables behind its sheets, calculate it and put it in its place."""
    from xlcalc.recalc.recalc import recalculate
    from xlcalc.workbooks.kit import package
    from xlcalc.workbooks.proof import proof_study
    from xlcalc.worksheet.catalogue import FUNCTIONS

    with tempfile.TemporaryDirectory() as scratch:
        raw = Path(scratch) / output.name
        book = proof_study.build(data)
        for name, table in tables.items():
            sheet = book.create_sheet(name)
            sheet.append(list(table.columns))
            for row in table.itertuples(index=False):
                sheet.append([_cell(value) for value in row])
        package.save(book, raw)
        recalculate(raw, output, FUNCTIONS)


def _cell(value: object) -> object:
    """As a cell holds it: no number is a blank, and no text a formula."""
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    if isinstance(value, str):
        return storable(value)
    return value.item() if isinstance(value, np.generic) else value


def proof_data(
    record: Record,
    compared: Beside | None,
    *,
    title: str,
    facts: dict[str, str],
    sentences: tuple[str, ...],
    asked: Asked,
) -> ProofData:
    """What the sheets show of a record with currents.

    Raises
    ------
    InputError
        The record has no currents in A, and no percent of the demand current.
    """
    demand_amps, isc_il, kv, edition = asked.demand_amps, asked.isc_il, asked.kv, asked.edition
    ten = _by_phase(record, TEN_MINUTES, demand_amps)
    base = demand_amps or _largest(record)
    three = _by_phase(record, THREE_SECONDS, demand_amps)
    ratio = None
    if isc_il is not None and kv is not None:
        ratio = min((isc_il, *ieee519.neighbouring_rows(isc_il, kv, edition)))
    hours, percent, phases = _values(ten)
    days = () if ratio is None or kv is None else _days(three, ratio, kv, edition)
    if any(one.time.size and one.time[-1] >= one.time[0] + MOST_DAYS * DAY for one in (*ten, *three)):
        days = (BEYOND, *days)
        sentences = (LONGER, *sentences)
    return ProofData(
        inputs={
            "title": title,
            "nominal kv": kv,
            "demand amps": demand_amps,
            "isc/il": ratio,
            "edition": edition,
            "base amps": None if _in_percent(record) else base,
        },
        facts=facts,
        sentences=sentences,
        phases=phases,
        hours=hours,
        percent=percent,
        trend=_trend(record),
        spectrum=_spectrum(record, compared),
        wave=_wave(record, compared),
        days=days,
    )


def _by_phase(record: Record, length: str, demand_amps: float | None) -> list[Series]:
    base = None if _in_percent(record) else demand_amps or _largest(record)
    return [one for one in record.series(CURRENT, base) if one.length == length][:PHASES]


def _in_percent(record: Record) -> bool:
    return any(
        log.percent for length in record.lengths for log in record.logs(length) if log.quantity == CURRENT
    )


def _largest(record: Record) -> float:
    """Largest fundamental current, A: 100 % where the demand current is not known."""
    if record.is_log:
        sizes = [log.values[:, 0] for log in record.logs(TEN_MINUTES) if log.quantity == CURRENT]
        return max((float(size) for one in sizes for size in one if np.isfinite(size)), default=100.0)
    table = record.windows()
    amps = table.loc[table["unit"] == "A", "fundamental"]
    if amps.empty:
        raise InputError(record.name, "without currents", "a record of currents for a workbook of a proof")
    return float(amps.max())


def _values(series: list[Series]) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Hours, percent of the base by phase, interval and order, and the phases; flagged ones are missing."""
    if not series:
        return np.empty(0), np.empty((PHASES, 0, MAX_ORDER)), ("a", "b", "c")
    time = np.unique(np.concatenate([one.time for one in series]))[:WEEK]
    percent = np.full((PHASES, time.size, MAX_ORDER), np.nan)
    for row, one in enumerate(series):
        places = np.searchsorted(time, one.time)
        inside = (places < time.size) & ~one.left_out
        inside &= time[np.minimum(places, time.size - 1)] == one.time
        percent[row, places[inside], : one.percent.shape[1]] = one.percent[inside]
    names = tuple(one.phase for one in series)
    hours = (time - time[0]) / HOUR
    return hours, percent, names + ("",) * (PHASES - len(names))


def _days(
    series: list[Series], isc_il: float, kv: float, edition: str
) -> tuple[tuple[str, str, int, float], ...]:
    """Each day and phase: values known, and the largest share of a limit that 99 % of them are at least."""
    (rule,) = [one for one in statistics(IEEE_519, "current", edition) if one.window == THREE_SECONDS]
    limits = np.array(
        [np.inf]
        + [ieee519.current_limit(h, isc_il, kv, edition).value for h in range(2, MAX_ORDER + 1)]
        + [ieee519.tdd_limit(isc_il, kv, edition).value]
    )
    found = []
    for one in series:
        values = one.with_total(MAX_ORDER)
        for number in range(MOST_DAYS):
            begin = one.time[0] + number * DAY
            rows = values[(one.time >= begin) & (one.time < begin + DAY) & ~one.left_out]
            if not rows.size:
                break
            bounds = percentile_bounds(rows, rule.percentile, max(VALUES_OF_DAY, len(rows)))
            share = 100.0 * float(np.nanmax(bounds.low / (rule.multiplier * limits)))
            known = int(np.isfinite(rows).all(axis=1).sum())
            found.append((np.datetime_as_string(begin, unit="D"), one.phase, known, share))
    return tuple(found)


def _trend(record: Record) -> FloatArray:
    """Hours, fundamental, THD, frequency and flag; thinned to what a chart shows, maxima kept."""
    if record.is_log:
        logs = [log for log in record.logs(TEN_MINUTES) if log.quantity == CURRENT and not log.percent]
        if not logs:
            return np.empty((0, 5))
        log = max(logs, key=lambda one: float(np.nanmean(one.values[:, 0])))
        first = log.values[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            thd = 100.0 * np.sqrt(np.nansum(log.values[:, 1:] ** 2, axis=1)) / first
        hours = (log.time - log.time[0]) / HOUR
        rows = np.column_stack([hours, first, thd, np.full(first.size, np.nan), log.flagged])
    else:
        found = record.reduction
        columns = [k for k, one in enumerate(record.channels) if one.quantity == CURRENT]
        size = found.fundamental[:, columns]
        most = int(np.argmax(np.nanmean(size, axis=0)))
        rows = np.column_stack(
            [
                found.start_s / 3_600.0,
                size[:, most],
                found.thd_pct[:, columns[most]],
                found.hz,
                found.flagged.astype(float),
            ]
        )
    step = -(-len(rows) // MOST_TREND)
    if step <= 1:
        return rows
    parts = [rows[k : k + step] for k in range(0, len(rows), step)]
    return np.array([part[int(np.nanargmax(np.nan_to_num(part[:, 1])))] for part in parts])


def _spectrum(record: Record, compared: Beside | None) -> FloatArray:
    from xlcalc.face.beside import measured_orders

    table = np.full((MAX_ORDER, 5), np.nan)
    measured = measured_orders(record, CURRENT)
    if measured:
        last = min(MAX_ORDER, *(values.size for values in measured.values()))
        table[:last, 0] = np.nanmax([values[:last] for values in measured.values()], axis=0)
    if compared is not None:
        band = compared.expected.amps
        count = min(MAX_ORDER, band.expected.size)
        table[:count, 1], table[:count, 2], table[:count, 3] = (
            part[:count] for part in (band.expected, band.low, band.high)
        )
        for row in compared.current.rows:
            if row.order <= MAX_ORDER:
                table[row.order - 1, 4] = row.outside if row.compared else np.nan
    return table


def _wave(record: Record, compared: Beside | None) -> FloatArray:
    """One cycle of phase a by its orders, and of the prediction where its angles are known."""
    if record.is_log:
        return np.empty((0, 3))
    columns = [k for k, one in enumerate(record.channels) if one.quantity == CURRENT]
    phasors = record.reduction.first.phasors(columns[0])[:MAX_ORDER]
    degrees = np.linspace(0.0, 360.0, WAVE_POINTS + 1)
    predicted = None if compared is None else compared.expected.phasors
    waves = [
        np.full(degrees.size, np.nan) if part is None else _cycle(part, degrees)
        for part in (phasors, predicted)
    ]
    return np.column_stack([degrees, *waves])


def _cycle(phasors: np.ndarray, degrees: FloatArray) -> FloatArray:
    """The waveform whose fundamental has its crest at 0 degrees."""
    known = np.nan_to_num(phasors)
    orders = np.arange(1, known.size + 1)
    turned = known * np.exp(-1j * orders * np.angle(known[0]))
    turning = np.exp(1j * np.outer(orders, np.radians(degrees)))
    return np.asarray(np.sqrt(2.0) * np.real(turned @ turning), float)
