"""Formulas that were filled down, recognised by their text, so that only the first cell is analysed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from xlcalc.recalc.cellnames import MAX_ROW, CellRange, column_letters
from xlcalc.recalc.evaluation.formula.parts import (
    Compiled,
    Identity,
    Kept,
    OwnRow,
    Part,
    Sized,
    Slot,
    Span,
)
from xlcalc.recalc.evaluation.formula.pattern import SLOT, cell_position, split_pattern
from xlcalc.recalc.xlsx.archive.xmlparts import escape

_CORNER = re.compile(r"(\$?[A-Za-z]+\$?)(\d+)\Z")


class RowLayout(NamedTuple):
    """Bytes with ``%d`` for each row number, and how far each lies below the formula's own row."""

    text: bytes
    distances: tuple[int, ...]

    def at(self, row: int) -> bytes:
        """The text in another row."""
        return self.text % tuple([row + far for far in self.distances])


@dataclass(frozen=True, slots=True)
class FilledDown:
    """A formula as it is written and as it is fed, for all rows in which it means the same.

    Parameters
    ----------
    written : RowLayout
        As the file writes it.
    level : bytes or None
        The same with a mark for the own row, where it names no other row.
    fed : RowLayout or None
        As the engine gets it; None where that is what is written.
    first_row, last_row : int
        Rows in which this holds.
    kind : int
        Number of the compiled formula.
    refused : bool
        It is not fed.
    """

    written: RowLayout
    level: bytes | None
    fed: RowLayout | None
    first_row: int
    last_row: int
    kind: int
    refused: bool

    def matches(self, text: bytes, row: int, digits: bytes) -> bool:
        """Whether a text in another row is this formula filled down."""
        if not self.first_row <= row <= self.last_row:
            return False
        if self.level is not None:
            return self.level.replace(b"\0", digits) == text
        return self.written.at(row) == text


def filled_down(
    raw: bytes,
    cells: Sequence[str],
    row: int,
    compiled: Compiled,
    kind: int,
    table: CellRange | None,
    caller: str,
) -> FilledDown | None:
    """A formula filled down by rows; None where its text alone does not determine it.

    Parameters
    ----------
    raw : bytes
        The formula as the file writes it, entities included.
    cells : sequence of str
        Cell addresses in it.
    row : int
        Where it stands.
    compiled : Compiled
    kind : int
        Number of `compiled`.
    table : CellRange or None
        The table around the formula, if that has a part in its meaning.
    caller : str
        What tells callbacks which formula calls, in every row.
    """
    text = raw.decode()
    if "&#" in text or "\r" in text:
        return None
    pattern, found = split_pattern(text)
    if found != list(cells):
        return None
    frame = _Frame(row, 1, MAX_ROW)
    if table is not None:
        frame.keep(table.first_row, table.last_row)
    pieces = [frame.literal(piece) for piece in pattern.split(SLOT)]
    woven = pieces[0]
    distances: list[int] = []
    for cell, piece in zip(cells, pieces[1:], strict=True):
        woven += frame.cell(cell, distances) + piece
    written = RowLayout(woven, tuple(distances))
    fed: RowLayout | None = None
    if not compiled.refusal:
        fed = _fed(compiled.parts, cells, frame, caller)
        if fed is None:
            return None
    level = None
    if not any(distances):
        level = written.text.replace(b"%d", b"\0").replace(b"%%", b"%")
    return FilledDown(
        written,
        level,
        None if fed == written else fed,
        frame.first,
        frame.last,
        kind,
        bool(compiled.refusal),
    )


def _fed(parts: Sequence[Part], cells: Sequence[str], frame: _Frame, caller: str) -> RowLayout | None:
    distances: list[int] = []
    text = b""
    for part in _unsized(parts, cells, frame.row):
        if isinstance(part, str):
            text += frame.literal(escape(part))
        elif isinstance(part, Slot):
            text += frame.cell(cells[part.index], distances)
        elif isinstance(part, Kept) and part.fixed(cells):
            text += frame.literal(escape(part.at(cells)))
        elif isinstance(part, Span | Kept):
            behind = b""
            if isinstance(part, Kept):
                around = part.around(cells)
                text += frame.literal(escape(around[0]))
                behind = frame.literal(around[1])
                part = part.span
            if not frame.ordered(cells[part.first], cells[part.last]):
                return None
            text += frame.cell(cells[part.first], distances) + b":"
            text += frame.cell(cells[part.last], distances) + behind
        elif isinstance(part, Identity):
            text += frame.literal(caller)
        elif isinstance(part, OwnRow):
            if not part.first_row <= frame.row <= part.last_row:
                return None
            frame.keep(part.first_row, part.last_row)
            columns = [part.first_col] if part.first_col == part.last_col else [part.first_col, part.last_col]
            named = [f"{column_letters(column)}%d".encode() for column in columns]
            text += frame.literal(escape(part.prefix)) + b":".join(named)
            distances += [0] * len(columns)
        else:
            return None
    return RowLayout(text, tuple(distances))


def _unsized(parts: Sequence[Part], cells: Sequence[str], row: int) -> Iterator[Part]:
    """The parts, with ranges that have their size already, and keep it, as they are written."""
    for part in parts:
        if isinstance(part, Sized) and part.same(cells, row) and part.stays(cells):
            yield from part.plain
        else:
            yield part


class _Frame:
    """The rows for which the comparison so far holds."""

    def __init__(self, row: int, first: int, last: int) -> None:
        self.row, self.first, self.last = row, first, last

    def keep(self, first: int, last: int) -> None:
        self.first, self.last = max(self.first, first), min(self.last, last)

    def literal(self, text: str) -> bytes:
        return text.replace("%", "%%").encode()

    def cell(self, address: str, distances: list[int]) -> bytes:
        match = _CORNER.match(address)
        if match is None:
            raise ValueError(address)
        if match[1].endswith("$"):
            return address.encode()
        far = int(match[2]) - self.row
        self.keep(1 - far, MAX_ROW - far)
        distances.append(far)
        return match[1].encode() + b"%d"

    def ordered(self, first: str, last: str) -> bool:
        """Whether two corners are in the order of rows and columns; keeps the rows in which they stay so."""
        (top, left), (bottom, right) = cell_position(first), cell_position(last)
        if top > bottom or left > right:
            return False
        fixed = [corner.rpartition("$")[2].isdigit() for corner in (first, last)]
        if fixed == [True, False]:
            self.keep(self.row - (bottom - top), MAX_ROW)
        elif fixed == [False, True]:
            self.keep(1, self.row + (bottom - top))
        return True
