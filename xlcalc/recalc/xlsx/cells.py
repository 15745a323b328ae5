"""The formula cells of a sheet: where they stand, what kind of formula they hold, and their cached values."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal, NamedTuple

from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import (
    MAX_ROW,
    CellRange,
    Position,
    cell_name,
    column_number,
    parse_range,
)
from xlcalc.recalc.xlsx.archive.xmlparts import unescape
from xlcalc.recalc.xlsx.cachedvalues import decode
from xlcalc.recalc.xlsx.sheetscan import MAIN, CellSpan, SheetScan, scan_sheet
from xlcalc.schema.values import Scalar

FormulaKind = Literal["normal", "shared", "array", "table"]

MAX_ARRAY_AREA = 5_000_000
_KINDS: dict[str, FormulaKind] = {
    "": "normal",
    "normal": "normal",
    "shared": "shared",
    "array": "array",
    "dataTable": "table",
}
_ANY_FORMULA = re.compile(rb"<(?:[\w.-]+:)?f[\s/>]")
_PLAIN_FORMULA_START = re.compile(rb"<f[\s/>]")
PLAIN_CELL = re.compile(
    rb'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"([^<>]*)>\s*+'
    rb"<f(?=[\s/>])([^<>]*)(?:/>|>([^<]*)</f>)"
    rb"(\s*+)(<v(?=[\s/>])(?:[^<>]*/>|[^<>]*>([^<]*)</v>))?\s*+</c>"
)
_DEFAULT_NAMESPACE = re.compile(rb"""<worksheet\s[^<>]*xmlns=["']%b["']""" % re.escape(MAIN.encode()))
_ATTRIBUTE = re.compile(rb"""\s+([\w:.-]+)\s*=\s*(?:"([^"]*)"|'([^']*)')""")
_CHARACTER = re.compile(r"&#(x[0-9A-Fa-f]+|[0-9]+);")


class FormulaCell(NamedTuple):
    """A cell with a formula.

    Parameters
    ----------
    row, col : int
        Counted from 1.
    kind : str
        ``normal``, ``shared``, ``array`` or ``table`` (a data table, which holds no formula text).
    ref : CellRange or None
        Range of a shared formula (at its first cell), of an array or of a data table. The cells of an
        array's range hold its old results.
    shared_index : int or None
        Number of the shared formula.
    dynamic : bool
        The cell is marked as a dynamic array (``cm``): its range follows the size of the result. An array
        without the mark keeps the range that was typed.
    type : str
        Type of the cached value as stored (``""`` for a number).
    text : str or None
        The cached value as stored; None where there is none.
    start : int
        Where the cell begins in the bytes of its sheet.
    """

    row: int
    col: int
    kind: FormulaKind
    ref: CellRange | None
    shared_index: int | None
    dynamic: bool
    type: str
    text: str | None
    start: int

    @property
    def position(self) -> Position:
        """Row and column."""
        return self.row, self.col

    @property
    def name(self) -> str:
        """Name of the cell, such as ``B3``."""
        return cell_name(self.row, self.col)

    @property
    def cached(self) -> Scalar:
        """Cached value; None where there is none or where it has no plain form (see `decode`)."""
        return decode(self.type, self.text)


class _FormulaMarks(NamedTuple):
    kind: FormulaKind
    ref: CellRange | None
    shared_index: int | None


_NO_MARKS = ("", False)
_NORMAL = _FormulaMarks("normal", None, None)


def scan_formulas(data: bytes) -> tuple[list[FormulaCell], SheetScan | None]:
    """Formula cells of a sheet in the order of the file.

    Parameters
    ----------
    data : bytes
        The sheet's XML in UTF-8, known to be well-formed.

    Returns
    -------
    formulas : list of FormulaCell
    scan : SheetScan or None
        The scan of the whole sheet where the plain reading was not possible.

    Raises
    ------
    UnsafePartError
        For references outside a worksheet, cells that occur twice, and absurd array ranges.
    """
    if not _ANY_FORMULA.search(data):
        return [], None
    formulas = _scan_plain(data)
    scan = None
    if formulas is None:
        scan = scan_sheet(data)
        formulas = [
            _from_span(row.number, col, cell)
            for row in scan.rows.values()
            for col, cell in row.cells.items()
            if cell.formula is not None
        ]
    if _any_twice(formulas):
        raise UnsafePartError("a formula cell occurs twice")
    return formulas, scan


def _any_twice(formulas: list[FormulaCell]) -> bool:
    row, col = 0, 0
    for cell in formulas:
        if cell[0] < row or (cell[0] == row and cell[1] <= col):
            return len({(cell.row, cell.col) for cell in formulas}) != len(formulas)
        row, col = cell[0], cell[1]
    return False


def _scan_plain(data: bytes) -> list[FormulaCell] | None:
    """Read a plainly written sheet with one expression; None where any formula escapes it."""
    if data.find(b"<!") >= 0 or data.find(b"<?", 4) >= 0 or not _DEFAULT_NAMESPACE.search(data):
        return None
    if data.count(b"xmlns=") != 1:
        return None
    start, end = data.find(b"<sheetData"), data.rfind(b"</sheetData>")
    if start < 0 or end < 0:
        return None
    found: list[FormulaCell] = []
    append, new = found.append, tuple.__new__
    columns: dict[bytes, int] = {}
    for match in PLAIN_CELL.finditer(data, start, end):
        letters, digits, rest, formula, _, _, element, value = match.groups()
        row = int(digits)
        col = columns.get(letters) or columns.setdefault(letters, column_number(letters.decode()))
        if not col or row > MAX_ROW:
            raise UnsafePartError(f"cell reference {(letters + digits).decode()!r} lies outside a worksheet")
        type_, dynamic = cell_marks(rest) if rest else _NO_MARKS
        kind, ref, shared_index = _formula_marks(formula) if formula else _NORMAL
        text = None if element is None else plain_value(value) if value else ""
        append(new(FormulaCell, (row, col, kind, ref, shared_index, dynamic, type_, text, match.start())))
    return found if len(found) == sum(1 for _ in _PLAIN_FORMULA_START.finditer(data)) else None


@lru_cache(maxsize=4096)
def cell_marks(rest: bytes) -> tuple[str, bool]:
    """Type and mark of a dynamic array among the attributes of a cell."""
    attributes = _attributes(rest)
    return attributes.get("t", ""), attributes.get("cm", "0") != "0"


@lru_cache(maxsize=65536)
def _formula_marks(rest: bytes) -> _FormulaMarks:
    return _marks(_attributes(rest))


def _marks(attributes: dict[str, str]) -> _FormulaMarks:
    kind = _KINDS.get(attributes.get("t", ""))
    if kind is None:
        raise UnsafePartError(f"a formula is of an unknown kind ({attributes.get('t', '')[:20]!r})")
    text = attributes.get("ref")
    ref = None if text is None else parse_range(text)
    if text is not None and ref is None:
        raise UnsafePartError(f"the range {text[:40]!r} of a formula lies outside a worksheet")
    if ref is not None and kind == "array" and ref.area > MAX_ARRAY_AREA:
        raise UnsafePartError(f"an array formula covers {ref.area} cells")
    index = attributes.get("si")
    return _FormulaMarks(kind, ref, int(index) if index and index.isascii() and index.isdigit() else None)


def _attributes(text: bytes) -> dict[str, str]:
    return {
        match[1].decode(): plain_value(match[2] if match[2] is not None else match[3])
        for match in _ATTRIBUTE.finditer(text)
    }


def plain_value(text: bytes) -> str:
    """Text of a value as stored, entities resolved."""
    decoded = text.decode()
    if "\r" in decoded:
        decoded = decoded.replace("\r\n", "\n").replace("\r", "\n")
    if "&" not in decoded:
        return decoded
    decoded = _CHARACTER.sub(_character, decoded)
    return unescape(decoded)


def _character(match: re.Match[str]) -> str:
    digits = match[1]
    number = int(digits[1:], 16) if digits[0] == "x" else int(digits)
    return "&amp;" if number == 38 else chr(number)


def _from_span(row: int, col: int, cell: CellSpan) -> FormulaCell:
    marks = _marks(dict(cell.formula_attributes or {}))
    return FormulaCell(
        row,
        col,
        *marks,
        cell.attributes.get("cm", "0") != "0",
        cell.attributes.get("t", ""),
        cell.value_text,
        cell.start,
    )
