"""Writing tables to a workbook, to CSV files or to Parquet files; a text is never turned into a formula."""

from __future__ import annotations

import importlib.util
import io
import math
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Final

import pandas as pd
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.bulk.celltext import STARTS, harmless
from xlcalc.bulk.convert import shown_raw
from xlcalc.bulk.numerals import Numeral
from xlcalc.errors import InputError
from xlcalc.hosts.headless.save import claim, write_in_place

SUFFIXES: Final = (".xlsx", ".csv", ".parquet")
_WIDEST: Final = 60
_LONGEST_TEXT: Final = 32_767
Tables = Mapping[str, pd.DataFrame]
Finish = Callable[[Workbook], None]


def check_output(path: Path, inputs: Iterable[Path] = ()) -> None:
    """Refuse an output that could not be written, or is one of the inputs, before anything is computed.

    Raises
    ------
    InputError
        Another ending, Parquet without pyarrow, a folder that does not exist, or an input.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise InputError("-o", str(path), "a name that ends in " + ", ".join(SUFFIXES))
    if path.suffix.lower() == ".parquet" and importlib.util.find_spec("pyarrow") is None:
        raise InputError("-o", str(path), ".xlsx or .csv; Parquet needs: pip install 'xlcalc[parquet]'")
    if not path.parent.is_dir():
        raise InputError("-o", str(path), "a name in a folder that exists")
    if path.resolve() in {given.resolve() for given in inputs}:
        raise InputError("-o", str(path), "another file than those that are read")


def write_tables(tables: Tables, path: Path, finish: Finish | None = None) -> tuple[Path, ...]:
    """Write tables; each file appears complete or not at all.

    Parameters
    ----------
    tables : mapping of name to DataFrame
        The first one is the main table: a sheet each in a workbook; in other formats the first takes the
        file's name and the others their own name behind it. Empty tables are written with their headings.
    path : Path
        ``.xlsx``, ``.csv`` or ``.parquet``.
    finish : callable, optional
        Adds to the workbook before it is written, such as charts; not called for other formats.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError, WorkbookFileError
        The format is unknown, or a file cannot be written.
    """
    check_output(path)
    suffix = path.suffix.lower()
    if suffix == ".xlsx":
        _write(path, [_workbook(tables, finish)])
        return (path,)
    written = []
    for number, (name, table) in enumerate(tables.items()):
        target = path if number == 0 else _beside(path, name)
        _write(target, [_csv(table) if suffix == ".csv" else _parquet(table)])
        written.append(target)
    return tuple(written)


def _beside(path: Path, name: str) -> Path:
    return path.with_name(f"{path.stem}_{name.replace(' ', '_')}{path.suffix}")


def _write(path: Path, pieces: Iterable[bytes]) -> None:
    with claim(path) as real:
        write_in_place(path, real, pieces)


def _csv(table: pd.DataFrame) -> bytes:
    safe = table.copy()
    for column in _texts(safe):
        safe[column] = [harmless(cell) if isinstance(cell, str) else cell for cell in _plain(safe[column])]
    safe.columns = pd.Index([harmless(str(column)) for column in safe.columns])
    text: str = safe.to_csv(index=False, lineterminator="\r\n")
    return text.encode("utf-8-sig")


def _parquet(table: pd.DataFrame) -> bytes:
    """Columns of texts and numbers mixed become texts."""
    plain = table.copy()
    for column in _texts(plain):
        plain[column] = [None if cell is None else shown_raw(cell) for cell in _plain(plain[column])]
    buffer = io.BytesIO()
    plain.to_parquet(buffer, index=False, engine="pyarrow")
    return buffer.getvalue()


def _workbook(tables: Tables, finish: Finish | None) -> bytes:
    book = Workbook(write_only=True)
    for name, table in tables.items():
        sheet: Any = book.create_sheet(name)
        sheet.freeze_panes = "A2"
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        for number, column in enumerate(table.columns, start=1):
            sheet.column_dimensions[get_column_letter(number)].width = _width(str(column), table[column])
        sheet.append([_cell(sheet, str(column), bold=True) for column in table.columns])
        columns = [_plain(table[column]) for column in table.columns]
        for row in zip(*columns, strict=True):
            sheet.append([_cell(sheet, value) if isinstance(value, str) else value for value in row])
        if len(table):
            sheet.auto_filter.ref = f"A1:{get_column_letter(len(table.columns))}{len(table) + 1}"
    if finish is not None:
        finish(book)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _cell(sheet: Worksheet, text: str, bold: bool = False) -> Any:
    """A cell that holds a text, whatever it begins with."""
    kept = ILLEGAL_CHARACTERS_RE.sub("\ufffd", text)[:_LONGEST_TEXT]
    if not bold and not kept.startswith(STARTS):
        return kept
    cell = WriteOnlyCell(sheet, kept)
    cell.data_type = "s"
    if bold:
        cell.font = Font(bold=True)
    if kept.startswith(STARTS):
        cell.quotePrefix = True
    return cell


def _texts(table: pd.DataFrame) -> list[str]:
    return [c for c in table.columns if not pd.api.types.is_numeric_dtype(table[c].dtype)]


def _plain(column: pd.Series[Any]) -> list[Any]:
    """Values as plain Python; missing and infinite numbers are blank."""
    return [_plain_value(value) for value in column.tolist()]


def _plain_value(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Numeral):
        return shown_raw(value)
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    return value if isinstance(value, str | int | bool) else str(value)


def _width(heading: str, column: pd.Series[Any]) -> float:
    longest = max((len(str(cell)) for cell in column.head(50) if isinstance(cell, str)), default=0)
    return float(min(_WIDEST, 2 + max(len(heading), longest, 8)))
