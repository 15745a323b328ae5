"""One calculation of a workbook's content: prepare, feed, evaluate, and tell what is certain."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from xlcalc.hosts.headless.cachedvalues import unwritable
from xlcalc.hosts.headless.callbacks import Callbacks, Calls
from xlcalc.hosts.headless.cellnames import CellRange, cell_name
from xlcalc.hosts.headless.content import ArrayMark, BookContent, CellFormula, SheetContent
from xlcalc.hosts.headless.dependents import Node, circles, following
from xlcalc.hosts.headless.engine import Engine, EngineValue, Unfit
from xlcalc.hosts.headless.feed import Content, Formula, SheetFeed
from xlcalc.hosts.headless.overrides import register_overrides
from xlcalc.hosts.headless.parts import Compiled, Place
from xlcalc.hosts.headless.pattern import split_pattern
from xlcalc.hosts.headless.protocol import WorksheetFunction
from xlcalc.hosts.headless.references import References, sheet_prefix
from xlcalc.hosts.headless.rewrite import FIT, Rewriter
from xlcalc.hosts.headless.sheetvalues import SheetValues
from xlcalc.worksheet.values import CellError, ErrorCode

_UNFIT_REASONS = {
    "Circ": "it depends on a circular reference",
    "Spill": "the array result does not fit: something is in its way, or it has over 10,000 cells",
    "NImpl": "the engine does not implement what the formula asks for",
    "Cancelled": "the evaluation was stopped",
    "Calc": "the array calculation has no result",
}


@dataclass(frozen=True)
class Prepared:
    """A formula with its number, its pattern and its cells."""

    identity: int
    sheet: str
    source: CellFormula
    compiled: Compiled

    @property
    def address(self) -> str:
        return f"{self.sheet}!{cell_name(self.source.row, self.source.col)}"

    @property
    def area(self) -> CellRange:
        """The cells that hold its result in the file."""
        here = CellRange(self.source.row, self.source.col, self.source.row, self.source.col)
        return self.source.area if self.source.area is not None and self.source.mark in _COVERING else here


_REGIONAL = re.compile(r"(?=.*\d)[\s\d.,:/$€£%()'+-]+(?:[eE][+-]?\d+)?(?:\s*[AaPp][Mm])?\Z")

_COVERING = (ArrayMark.ARRAY, ArrayMark.DYNAMIC, ArrayMark.DATA_TABLE)


Stored = float | str | bool | CellError


@dataclass
class Outcome:
    """Values by sheet and cell of what is certain, reasons by formula number of what is not."""

    values: dict[str, dict[tuple[int, int], Stored]] = field(default_factory=dict)
    spills: dict[int, CellRange] = field(default_factory=dict)
    refused: dict[int, str] = field(default_factory=dict)


class Calculation:
    """Prepares and evaluates the content of one workbook."""

    def __init__(
        self, book: BookContent, functions: Mapping[str, WorksheetFunction], now: datetime | None = None
    ) -> None:
        self._book = book
        self._references = References(book)
        hidden = any(sheet.hidden_rows for sheet in book.sheets)
        self._rewriter = Rewriter(self._references, functions, hidden_rows=hidden)
        self._callbacks = Callbacks(functions, self._references)
        self._now = now
        self._patterns: dict[tuple[object, ...], Compiled] = {}
        self.prepared: list[Prepared] = []
        self._nodes: dict[int, Node] | None = None
        self._refused: dict[int, str] = {}

    @property
    def calls(self) -> Calls:
        return self._callbacks.calls

    def is_padding(self, item: Prepared, row: int, col: int) -> bool:
        """Whether a cell of a fixed-size array formula lies beyond its result."""
        height, width = self.calls.sizes.get(item.identity, (1, 1))
        return (height > 1 and row - item.source.row >= height) or (
            width > 1 and col - item.source.col >= width
        )

    @property
    def expected_calls(self) -> int:
        """Calls of our functions in the formulas to be evaluated."""
        return sum(
            len(item.compiled.own_calls) for item in self.prepared if item.identity not in self._refused
        )

    def prepare(self) -> None:
        """Rewrite every formula; refuse what cannot be evaluated for certain, with all that depends on it."""
        for sheet in self._book.sheets:
            for source in sheet.formulas:
                compiled = self._compile(sheet.name, source)
                prepared = Prepared(len(self.prepared), sheet.name, source, compiled)
                self.prepared.append(prepared)
                if compiled.refusal:
                    self._refused[prepared.identity] = compiled.refusal
        self._spread()

    def evaluate(self, on_tick: Callable[[], None] | None = None) -> Engine:
        """Feed and evaluate; returns the engine with the values."""
        engine = Engine(date_1904=self._book.date_1904)
        if self._now is not None:
            engine.set_clock(self._now)
        self._callbacks.register(engine)
        register_overrides(engine)
        by_sheet: dict[str, list[Prepared]] = {sheet.name: [] for sheet in self._book.sheets}
        for item in self.prepared:
            if item.identity not in self._refused:
                by_sheet[item.sheet].append(item)
        engine.load([self._feed(sheet, by_sheet[sheet.name]) for sheet in self._book.sheets])
        engine.evaluate(on_tick)
        return engine

    def collect(self, engine: Engine) -> Outcome:
        """Values that are certain; the rest refused, with everything that depends on it."""
        self._refused = dict(self.calls.refusals) | self._refused
        areas = {item.identity: self._result_area(engine, item) for item in self._kept()}
        values = {
            sheet.name: SheetValues(
                engine,
                sheet.name,
                (areas[item.identity] for item in self._kept() if item.sheet == sheet.name),
            )
            for sheet in self._book.sheets
        }
        circular: list[int] = []
        for item in self._kept():
            problem = next(filter(None, map(_problem, values[item.sheet].every(areas[item.identity]))), "")
            if problem == "Circ":
                circular.append(item.identity)
            elif problem:
                self._refused[item.identity] = _UNFIT_REASONS.get(problem, problem)
        self._refuse_circular(circular)
        self._refuse_regional(values, areas)
        self._spread(areas)
        outcome = Outcome(refused=self._refused)
        for item in self._kept():
            area = areas[item.identity]
            if area != item.area:
                outcome.spills[item.identity] = area
            target = outcome.values.setdefault(item.sheet, {})
            found = values[item.sheet].every(area)
            if item.source.mark is ArrayMark.ARRAY and item.identity not in self.calls.sizes:
                found = found[:1] * area.area
            for position, value in zip(positions(area), found, strict=True):
                target[position] = _stored(value)
        return outcome

    def _kept(self) -> list[Prepared]:
        return [item for item in self.prepared if item.identity not in self._refused]

    def nodes(self) -> dict[int, Node]:
        """Every formula with what it covers and refers to."""
        if self._nodes is None:
            self._nodes = {item.identity: self._node(item) for item in self.prepared}
        return self._nodes

    def _compile(self, sheet: str, source: CellFormula) -> Compiled:
        pattern, cells = split_pattern(source.text)
        around = self._references.table_at(sheet, source.row, source.col) if "[" in source.text else None
        key = (sheet, source.mark, pattern, len(cells), around.name if around else "")
        compiled = self._patterns.get(key)
        if compiled is None:
            compiled = self._rewriter.compile(source.text, sheet, source.mark, (source.row, source.col))
            self._patterns[key] = compiled
        return compiled

    def _feed(self, sheet: SheetContent, formulas: list[Prepared]) -> SheetFeed:
        cells: list[tuple[int, int, Content]] = list(sheet.constants)
        for item in formulas:
            source = item.source
            place = Place(source.row, source.col, item.identity)
            text = item.compiled.render(split_pattern(source.text)[1], place)
            if source.mark is ArrayMark.ARRAY:
                text = f"{FIT}({item.identity},{text},{item.area.rows},{item.area.cols})"
            cells.append((source.row, source.col, Formula(text)))
        return SheetFeed(sheet.name, cells)

    def _result_area(self, engine: Engine, item: Prepared) -> CellRange:
        if item.source.mark is not ArrayMark.DYNAMIC:
            return item.area
        row, col = item.source.row, item.source.col
        size = engine.spill_size(sheet_prefix(item.sheet) + cell_name(row, col)) or (1, 1)
        return CellRange(row, col, row + size[0] - 1, col + size[1] - 1)

    def _refuse_circular(self, circular: list[int]) -> None:
        if circular:
            members = circles(self.nodes(), circular)
            for identity in circular:
                own = identity in members
                self._refused[identity] = "a circular reference" if own else _UNFIT_REASONS["Circ"]

    def _refuse_regional(self, values: Mapping[str, SheetValues], areas: Mapping[int, CellRange]) -> None:
        """Refuse #VALUE! where a cell that the formula uses holds text that some region reads as a number."""
        texts = {
            (sheet.name, row, col)
            for sheet in self._book.sheets
            for row, col, value in sheet.constants
            if isinstance(value, str) and _REGIONAL.match(value)
        }
        if not texts:
            return
        nodes = self.nodes()
        for item in self._kept():
            area = areas[item.identity]
            value = values[item.sheet].value(area.first_row, area.first_col)
            if not (isinstance(value, CellError) and value.code is ErrorCode.VALUE):
                continue
            for sheet, used in nodes[item.identity].areas:
                if used.area == 1 and (sheet, *used[:2]) in texts:
                    self._refused[item.identity] = (
                        f"{sheet}!{cell_name(*used[:2])} holds text that may or may not be a number, "
                        "depending on the regional settings"
                    )

    def _spread(self, spills: Mapping[int, CellRange] | None = None) -> None:
        if not self._refused:
            return
        nodes = self.nodes()
        if spills:
            nodes = dict(nodes)
            for identity, area in spills.items():
                old = nodes[identity]
                if area == old.covers[1]:
                    continue
                nodes[identity] = Node((old.covers[0], _union(old.covers[1], area)), old.areas, old.moving)
        for identity, cause in following(nodes, set(self._refused)).items():
            item, origin = self.prepared[identity], self.prepared[cause]
            if item.compiled.moving and not any(
                _touch(area, nodes[cause].covers) for area in nodes[identity].areas
            ):
                reason = f"it can refer to any cell, and {origin.address} kept its old value"
            else:
                reason = f"it depends on {origin.address}, which kept its old value"
            self._refused[identity] = reason

    def _node(self, item: Prepared) -> Node:
        compiled = item.compiled
        cells = split_pattern(item.source.text)[1]
        areas = tuple((area.sheet, area.at(cells, item.source.row)) for area in compiled.areas)
        return Node((item.sheet, item.area), areas, compiled.moving)


def positions(area: CellRange) -> Iterator[tuple[int, int]]:
    """Rows and columns of an area, row by row."""
    for row in range(area.first_row, area.last_row + 1):
        for col in range(area.first_col, area.last_col + 1):
            yield row, col


def _problem(value: EngineValue) -> str:
    """Why a value cannot be stored, empty where it can."""
    if isinstance(value, Unfit):
        return value.kind
    return unwritable(value) if isinstance(value, str) else ""


def _stored(value: EngineValue) -> Stored:
    if isinstance(value, Unfit):
        raise TypeError(value.kind)
    return 0.0 if value is None else value


def _union(first: CellRange, second: CellRange) -> CellRange:
    return CellRange(
        min(first[0], second[0]), min(first[1], second[1]), max(first[2], second[2]), max(first[3], second[3])
    )


def _touch(first: tuple[str, CellRange], second: tuple[str, CellRange]) -> bool:
    (sheet, a), (other, b) = first, second
    return (
        sheet == other
        and a.first_row <= b.last_row
        and b.first_row <= a.last_row
        and a.first_col <= b.last_col
        and b.first_col <= a.last_col
    )
