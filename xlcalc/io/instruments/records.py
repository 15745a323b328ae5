"""The one door to records: by the ending of the file, with what is implausible in it named."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.io.instruments.comtrade_record import data_beside, read_comtrade
from xlcalc.io.instruments.long_comtrade import is_text, long_comtrade
from xlcalc.io.instruments.long_table import long_parquet, long_text
from xlcalc.io.instruments.record_map import RecordMap, read_record_map, recognised
from xlcalc.io.instruments.record_table import read_table
from xlcalc.io.instruments.recorder_log import RecorderLog, read_log
from xlcalc.io.instruments.waveform_table import read_waveforms
from xlcalc.measurement.pieces import LongRecording
from xlcalc.measurement.plausibility import implausible
from xlcalc.measurement.recording import Recording

LONG_BYTES: Final = 256 << 20
"""Size of binary data from which a record is read in pieces."""
LONG_TEXT: Final = 32 << 20
"""The same of text, which takes up to fifty times its size once it is read."""
COMTRADE: Final = (".cfg", ".cff")
TEXTS: Final = (".csv", ".txt", ".tsv")
TABLES: Final = (*TEXTS, ".xlsx", ".xlsm", ".parquet")


def read_recording(path: Path, record_map: Path | None = None) -> Recording:
    """Waveforms of a COMTRADE record or of a table.

    Parameters
    ----------
    path : Path
        .cfg (with .dat beside it), .cff, .csv, .txt, .tsv, .xlsx, .xlsm, .ods or .parquet.
    record_map : Path, optional
        TOML file that says what the channels are.

    Returns
    -------
    Recording
        With all findings: what was missing, left out or is implausible.

    Raises
    ------
    InputError
        Another ending, or the file cannot be read for certain; the message names file, row or time.
    WorkbookFileError
        A workbook that is not sound.
    """
    found = _map(record_map)
    suffix = path.suffix.casefold()
    if suffix in COMTRADE:
        recording = read_comtrade(path, found)
    else:
        recording = read_waveforms(read_table(_of_kind(path, TABLES)), found)
    return _with_doubts(recording)


def read_any(path: Path, record_map: Path | None = None) -> Recording | LongRecording | RecorderLog:
    """Waveforms or a log, whichever the file holds: a log has columns of orders.

    Waveforms of `LONG_BYTES` and more, or `LONG_TEXT` as text, are read in pieces.

    Parameters and errors as in `read_recording`.
    """
    long = _in_pieces(path, _map(record_map))
    if long is not None:
        return _long(long)
    if path.suffix.casefold() in COMTRADE:
        return read_recording(path, record_map)
    found = _map(record_map)
    table = read_table(_of_kind(path, TABLES))
    columns = [found.columns.get(h) if found.columns else recognised(h) for h in table.headings]
    if any(column is not None and column.order is not None for column in columns):
        return read_log(table, found)
    return _with_doubts(read_waveforms(table, found))


def read_recorder_log(path: Path, record_map: Path | None = None) -> RecorderLog:
    """Values by interval of a table; parameters and errors as in `read_recording`, but for COMTRADE."""
    return read_log(read_table(_of_kind(path, TABLES)), _map(record_map))


def _in_pieces(path: Path, record_map: RecordMap) -> LongRecording | None:
    """The recording in a file that is too large to be read as a whole; None for any other file."""
    suffix = path.suffix.casefold()
    if not path.is_file():
        return None
    if suffix in COMTRADE:
        data = path if suffix == ".cff" else data_beside(path)
        if data is None or data.stat().st_size < (LONG_TEXT if is_text(path) else LONG_BYTES):
            return None
        return long_comtrade(path, data, record_map)
    size = path.stat().st_size
    if suffix == ".parquet" and size >= LONG_BYTES:
        return long_parquet(path, record_map)
    if suffix in TEXTS and size >= LONG_TEXT:
        return long_text(path, record_map)
    return None


def _long(recording: LongRecording) -> LongRecording:
    """With what is implausible in its first 10 minutes."""
    first = recording.first_part()
    before = len(first.findings)
    found = _with_doubts(first).findings[before:]
    note = "read in pieces: what is implausible was looked for in the first 10 minutes"
    return recording.with_findings(*found, note)


def _with_doubts(recording: Recording) -> Recording:
    dated = recording.start is not None
    note = "no start time: intervals are counted from the first sample, shown as 1970-01-01"
    return recording.with_findings(*([] if dated else [note]), *implausible(recording))


def _map(path: Path | None) -> RecordMap:
    return RecordMap() if path is None else read_record_map(path)


def _of_kind(path: Path, endings: tuple[str, ...]) -> Path:
    if path.suffix.casefold() not in endings:
        valid = "a file with the ending " + ", ".join((*COMTRADE, *TABLES))
        raise InputError(str(path), "of another kind", valid, wrong_kind=True)
    return path
