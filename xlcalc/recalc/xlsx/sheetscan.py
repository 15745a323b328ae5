"""Every cell of a sheet with its place in the bytes, by a real XML parser: right for any spelling of the XML.

Slower than `xlcalc.recalc.xlsx.cells`, which reads plainly written sheets and falls back to this one.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple
from xml.parsers import expat

from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW, Position, cell_name, parse_cell

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_SEP = "\n"
_TAG = re.compile(rb"""<[^<>"']*+(?:"[^"]*+"[^<>"']*+|'[^']*+'[^<>"']*+)*+>""")
_WORKSHEET = f"{MAIN}{_SEP}worksheet"
_SHEET_DATA = f"{MAIN}{_SEP}sheetData"
_ROW = f"{MAIN}{_SEP}row"
_CELL = f"{MAIN}{_SEP}c"
_FORMULA = f"{MAIN}{_SEP}f"
_VALUE = f"{MAIN}{_SEP}v"
_INLINE = f"{MAIN}{_SEP}is"
_COL = f"{MAIN}{_SEP}col"

Span = tuple[int, int]
"""Start and end of an element in the bytes of the sheet."""


class CellSpan(NamedTuple):
    """A cell as it stands in the bytes."""

    start: int
    tag_end: int
    end: int
    attributes: Mapping[str, str]
    formula_attributes: Mapping[str, str] | None
    formula: Span | None
    formula_text: str
    value: Span | None
    value_text: str | None
    inline: Span | None

    @property
    def is_blank(self) -> bool:
        """Whether the cell holds neither formula nor value."""
        return self.formula is None and self.inline is None and not self.value_text

    @property
    def marks_member(self) -> bool:
        """Whether its formula is an empty mark, as Excel writes into the cells of a volatile array."""
        kind = (self.formula_attributes or {}).get("t", "")
        return self.formula is not None and not self.formula_text and kind in ("", "normal")


@dataclass
class RowSpan:
    """A row as it stands in the bytes; its cells by column."""

    number: int
    start: int
    tag_end: int
    end: int
    attributes: Mapping[str, str]
    cells: dict[int, CellSpan] = field(default_factory=dict)

    @property
    def self_closing(self) -> bool:
        """Whether the row is written as one empty tag."""
        return self.tag_end == self.end


@dataclass
class SheetScan:
    """All rows of a sheet, the end of its data, the prefix of its elements and the styles of its columns."""

    prefix: bytes = b""
    data_end: int = 0
    rows: dict[int, RowSpan] = field(default_factory=dict)
    column_styles: list[tuple[int, int, str]] = field(default_factory=list)
    in_order: bool = True


def scan_sheet(data: bytes) -> SheetScan:
    """Find every row and cell.

    Parameters
    ----------
    data : bytes
        The sheet's XML in UTF-8.

    Raises
    ------
    UnsafePartError
        For malformed XML and for cell or row references that no worksheet has.
    """
    reader = _Reader(data)
    parser = expat.ParserCreate("utf-8", _SEP)
    parser.buffer_text = True
    reader.parser = parser
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.text
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise UnsafePartError(f"it is not well-formed XML ({error})") from None
    return reader.scan


def tag_end(data: bytes, start: int) -> int:
    """Where the tag that starts at an offset ends."""
    match = _TAG.match(data, start)
    if match is None:
        raise UnsafePartError("a tag cannot be read")
    return match.end()


class _Reader:
    """Handlers for one pass over a sheet."""

    parser: expat.XMLParserType

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.scan = SheetScan()
        self.path: list[str] = []
        self.row: RowSpan | None = None
        self.row_number = 0
        self.col_number = 0
        self.cell: dict[str, object] | None = None
        self.cell_attributes: Mapping[str, str] = {}
        self.parts: dict[str, tuple[int, int, Mapping[str, str], str]] = {}
        self.part_start = 0
        self.part_attributes: Mapping[str, str] = {}
        self.collected: list[str] | None = None
        self.cell_start = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        path = self.path
        depth = len(path)
        path.append(name)
        if depth == 0 and name != _WORKSHEET:
            raise UnsafePartError("it is not the part of a worksheet")
        if depth == 2 and name == _COL:
            self._column(attributes)
        elif depth == 1 and name == _SHEET_DATA:
            start = self.parser.CurrentByteIndex
            tag = self.data[start + 1 : tag_end(self.data, start)]
            self.scan.prefix = tag[: tag.index(b"sheetData")]
        elif depth == 2 and name == _ROW and path[1] == _SHEET_DATA:
            self._start_row(attributes)
        elif depth == 3 and name == _CELL and self.row is not None:
            self.cell_start = self.parser.CurrentByteIndex
            self.cell_attributes = attributes
            self.parts = {}
        elif depth == 4 and path[3] == _CELL and self.row is not None and name in (_FORMULA, _VALUE, _INLINE):
            self.part_start = self.parser.CurrentByteIndex
            self.part_attributes = attributes
            self.collected = []
        elif depth == 5 and self.collected is not None and path[4] != _INLINE:
            raise UnsafePartError("a formula or a value holds other elements")

    def text(self, text: str) -> None:
        if self.collected is not None:
            self.collected.append(text)

    def end(self, name: str) -> None:
        path = self.path
        path.pop()
        depth = len(path)
        if self.row is not None:
            if depth == 4 and self.collected is not None:
                if name in self.parts:
                    raise UnsafePartError("a cell holds two formulas or two values")
                span = (self.part_start, self._end_of(self.part_start))
                self.parts[name] = (*span, self.part_attributes, "".join(self.collected))
                self.collected = None
            elif depth == 3 and name == _CELL:
                self._end_cell()
            elif depth == 2 and name == _ROW:
                self.row.end = self._end_of(self.row.start)
                self.row = None
        elif depth == 1 and name == _SHEET_DATA:
            self.scan.data_end = self.parser.CurrentByteIndex

    def _end_of(self, start: int) -> int:
        index = self.parser.CurrentByteIndex
        if self.data[index - 2 : index] == b"/>" and tag_end(self.data, start) == index:
            return index
        return tag_end(self.data, index)

    def _column(self, attributes: Mapping[str, str]) -> None:
        try:
            first, last = int(attributes["min"]), int(attributes["max"])
        except (KeyError, ValueError):
            return
        if "style" in attributes:
            self.scan.column_styles.append((first, last, attributes["style"]))

    def _start_row(self, attributes: Mapping[str, str]) -> None:
        text = attributes.get("r", "")
        number = self.row_number + 1 if not text else int(text) if text.isascii() and text.isdigit() else 0
        if not 1 <= number <= MAX_ROW:
            raise UnsafePartError(f"row number {text[:20]!r} lies outside a worksheet")
        if number in self.scan.rows:
            raise UnsafePartError(f"row {number} occurs twice")
        if number < self.row_number:
            self.scan.in_order = False
        start = self.parser.CurrentByteIndex
        self.row = RowSpan(number, start, tag_end(self.data, start), 0, attributes)
        self.scan.rows[number] = self.row
        self.row_number, self.col_number = number, 0

    def _end_cell(self) -> None:
        assert self.row is not None
        row, col = self._position()
        if row != self.row.number or col in self.row.cells:
            raise UnsafePartError(f"cell {cell_name(row, col)} stands in the wrong row or occurs twice")
        if col < self.col_number:
            self.scan.in_order = False
        self.col_number = col
        formula, value, inline = self.parts.get(_FORMULA), self.parts.get(_VALUE), self.parts.get(_INLINE)
        self.row.cells[col] = CellSpan(
            start=self.cell_start,
            tag_end=tag_end(self.data, self.cell_start),
            end=self._end_of(self.cell_start),
            attributes=self.cell_attributes,
            formula_attributes=formula[2] if formula else None,
            formula=formula[:2] if formula else None,
            formula_text=formula[3] if formula else "",
            value=value[:2] if value else None,
            value_text=value[3] if value else None,
            inline=inline[:2] if inline else None,
        )

    def _position(self) -> Position:
        text = self.cell_attributes.get("r")
        if text is None:
            assert self.row is not None
            position: Position | None = (self.row.number, self.col_number + 1)
            if self.col_number >= MAX_COL:
                position = None
        else:
            position = parse_cell(text)
        if position is None:
            raise UnsafePartError(f"cell reference {(text or '')[:20]!r} lies outside a worksheet")
        return position
