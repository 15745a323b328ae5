"""Tables in files of any kind that a spreadsheet program or a script writes."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Final

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.io.lists.csv_table import Known, is_heading, read_csv_table
from xlcalc.io.lists.rawtable import RawCell, RawTable

TEXT_SUFFIXES: Final = (".csv", ".txt", ".tsv")
WORKBOOK_SUFFIXES: Final = (".xlsx", ".xlsm")
PARQUET: Final = ".parquet"
OPEN_DOCUMENT: Final = ".ods"
TABLE_FILE: Final = "a .csv, .txt, .tsv, .xlsx, .xlsm, .ods or .parquet file"


def read_tables(
    path: Path,
    argument: str,
    *,
    sheet: str | None = None,
    encoding: str | None = None,
    known: Known = is_heading,
    files: str = TABLE_FILE,
) -> tuple[RawTable, ...]:
    """All tables of a file: one, or one for each visible sheet of a workbook.

    Parameters
    ----------
    path : Path
        .csv, .txt or .tsv of any common delimiter and encoding, .xlsx, .xlsm, .ods or .parquet.
    argument : str
        What asks for the file, for messages.
    sheet : str, optional
        The one sheet of a workbook that is wanted.
    encoding : str, optional
        Of a text file, where it cannot be seen.
    known : callable
        Tells a text that belongs into such a file; it finds the delimiter.
    files : str
        Kinds of files that the caller takes, for messages.

    Raises
    ------
    InputError
        The file is of another kind, or cannot be read.
    WorkbookFileError
        The file is not a valid workbook.
    """
    suffix = path.suffix.lower()
    if suffix in TEXT_SUFFIXES:
        return (read_csv_table(path, encoding, known),)
    if suffix in WORKBOOK_SUFFIXES:
        from xlcalc.io.lists.xlsx_table import read_xlsx_tables

        return read_xlsx_tables(path, sheet)
    if suffix == OPEN_DOCUMENT:
        from xlcalc.io.lists.ods_table import read_ods_tables

        return read_ods_tables(path, sheet)
    if suffix == PARQUET:
        return (_parquet_table(path),)
    raise InputError(argument, str(path), files)


def _parquet_table(path: Path) -> RawTable:
    if importlib.util.find_spec("pyarrow") is None:
        raise InputError(path.name, "Parquet", ".csv or .xlsx; Parquet needs: pip install 'xlcalc[parquet]'")
    try:
        frame = pd.read_parquet(path, engine="pyarrow")
    except (OSError, ValueError) as problem:
        raise InputError(path.name, f"not readable ({problem})", "a Parquet file", wrong_kind=True) from None
    body = [[_plain(value) for value in row] for row in frame.itertuples(index=False)]
    return RawTable(path.name, [[str(name) for name in frame.columns], *body], False)


def _plain(value: object) -> RawCell:
    if value is None or value is pd.NaT or value != value:
        return None
    if isinstance(value, str | bool):
        return value
    return float(value) if isinstance(value, int | float) or hasattr(value, "__float__") else str(value)
