"""Tables of numbers in CSV, xlsx and Parquet: headings and data, delimiter and decimal sign."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.files.reading import read_bytes
from xlcalc.io.lists.csv_table import DELIMITERS, decoded
from xlcalc.io.lists.xlsx_table import read_xlsx_tables

LARGEST_BYTES: Final = 512 << 20
_PROBED: Final = 400
_NUMBER: Final = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")
_STAMP: Final = re.compile(
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}([ T]\d{1,2}:\d{2}.*)?$|\d{1,2}:\d{2}(:\d{2}.*)?$"
)
BLANK: Final = frozenset(("", "-", "nan", "n/a"))


@dataclass(frozen=True, kw_only=True)
class Table:
    """Columns of a file.

    Parameters
    ----------
    name : str
        File, and sheet where there is one, for messages.
    headings : tuple of str
    columns : tuple of Series
        Texts, numbers or times, one per heading.
    first_row : int
        Row or line of the file in which the data begin.
    comma : bool
        The texts have a decimal comma.
    remarks : tuple of str
        What was noticed on reading.
    """

    name: str
    headings: tuple[str, ...]
    columns: tuple[pd.Series, ...]
    first_row: int
    comma: bool = False
    remarks: tuple[str, ...] = ()

    def row(self, position: int) -> str:
        """Name of a row in messages."""
        return f"{self.name}, row {self.first_row + position}"

    def numbers(self, index: int) -> tuple[FloatArray, str]:
        """A column as numbers, NaN for what is none; and a sentence on texts that are none."""
        column = self.columns[index]
        if pd.api.types.is_numeric_dtype(column):
            return column.to_numpy(dtype=float, na_value=np.nan), ""
        texts = column.astype("string").str.strip().fillna("")
        if self.comma:
            texts = texts.str.replace(",", ".", regex=False)
        found = pd.to_numeric(texts, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
        odd = np.flatnonzero(~np.isfinite(found) & ~texts.str.casefold().isin(BLANK).to_numpy(dtype=bool))
        found[~np.isfinite(found)] = np.nan
        if not odd.size:
            return found, ""
        shown = str(column.iloc[int(odd[0])])[:20]
        where = self.row(int(odd[0]))
        return found, (
            f"{where}: {shown!r} in column {self.headings[index]} is no number; {odd.size} such "
            f"{'value counts' if odd.size == 1 else 'values count'} as missing"
        )


def read_table(path: Path) -> Table:
    """Columns of a .csv, .txt, .tsv, .xlsx, .xlsm, .ods or .parquet file.

    Raises
    ------
    InputError
        The file cannot be read, or holds no rows of numbers.
    WorkbookFileError
        The file is not a valid workbook.
    """
    suffix = path.suffix.casefold()
    if suffix in (".xlsx", ".xlsm"):
        return _xlsx(path)
    return _parquet(path) if suffix == ".parquet" else _csv(path)


def _csv(path: Path) -> Table:
    text, remarks = decoded(path, None)
    best = layout_of(text.splitlines()[:_PROBED], path.name)
    frame = frame_of(io.StringIO(text), best, path.name, dtype=str, skiprows=best.first)
    while len(frame) and (frame.iloc[-1].fillna("").str.strip() == "").all():
        frame = frame.iloc[:-1]
    comma = best.delimiter != "," and has_comma(frame.head(_PROBED), path.name)
    return Table(
        name=path.name,
        headings=best.headings,
        columns=tuple(frame[k] for k in range(best.width)),
        first_row=best.first + 1,
        comma=comma,
        remarks=remarks,
    )


def has_comma(frame: pd.DataFrame, name: str) -> bool:
    """Whether the numbers have a decimal comma; refuses a file with both signs, where 1,234 is anything."""
    comma, point = (
        frame.apply(lambda c, sign=sign: c.str.fullmatch(rf"\s*[+-]?\d*{sign}\d+\s*", na=False)).any(
            axis=None
        )
        for sign in (",", r"\.")
    )
    if comma and point:
        raise InputError(name, "with both decimal signs, as in 1,5 and 1.5", "one of them in all numbers")
    return bool(comma)


def layout_of(lines: list[str], name: str) -> TextLayout:
    """How a text is laid out whose first lines are these.

    Raises
    ------
    InputError
        They hold no rows of numbers.
    """
    layouts = [_layout(lines, delimiter) for delimiter in (*DELIMITERS, " ")]
    best = max((found for found in layouts if found), key=lambda found: found.width, default=None)
    if best is None:
        raise InputError(name, "without rows of numbers", "a table with a heading row", wrong_kind=True)
    return best


def frame_of(source: io.IOBase, layout: TextLayout, name: str, **how: Any) -> pd.DataFrame:
    """Rows of a text in that layout; `how` goes to `pandas.read_csv`.

    Raises
    ------
    InputError
        A row has more columns than the layout.
    """
    try:
        return pd.read_csv(  # type: ignore[no-any-return]
            source,
            sep=r"\s+" if layout.delimiter == " " else layout.delimiter,
            header=None,
            names=list(range(layout.width)),
            index_col=False,
            keep_default_na=False,
            skip_blank_lines=False,
            on_bad_lines="error",
            **how,
        )
    except (pd.errors.ParserError, ValueError) as problem:
        reason = f"no sound table ({str(problem).strip()})"
        raise InputError(name, reason, "the same number of columns in every row") from None


@dataclass(frozen=True)
class TextLayout:
    """Delimiter, number of lines above the data, columns and their headings."""

    delimiter: str
    first: int
    width: int
    headings: tuple[str, ...]


def _layout(lines: list[str], delimiter: str) -> TextLayout | None:
    """Where the data of a file begin that is read with this delimiter; None where it has none."""
    if delimiter == " ":
        rows = [line.split() for line in lines]
    else:
        try:
            rows = list(csv.reader(lines, delimiter=delimiter))
        except csv.Error:
            return None
    filled = [k for k, row in enumerate(rows) if any(cell.strip() for cell in row)]
    if not filled:
        return None
    last = rows[filled[len(filled) * 3 // 4]]
    width = len(last)
    if not _is_data(last) or (width == 1 and delimiter != ","):
        return None
    first = next(k for k, row in enumerate(rows) if len(row) == width and _is_data(row))
    above = [row for row in rows[:first] if len(row) == width and any(cell.strip() for cell in row)]
    parts = [[row[k].strip() for row in above[-2:]] for k in range(width)]
    return TextLayout(delimiter, first, width, tuple(_heading(part, k) for k, part in enumerate(parts)))


def _heading(parts: list[str], column: int) -> str:
    """A heading of one row, or of a name above its unit."""
    if not parts:
        return f"column {column + 1}"
    if len(parts) == 2 and parts[1] and len(parts[1].strip("()[] ")) <= 3 and parts[0]:
        return f"{parts[0]} ({parts[1].strip('()[] ')})"
    return parts[-1] or f"column {column + 1}"


def _is_data(row: list[str]) -> bool:
    cells = [cell.strip() for cell in row]
    kinds = [bool(_NUMBER.match(cell)) or bool(_STAMP.match(cell)) for cell in cells]
    return sum(kinds) > 0 and all(
        kind or cell.casefold() in BLANK for kind, cell in zip(kinds, cells, strict=True)
    )


def _xlsx(path: Path) -> Table:
    for sheet in read_xlsx_tables(path):
        rows = sheet.rows
        start = next((k for k, row in enumerate(rows) if sum(cell is not None for cell in row) > 1), None)
        if start is None or len(rows) < start + 2:
            continue
        width = max(len(row) for row in rows[start:])
        data = [[*row, *[None] * (width - len(row))] for row in rows[start + 1 :]]
        heads = [*rows[start], *[None] * (width - len(rows[start]))]
        values = [[getattr(row[k], "value", row[k]) for row in data] for k in range(width)]
        return Table(
            name=sheet.name,
            headings=tuple(f"column {k + 1}" if h is None else str(h) for k, h in enumerate(heads)),
            columns=tuple(pd.Series(column) for column in values),
            first_row=start + 2,
        )
    raise InputError(path.name, "without rows of numbers", "a sheet with a heading row", wrong_kind=True)


def _parquet(path: Path) -> Table:
    data = read_bytes(path, LARGEST_BYTES)
    try:
        frame = pd.read_parquet(io.BytesIO(data), engine="pyarrow")
    except ImportError:
        reason = "a Parquet file, which needs: pip install 'xlcalc[parquet]'"
        raise InputError(path.name, reason, "a .csv or .xlsx file", wrong_kind=True) from None
    except Exception as problem:  # pyarrow raises many kinds for damaged files
        raise InputError(path.name, f"no sound Parquet file ({problem})", "a Parquet file") from None
    if not frame.size:
        raise InputError(path.name, "without rows", "a table with columns", wrong_kind=True)
    if not isinstance(frame.index, pd.RangeIndex):
        frame = frame.reset_index()
    return Table(
        name=path.name,
        headings=tuple(map(str, frame.columns)),
        columns=tuple(frame.iloc[:, k] for k in range(frame.shape[1])),
        first_row=1,
    )
