"""Structured references: parts of a table by the names of its columns, in every spelling found in files."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.formula.refusal import Refusal

_ITEMS = {"#all": "all", "#data": "data", "#headers": "headers", "#totals": "totals", "#this row": "row"}
_ALLOWED = ({"headers", "data"}, {"data", "totals"})


@dataclass(frozen=True)
class DeclaredTable:
    """A table as the workbook declares it; `area` includes header and totals rows.

    `filtered` is the area of its filter, where that has conditions.
    """

    name: str
    sheet: str
    area: CellRange
    columns: tuple[str, ...]
    header_rows: int = 1
    totals_rows: int = 0
    filtered: CellRange | None = None

    @property
    def first_data_row(self) -> int:
        return self.area.first_row + self.header_rows

    @property
    def last_data_row(self) -> int:
        return self.area.last_row - self.totals_rows


@dataclass(frozen=True)
class StructuredReference:
    """A parsed reference: table name (empty inside the table itself), items, first and last column."""

    table: str
    items: frozenset[str]
    first: str | None
    last: str | None

    @property
    def own_row(self) -> bool:
        return "row" in self.items


@dataclass(frozen=True)
class TablePart:
    """The part of a table; `area` is None where that part does not exist (a table without totals)."""

    table: DeclaredTable
    own_row: bool
    area: CellRange | None


def parse_structured(text: str) -> StructuredReference:
    """Take a structured reference apart.

    Raises
    ------
    Refusal
        Where the text is none.

    Examples
    --------
    >>> parse_structured("Drives[[#All],[Tag]:[Load]]").last
    'Load'
    >>> sorted(parse_structured("Drives[@[a b]]").items)
    ['row']
    >>> parse_structured("Drives[x'[y']]").first, parse_structured("Drives[Est ]").first
    ('x[y]', 'Est ')
    """
    table, bracket, rest = text.partition("[")
    if not bracket or not rest.endswith("]"):
        raise Refusal(f"{text!r} is not a structured reference")
    inner = rest[:-1]
    items: set[str] = set()
    if inner.lstrip().startswith("@"):
        items.add("row")
        inner = inner.lstrip()[1:]
    columns: list[str] = []
    span = False
    for piece, separator in _pieces(inner):
        special = piece.strip().startswith("#")
        item = _ITEMS.get(_collapse(piece)) if special else None
        if special and item is None:
            raise Refusal(f"{text!r}: {piece!r} is no part of a table")
        if item is not None:
            items.add(item)
        elif piece.strip():
            columns.append(_unescape(piece))
            span = span or separator == ":"
    if len(columns) > 2 or (len(columns) == 2 and not span):
        raise Refusal(f"{text!r}: separate columns of a table in one reference are not supported")
    if len(items) > 1 and items not in _ALLOWED:
        raise Refusal(f"{text!r}: these parts of a table do not go together")
    first = columns[0] if columns else None
    return StructuredReference(table.strip(), frozenset(items), first, columns[-1] if columns else None)


def resolve(reference: StructuredReference, table: DeclaredTable) -> TablePart:
    """The cells that a structured reference means; for the own row the rows of the data.

    Raises
    ------
    Refusal
        Where the table has no such column.
    """
    area = table.area
    first = _column(reference.first, table) if reference.first is not None else area.first_col
    last = _column(reference.last, table) if reference.last is not None else area.last_col
    first, last = min(first, last), max(first, last)
    top, bottom = _rows(reference.items, table)
    found = CellRange(top, first, bottom, last) if top <= bottom else None
    return TablePart(table, reference.own_row, found)


def _rows(items: frozenset[str], table: DeclaredTable) -> tuple[int, int]:
    area = table.area
    if "all" in items:
        return area.first_row, area.last_row
    if items == {"headers"}:
        return area.first_row, area.first_row + table.header_rows - 1
    if items == {"totals"}:
        return area.last_row - table.totals_rows + 1, area.last_row
    top = area.first_row if "headers" in items else table.first_data_row
    return top, area.last_row if "totals" in items else table.last_data_row


def _column(name: str, table: DeclaredTable) -> int:
    for spelling in (_folded, _collapse):
        found = [n for n, column in enumerate(table.columns) if spelling(column) == spelling(name)]
        if len(found) == 1:
            return table.area.first_col + found[0]
        if found:
            raise Refusal(f"table {table.name} has several columns like {name!r}")
    raise Refusal(f"table {table.name} has no column {name!r}")


def _folded(name: str) -> str:
    """The name with its blanks; how a line break is written does not count."""
    return name.replace("\r\n", "\n").replace("\r", "\n").casefold()


def _collapse(name: str) -> str:
    return " ".join(name.split()).casefold()


def _pieces(inner: str) -> Iterator[tuple[str, str]]:
    """Names between the outer brackets, each with the separator before it."""
    if "[" not in inner.replace("'[", ""):
        yield inner, ""
        return
    depth = 0
    start = 0
    position = 0
    separator = ""
    while position <= len(inner):
        character = inner[position] if position < len(inner) else ","
        if character == "'":
            position += 2
            continue
        if character == "[":
            depth += 1
        elif character == "]":
            depth -= 1
        elif character in ",:" and depth == 0:
            piece = inner[start:position].strip()
            bracketed = piece.startswith("[") and piece.endswith("]")
            yield piece[1:-1] if bracketed else piece, separator
            separator = character
            start = position + 1
        position += 1


def _unescape(name: str) -> str:
    plain: list[str] = []
    characters = iter(name)
    for character in characters:
        plain.append(next(characters, "") if character == "'" else character)
    return "".join(plain)
