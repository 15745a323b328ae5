"""The one door to records: by the ending of the file, with what is implausible in it named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

from xlcalc.errors import InputError
from xlcalc.io.comtrade_record import read_comtrade
from xlcalc.io.record_map import RecordMap, read_record_map
from xlcalc.io.record_table import read_table
from xlcalc.io.recorder_log import RecorderLog, read_log
from xlcalc.io.waveform_table import read_waveforms
from xlcalc.measurement.plausibility import implausible
from xlcalc.measurement.recording import Recording

COMTRADE: Final = (".cfg", ".cff")
TABLES: Final = (".csv", ".txt", ".tsv", ".xlsx", ".xlsm", ".parquet")


def read_recording(path: Path, record_map: Path | None = None) -> Recording:
    """Waveforms of a COMTRADE record or of a table.

    Parameters
    ----------
    path : Path
        .cfg (with .dat beside it), .cff, .csv, .txt, .tsv, .xlsx, .xlsm or .parquet.
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
    return replace(recording, findings=(*recording.findings, *implausible(recording)))


def read_recorder_log(path: Path, record_map: Path | None = None) -> RecorderLog:
    """Values by interval of a table; parameters and errors as in `read_recording`, but for COMTRADE."""
    return read_log(read_table(_of_kind(path, TABLES)), _map(record_map))


def _map(path: Path | None) -> RecordMap:
    return RecordMap() if path is None else read_record_map(path)


def _of_kind(path: Path, endings: tuple[str, ...]) -> Path:
    if path.suffix.casefold() not in endings:
        valid = "a file with the ending " + ", ".join((*COMTRADE, *TABLES))
        raise InputError(str(path), "of another kind", valid, wrong_kind=True)
    return path
