"""A plainly written sheet, read in one pass: its constants and rewritten formulas as the engine takes them.

No object is kept for a cell; a formula is read again from the bytes where it is asked for.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_left
from collections.abc import Container, Iterator

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW, CellRange, column_number
from xlcalc.recalc.evaluation.content import CellFormula, Constant, PlainSource
from xlcalc.recalc.evaluation.feeding.feed import cell_xml, packed_rows
from xlcalc.recalc.evaluation.feeding.filldown import FilledDown, RowLayout, filled_down
from xlcalc.recalc.evaluation.feeding.prepared import Prepared, Preparer
from xlcalc.recalc.evaluation.formula.parts import Compiled, FormulaPlace
from xlcalc.recalc.evaluation.formula.pattern import shift, split_pattern
from xlcalc.recalc.xlsx.archive.packed import Packed
from xlcalc.recalc.xlsx.archive.xmlparts import escape
from xlcalc.recalc.xlsx.plaincells import attributes, plain_text
from xlcalc.schema.values import CellError

_FIRST_PLACE = 1 << 32
"""Above the number of any formula."""

_ROWS, _COLUMNS = MAX_ROW + 1, MAX_COL + 1


def caller_text(sheet: int, col: int) -> str:
    """An expression for a column of a sheet, the same in all its rows.

    Examples
    --------
    >>> caller_text(0, 2)
    'ROW()+4297064450'
    """
    return f"ROW()+{_FIRST_PLACE + (sheet * _COLUMNS + col) * _ROWS}"


def caller_place(number: float) -> tuple[int, int, int] | None:
    """Sheet, row and column behind the value of such an expression; None for the number of a formula.

    Examples
    --------
    >>> caller_place(4297064450 + 7), caller_place(7.0)
    ((0, 7, 2), None)
    """
    if number < _FIRST_PLACE:
        return None
    column, row = divmod(int(number) - _FIRST_PLACE, _ROWS)
    sheet, col = divmod(column, _COLUMNS)
    return sheet, row, col


_CELL = re.compile(
    rb'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"([^<>]*?)(?:/>|>'
    rb"(?:\s*+<f(?=[\s/>])([^<>]*?)(?:/>|>([^<]*)</f>)\s*+(?:<v(?=[\s/>])[^<>]*?(?:/>|>[^<]*</v>))?\s*+"
    rb"|\s*+(?:<v(?=[\s/>])[^<>]*?(?:/>|>([^<]*)</v>))?\s*+"
    rb"(?:<is><t(?:\s[^<>]*)?>([^<]*)</t></is>)?\s*+)</c>)"
)
_STARTS = tuple(b"<c" + end for end in (b" ", b"/", b">", b"\t", b"\n", b"\r"))
_PLAIN_DIGITS = b"0123456789.-"
_PIECES = 8192
_ROW_RANGE = re.compile(r"\d\s*:|:\s*\$?\d")


class NotPlain(Exception):
    """The sheet has to be read cell by cell."""


class PlainSheet:
    """The formulas of a plainly written sheet, numbered from `base` on in the order of the file.

    `number` is that of the sheet. The engine keeps formulas that differ in nothing but the rows of cells as
    one, so callbacks are not handed the number of the formula: it is found by its row and column.
    """

    def __init__(self, name: str, source: PlainSource, preparer: Preparer, base: int, number: int) -> None:
        self.name = name
        self.base = base
        self.number = number
        self.rows, self.cols = array("i"), array("i")
        self.kinds = array("i")
        self.compiled: list[Compiled] = []
        self.error_constants: list[tuple[int, int, CellError]] = []
        self._source = source
        self._preparer = preparer
        self._starts = array("q")
        self._texts: dict[int, str | RowLayout] = {}
        self._numbers: dict[int, int] = {}
        self._feed: Packed | None = self._pass(frozenset(), keep=True)

    def __len__(self) -> int:
        return len(self.rows)

    def feed(self, without: Container[int]) -> Packed:
        """The sheet for the engine; formulas with the given numbers are left out."""
        packed = self._feed
        self._feed = None
        return self._pass(without, keep=False) if packed is None or without else packed

    def _pass(self, without: Container[int], *, keep: bool) -> Packed:
        source = self._source
        packed = packed_rows(_Pass(self, source, self._preparer, without, keep=keep).pieces(source.data))
        source.release()
        return packed

    def item(self, identity: int) -> Prepared:
        """One formula."""
        index = identity - self.base
        row, col = self.rows[index], self.cols[index]
        source = CellFormula(row, col, self._text(index))
        return Prepared(
            identity, self.name, source, self.compiled[self.kinds[index]], CellRange(row, col, row, col), ""
        )

    def identity_at(self, row: int, col: int) -> int:
        """Number of the formula in a cell."""
        return self.base + self.cols.index(col, bisect_left(self.rows, row))

    def refused(self) -> Iterator[tuple[int, str]]:
        """Number and reason of every formula that cannot be rewritten."""
        if any(compiled.refusal for compiled in self.compiled):
            for index, kind in enumerate(self.kinds):
                if reason := self.compiled[kind].refusal:
                    yield self.base + index, reason

    def expected_calls(self, without: Container[int]) -> int:
        """Calls of our functions in the formulas."""
        calls = [len(compiled.own_calls) for compiled in self.compiled]
        if not any(calls):
            return 0
        return sum(calls[kind] for index, kind in enumerate(self.kinds) if self.base + index not in without)

    def _text(self, index: int) -> str:
        known = self._texts.get(index)
        if isinstance(known, RowLayout):
            return _formula_text(known.at(self.rows[index]))
        if known is not None:
            return known
        match = _CELL.match(self._source.data, self._starts[index])
        if match is None:
            raise NotPlain
        return _formula_text(match[5])

    def kind_of(self, compiled: Compiled) -> int:
        """Number of a compiled formula."""
        number = self._numbers.get(id(compiled))
        if number is None:
            number = self._numbers[id(compiled)] = len(self.compiled)
            self.compiled.append(compiled)
        return number

    def keep(self, row: int, col: int, kind: int, start: int) -> None:
        """Note a formula."""
        self.rows.append(row)
        self.cols.append(col)
        self.kinds.append(kind)
        self._starts.append(start)

    def keep_text(self, index: int, text: str | RowLayout) -> None:
        """Note the text of a formula that has none of its own in the file."""
        self._texts[index] = text


class _Pass:
    """One pass over the sheet."""

    def __init__(
        self, sheet: PlainSheet, source: PlainSource, preparer: Preparer, without: Container[int], keep: bool
    ) -> None:
        self._sheet, self._source, self._preparer = sheet, source, preparer
        self._without, self._keep = without, keep
        self._shared: dict[bytes, tuple[int, int, str]] = {}
        self._followers: dict[tuple[str, int], FilledDown] = {}
        self._columns: dict[bytes, int] = {}
        self._string_cells: dict[bytes, bytes] = {}
        self._types: dict[bytes, str] = {b"": "n"}
        self._count = 0

    def pieces(self, data: bytes) -> Iterator[bytes]:
        """The rows as the engine takes them; raises `NotPlain`."""
        start, end = data.find(b"<sheetData"), data.rfind(b"</sheetData>")
        predicted: dict[bytes, FilledDown] = {}
        columns, types = self._columns, self._types
        pieces: list[bytes] = []
        without, keep, base = self._without, self._keep, self._sheet.base
        last_digits, row, last_col, found = b"", 0, 0, 0
        for match in _CELL.finditer(data, start, end):
            letters, digits, rest, marks, formula, value, inline = match.groups()
            found += 1
            if digits != last_digits:
                number = int(digits)
                if not row < number <= MAX_ROW:
                    raise NotPlain
                pieces.append(b'</row><row r="%b">' % digits if row else b'<row r="%b">' % digits)
                row, last_digits, last_col = number, digits, 0
                if len(pieces) > _PIECES:
                    yield b"".join(pieces)
                    pieces.clear()
            col = columns.get(letters) or self._column(letters)
            if col <= last_col:
                raise NotPlain
            last_col = col
            if marks is None:
                if value is not None or inline is not None:
                    kind = types.get(rest) or self._type(rest)
                    pieces.append(self._constant(letters, digits, row, col, kind, value, inline))
                continue
            identity = base + self._count
            known = predicted.get(letters)
            if marks or formula is None or known is None or not known.matches(formula, row, digits):
                known, fed = self._formula(marks, formula, row, col, match.start())
                if known is not None:
                    predicted[letters] = known
            else:
                if keep:
                    self._sheet.keep(row, col, known.kind, match.start())
                fed = b"" if known.refused else formula if known.fed is None else known.fed.at(row)
            self._count += 1
            if fed and identity not in without:
                pieces.append(b'<c r="%b%b"><f>%b</f></c>' % (letters, digits, fed))
        if found != data.count(b"<c", start, end) or _any_cell(data[:start]) or _any_cell(data[end:]):
            raise NotPlain
        if row:
            pieces.append(b"</row>")
        yield b"".join(pieces)

    def _column(self, letters: bytes) -> int:
        number = column_number(letters.decode())
        if not number:
            raise NotPlain
        self._columns[letters] = number
        return number

    def _type(self, rest: bytes) -> str:
        kind = attributes(rest.decode()).get("t", "n")
        self._types[rest] = kind
        return kind

    def _constant(
        self,
        letters: bytes,
        digits: bytes,
        row: int,
        col: int,
        kind: str,
        value: bytes | None,
        inline: bytes | None,
    ) -> bytes:
        if inline is None and kind == "n" and value:
            if value.isdigit() and len(value) < 16:
                return b'<c r="%b%b"><v>%b.0</v></c>' % (letters, digits, value)
            if b"." in value and not value.translate(None, _PLAIN_DIGITS):
                self._source.constant(kind, value.decode())
                return b'<c r="%b%b"><v>%b</v></c>' % (letters, digits, value)
        elif inline is None and kind == "s" and value:
            known = self._string_cells.get(value)
            if known is None:
                text = self._source.constant(kind, value.decode())
                known = b't="str"><v xml:space="preserve">%b</v></c>' % escape(str(text)).encode()
                self._string_cells[value] = known
            return b'<c r="%b%b" %b' % (letters, digits, known)
        return self._other(letters, digits, row, col, kind, value, inline)

    def _other(
        self,
        letters: bytes,
        digits: bytes,
        row: int,
        col: int,
        kind: str,
        value: bytes | None,
        inline: bytes | None,
    ) -> bytes:
        constant: Constant | None
        if inline is not None:
            constant = self._source.constant(kind, self._source.inline(_formula_text(inline)))
        else:
            constant = self._source.constant(kind, _formula_text(value) if value else "")
        if constant is None:
            return b""
        if isinstance(constant, CellError) and self._keep:
            self._sheet.error_constants.append((row, col, constant))
        return cell_xml((letters + digits).decode(), constant).encode()

    def _formula(
        self, marks: bytes, raw: bytes | None, row: int, col: int, start: int
    ) -> tuple[FilledDown | None, bytes]:
        """A formula that is not the one above it filled down."""
        text = _formula_text(raw) if raw else ""
        shared = None
        if marks.strip():
            given = attributes(marks.decode())
            kind = given.get("t", "")
            if kind == "shared":
                index = given.get("si", "")
                known = None if raw else self._followers.get((index, col))
                if known is not None and known.first_row <= row <= known.last_row:
                    return None, self._follower(known, row, col, start)
                text = self._shared_text(index, text, row, col)
                shared = index
            elif kind not in ("", "normal"):
                raise NotPlain
        if self._preparer.moves(text):
            raise NotPlain
        compiled, cells, table = self._preparer.analysed(self._sheet.name, CellFormula(row, col, text))
        number = self._sheet.kind_of(compiled)
        caller = caller_text(self._sheet.number, col)
        if self._keep:
            if not raw:
                self._sheet.keep_text(len(self._sheet.rows), text)
            self._sheet.keep(row, col, number, start)
        fed = "" if compiled.refusal else compiled.render(cells, FormulaPlace(row, col, caller))
        if shared is not None and not raw and not _ROW_RANGE.search(split_pattern(text)[0]):
            follower = filled_down(escape(text).encode(), cells, row, compiled, number, table, caller)
            if follower is not None:
                self._followers[shared, col] = follower
        known = filled_down(raw, cells, row, compiled, number, table, caller) if raw else None
        return known, escape(fed).encode()

    def _follower(self, known: FilledDown, row: int, col: int, start: int) -> bytes:
        """A cell of a shared formula that is the one above it filled down."""
        if self._keep:
            self._sheet.keep_text(len(self._sheet.rows), known.written)
            self._sheet.keep(row, col, known.kind, start)
        if known.refused:
            return b""
        return (known.fed or known.written).at(row)

    def _shared_text(self, index: str, text: str, row: int, col: int) -> str:
        key = index.encode()
        if text:
            self._shared[key] = (row, col, text)
            self._followers = {at: known for at, known in self._followers.items() if at[0] != index}
            return text
        if key not in self._shared:
            return ""
        first_row, first_col, first = self._shared[key]
        return shift(first, row - first_row, col - first_col)


def _any_cell(data: bytes) -> bool:
    return any(mark in data for mark in _STARTS)


def _formula_text(raw: bytes) -> str:
    text = raw.decode()
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return plain_text(text)
