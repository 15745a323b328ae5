"""Reading CSV files of any common encoding and delimiter."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Final, cast

from xlcalc.core.errors import InputError
from xlcalc.files.celltext import unescape_formula
from xlcalc.files.reading import read_bytes
from xlcalc.io.lists.headings import recognise
from xlcalc.io.lists.rawtable import RawCell, RawTable

DELIMITERS: Final = (",", ";", "\t", "|")
LARGEST_BYTES: Final = 512 << 20
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_FALLBACK: Final = "cp1252"
_PROBE_ROWS: Final = 30
Known = Callable[[str], bool]


def is_heading(text: str) -> bool:
    """True for a heading of a drive schedule."""
    return recognise(text) is not None


def read_csv_table(path: Path, encoding: str | None = None, known: Known = is_heading) -> RawTable:
    """All rows of a CSV file as texts.

    Parameters
    ----------
    path : Path
        Separated by comma, semicolon, tab or vertical bar: the one that gives most known texts.
    encoding : str, optional
        Without it: what the mark at the start of the file says, else UTF-8, else Windows-1252.
    known : callable
        Tells a text that belongs into such a file.

    Raises
    ------
    InputError
        The file cannot be read or decoded.
    """
    text, remarks = decoded(path, encoding)
    delimiter = max(DELIMITERS, key=lambda sign: _recognised(text, sign, known))
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as problem:
        raise InputError(path.name, f"no sound CSV file ({problem})", "a CSV file", wrong_kind=True) from None
    if "'" in text:
        rows = [[unescape_formula(cell) for cell in row] for row in rows]
    return RawTable(path.name, cast(list[list[RawCell]], rows), True, remarks)


def decoded(path: Path, encoding: str | None) -> tuple[str, tuple[str, ...]]:
    """Text of a file, and a sentence where its encoding was guessed; arguments as in `read_csv_table`."""
    if encoding is not None and not _is_encoding(encoding):
        raise InputError("--encoding", ascii(encoding), "an encoding such as utf-8 or cp1252")
    data = read_bytes(path, LARGEST_BYTES)
    marked = next((name for mark, name in _MARKS if data.startswith(mark)), None)
    wanted = encoding or marked or "utf-8"
    try:
        return _text(data, wanted, path), ()
    except UnicodeError:
        if encoding or marked:
            raise InputError(path.name, f"no {wanted} text", "another --encoding", wrong_kind=True) from None
    try:
        return _text(data, _FALLBACK, path), (f"{path.name} is no UTF-8 text; read as Windows-1252",)
    except UnicodeDecodeError:
        raise InputError(
            path.name, "neither UTF-8 nor Windows-1252 text", "a text file, or --encoding", wrong_kind=True
        ) from None


def _is_encoding(name: str) -> bool:
    """Whether text can be in an encoding of that name; there are codecs for other ends, such as ``hex``."""
    try:
        "A1".encode(name).decode(name)
    except (LookupError, ValueError, TypeError):
        return False
    return True


def _text(data: bytes, encoding: str, path: Path) -> str:
    text = data.decode(encoding)
    if "\x00" in text:
        raise InputError(path.name, "no text (it holds NUL characters)", "a text file, or --encoding")
    return text


def _recognised(text: str, delimiter: str, known: Known) -> int:
    """Known texts in the first rows, read with this delimiter."""
    found = 0
    try:
        for number, row in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)):
            if number >= _PROBE_ROWS:
                break
            found += sum(known(cell) for cell in row)
    except csv.Error:
        return 0
    return found
