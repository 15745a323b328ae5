"""Writing tables to a workbook, to CSV files or to Parquet files; a text is never turned into a formula."""

from __future__ import annotations

import csv
import hashlib
import importlib.util
import io
import os
import stat
from collections.abc import Iterable, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

import xlcalc
from xlcalc.core.errors import InputError
from xlcalc.core.progress import collector_paused
from xlcalc.files.celltext import escape_formula
from xlcalc.files.outputs import check_outputs
from xlcalc.files.ownership import sealed_book, sums_path, sums_text
from xlcalc.files.writing import write_file, write_files
from xlcalc.io.lists.problems import shown
from xlcalc.io.results.row_xml import plain_column

if TYPE_CHECKING:
    from xlcalc.io.results.table_book import Finish

SUFFIXES: Final = (".xlsx", ".csv", ".parquet")
WRITE: Final = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
"""Somebody may write; who may always, such as root, is not to pass over a file that nobody may change."""

Tables = Mapping[str, pd.DataFrame]


def planned(path: Path, tables: Sequence[str]) -> tuple[Path, ...]:
    """Every file that `write_tables` makes of tables of these names, the list of checksums included."""
    if path.suffix.lower() == ".xlsx":
        return (path,)
    return (path, *(_beside(path, name) for name in tables[1:]), sums_path(path))


def check_output(
    path: Path,
    inputs: Iterable[Path] = (),
    *,
    tables: Sequence[str] = (),
    beside: Iterable[Path] = (),
    overwrite: bool = False,
    option: str = "-o",
) -> None:
    """Refuse an output that could not be written or would destroy something, before anything is computed.

    Parameters
    ----------
    path : Path
        The main output.
    inputs : iterable of Path
        What the command reads.
    tables : sequence of str
        Names of the tables that `write_tables` will get.
    beside : iterable of Path
        Other files that the command writes, such as a journal.
    overwrite : bool
        Files of others may be replaced; inputs never are.
    option : str
        The argument that names the output.

    Raises
    ------
    InputError
        Another ending, Parquet without pyarrow, a folder that does not exist or is read-only, or as
        `xlcalc.files.outputs.check_outputs`.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise InputError(option, str(path), "a name that ends in " + ", ".join(SUFFIXES))
    if path.suffix.lower() == ".parquet" and importlib.util.find_spec("pyarrow") is None:
        raise InputError(option, str(path), ".xlsx or .csv; Parquet needs: pip install 'xlcalc[parquet]'")
    if not path.parent.is_dir():
        raise InputError(option, str(path), "a name in a folder that exists")
    for place in (path.parent, path):
        if place.exists() and not (place.stat().st_mode & WRITE and os.access(place, os.W_OK)):
            raise InputError(option, f"{path}, where {place} is read-only", "a place to write")
    check_outputs((*planned(path, tables), *beside), inputs, overwrite=overwrite, option=option)


@collector_paused()
def write_tables(tables: Tables, path: Path, finish: Finish | None = None) -> tuple[Path, ...]:
    """Write tables; all files are complete before the first one gets its name.

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
        The files written. Beside those that are no workbook lies a list of their checksums.

    Raises
    ------
    InputError, WorkbookFileError
        The format is unknown, or a file cannot be written.
    """
    check_output(path, overwrite=True)
    suffix = path.suffix.lower()
    if suffix == ".xlsx":
        from xlcalc.io.results.table_book import table_book

        stamp = f"xlcalc {xlcalc.__version__} tables"
        write_file(path, sealed_book(table_book(tables, finish), stamp))
        return (path,)
    targets = planned(path, list(tables))[:-1]
    contents = [_csv(table) if suffix == ".csv" else _parquet(table) for table in tables.values()]
    digests = [hashlib.sha256(content).hexdigest() for content in contents]
    names = [target.name for target in targets]
    sums = sums_text(dict(zip(names, digests, strict=True)))
    whole = zip((*targets, sums_path(path)), (*contents, sums), strict=True)
    write_files({target: [content] for target, content in whole})
    return targets


def _beside(path: Path, name: str) -> Path:
    return path.with_name(f"{path.stem}_{name.replace(' ', '_')}{path.suffix}")


def _csv(table: pd.DataFrame) -> bytes:
    headings = [_quoted(str(name)) for name in table.columns]
    columns = [_texts(table[name]) for name in table.columns]
    lines = chain([headings], zip(*columns, strict=True))
    return "".join(f"{','.join(line)}\r\n" for line in lines).encode("utf-8-sig")


def _texts(column: pd.Series[Any]) -> list[str]:
    """Cells as the file shows them: most repeat in many rows, so each different one is written once."""
    if isinstance(column.dtype, np.dtype) and column.dtype.kind == "f":
        codes, numbers = pd.factorize(column.where(np.isfinite(column)))
        texts = np.array([*map(repr, numbers.tolist()), ""], object)
        written: list[str] = texts[codes].tolist()
        return written
    plain = plain_column(column)
    known = {cell: _quoted(cell) for cell in set(plain) if isinstance(cell, str)}
    return [known[c] if isinstance(c, str) else "" if c is None else str(c) for c in plain]


def _quoted(text: str) -> str:
    """A text as a cell of a CSV file, ahead of another one: a lone blank cell would be quoted."""
    row: str = csv.writer(_Echo()).writerow([escape_formula(text), ""])
    return row.removesuffix(",\r\n")


class _Echo:
    """A file that gives back what is written; the writer of a row passes it on."""

    def write(self, text: str) -> str:
        return text


def _parquet(table: pd.DataFrame) -> bytes:
    """Columns of texts and numbers mixed become texts."""
    plain = table.copy()
    for name in table.columns:
        if not pd.api.types.is_numeric_dtype(table[name].dtype):
            plain[name] = [None if cell is None else shown(cell) for cell in plain_column(table[name])]
    buffer = io.BytesIO()
    plain.to_parquet(buffer, index=False, engine="pyarrow")
    return buffer.getvalue()
