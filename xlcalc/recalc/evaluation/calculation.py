"""One calculation of a workbook's content: prepare, feed, evaluate, separate what is certain."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterator, Mapping
from dataclasses import replace
from datetime import datetime

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.calling.addresses import Addresses
from xlcalc.recalc.evaluation.calling.callbacks import Callbacks, Calls
from xlcalc.recalc.evaluation.calling.cellformulas import CellFormulas
from xlcalc.recalc.evaluation.calling.elementwise import Elementwise
from xlcalc.recalc.evaluation.calling.overrides import register_overrides
from xlcalc.recalc.evaluation.calling.repeating import Repeating
from xlcalc.recalc.evaluation.calling.subtotals import Subtotals
from xlcalc.recalc.evaluation.calling.typed import TypedCells
from xlcalc.recalc.evaluation.content import ArrayMark, BookContent, SheetContent
from xlcalc.recalc.evaluation.dependents import Cell, Node
from xlcalc.recalc.evaluation.engine import Engine, EngineError, Unfit
from xlcalc.recalc.evaluation.evaluated import (
    Evaluated,
    Stored,
    doubt,
    positions,
    refuse_overlapping,
    refuse_regional,
    refuse_without_array,
    store,
)
from xlcalc.recalc.evaluation.feeding.feed import Content, Formula, SheetFeed
from xlcalc.recalc.evaluation.feeding.formulas import Formulas
from xlcalc.recalc.evaluation.feeding.held import Held
from xlcalc.recalc.evaluation.feeding.keptranges import KeptRanges
from xlcalc.recalc.evaluation.feeding.plainsheet import NotPlain, PlainSheet
from xlcalc.recalc.evaluation.feeding.prepared import Prepared, Preparer
from xlcalc.recalc.evaluation.formula.references import Area, References
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.refusals import Refusals
from xlcalc.recalc.evaluation.rewriting.rewriter import Rewriter
from xlcalc.recalc.evaluation.rewriting.setting import Setting
from xlcalc.recalc.evaluation.settling import settled, spilled
from xlcalc.recalc.evaluation.sheetvalues import SheetValues, sheet_grid
from xlcalc.recalc.protocol import EvaluatedFunction
from xlcalc.recalc.xlsx.gridvalues import GridValues
from xlcalc.schema.values import CellError

_VOLATILE = re.compile(
    r"\b(?:NOW|TODAY|RAND|RANDBETWEEN|RANDARRAY|OFFSET|INDIRECT|CELL|INFO)\s*\(", re.IGNORECASE
)
_UNFIT_REASONS = {
    "Spill": "the array result does not fit: something is in its way, or it has over 10,000 cells",
    "NImpl": "the engine does not implement what the formula asks for, or a text grows too long for a cell",
    "Cancelled": "the evaluation was stopped",
    "Calc": "the array calculation has no result",
}

_LARGEST_LOOKED_AT = 100_000
"""Cells of an area in which a largest number is sought."""


class Calculation:
    """Prepares and evaluates the content of one workbook."""

    def __init__(
        self,
        book: BookContent,
        functions: Mapping[str, EvaluatedFunction],
        now: datetime | None = None,
        stated: Mapping[str, str] | None = None,
        *,
        recording: bool = False,
    ) -> None:
        self._book = book
        self._now = now
        references = References(book)
        held = Held()
        self._ranges = KeptRanges(book.sheets)
        self._setting = Setting(
            references, functions, held, self._ranges, tabs=book.tabs, date_1904=book.date_1904
        )
        self._preparer = Preparer(Rewriter(self._setting), references, stated)
        self._references = references
        self.prepared = Formulas()
        self.typed = TypedCells(book, self.prepared)
        self._addresses = Addresses(references, self.prepared, self._ranges)
        cells = CellFormulas(self.prepared)
        hidden = {sheet.name: sheet.hidden_rows for sheet in book.sheets}
        placed = {
            **self._addresses.callbacks(),
            **cells.callbacks(),
            **Subtotals(hidden, cells).callbacks(),
            **Elementwise().callbacks(),
            **Repeating(self._setting.recipes, self._beside).callbacks(),
        }
        self._callbacks = Callbacks(
            functions, placed, held, self.prepared.called, self.typed, recording=recording
        )
        self._plain: dict[str, PlainSheet] = {}
        self._refusals = Refusals(self.prepared)

    @property
    def calls(self) -> Calls:
        """Calls of our functions with their results."""
        return self._callbacks.calls

    @property
    def expected_calls(self) -> int:
        """Calls of our functions in the formulas to be evaluated."""
        refused = self._refusals.reasons
        listed = sum(len(item.compiled.own_calls) for item in self._kept())
        return listed + sum(sheet.expected_calls(refused) for sheet in self.prepared.plain)

    @property
    def holds_own_calls(self) -> bool:
        """Whether a formula of the workbook calls one of our functions."""
        names = "|".join(map(re.escape, self._setting.functions))
        calls = re.compile(rf"\b(?:{names})\s*\(", re.IGNORECASE)
        return bool(names) and self._preparer.mentions(calls, own=True)

    @property
    def holds_volatile_calls(self) -> bool:
        """Whether a formula is computed anew by spreadsheet programs whatever happens."""
        return self._preparer.mentions(_VOLATILE)

    def mentions(self, text: str) -> bool:
        """Whether a formula holds a text outside of quotes, in any case."""
        return self._preparer.mentions(re.compile(re.escape(text), re.IGNORECASE))

    def own_cells(self, without: Container[int]) -> Iterator[Prepared]:
        """Formulas that call our functions, but those with these numbers."""
        return (i for i in self.prepared if i.compiled.own_calls and i.identity not in without)

    def nodes(self) -> dict[int, Node]:
        """Every formula with what it covers and refers to."""
        return self._refusals.nodes()

    def named_cell(self, name: str) -> Cell | None:
        """The one cell that a defined name of the workbook stands for."""
        if ("", name) not in self._book.names or not self._book.sheets:
            return None
        try:
            text = self._book.names["", name]
            resolved = self._references.resolve(text, self._book.sheets[0].name, None, (1, 1))
        except Refusal:
            return None
        if not isinstance(resolved, Area) or resolved.several:
            return None
        area = resolved.pattern.at((), 1)
        return resolved.pattern.sheet, area.first_row, area.first_col

    def is_padding(self, item: Prepared, row: int, col: int) -> bool:
        """Whether a cell of a fixed-size array formula lies beyond its result."""
        height, width = self.calls.sizes.get(item.identity, (1, 1))
        beyond = height > 1 and row - item.source.row >= height
        return beyond or (width > 1 and col - item.source.col >= width)

    def error_constants(self, sheet: SheetContent) -> list[tuple[int, int, CellError]]:
        """Cells of a sheet that hold an error value without a formula."""
        if sheet.name in self._plain:
            return self._plain[sheet.name].error_constants
        return [(row, col, value) for row, col, value in sheet.constants if isinstance(value, CellError)]

    def prepare(self) -> None:
        """Rewrite every formula; refuse what cannot be evaluated for certain, with all that depends on it."""
        for sheet in self._book.sheets:
            if not self._prepare_plainly(sheet):
                self._prepare_listed(sheet)
        self._refusals.spread()

    def _prepare_plainly(self, sheet: SheetContent) -> bool:
        if sheet.plain is None:
            return False
        try:
            plain = PlainSheet(
                sheet.name, sheet.plain, self._preparer, len(self.prepared), len(self.prepared.plain)
            )
        except NotPlain:
            sheet.fill()
            return False
        self._plain[sheet.name] = plain
        self.prepared.add_plain(plain)
        for identity, reason in plain.refused():
            self._refusals.add(identity, reason)
        return True

    def _prepare_listed(self, sheet: SheetContent) -> None:
        base = len(self.prepared)
        items = [
            self._preparer.prepare(base + number, sheet.name, source)
            for number, source in enumerate(sheet.formulas)
        ]
        self.prepared.add(items)
        for item in items:
            if item.compiled.refusal:
                self._refusals.add(item.identity, item.compiled.refusal)

    def evaluate(self, on_tick: Callable[[], None] | None = None, *, here: bool = False) -> Engine:
        """Feed and evaluate; returns the engine with the values. `here`: in the calling thread."""
        engine = Engine(date_1904=self._book.date_1904)
        if self._now is not None:
            engine.set_clock(self._now)
        self._callbacks.register(engine, self._setting.called, self._setting.ordinary)
        register_overrides(engine)
        try:
            engine.load(self._feeds())
        except EngineError:
            self._refuse_faulty(engine.faulty(self._formula_feeds()))
            engine.load(self._feeds())
        run = engine.evaluate_here if here else lambda: engine.evaluate(on_tick)
        run()
        for identity in settled(engine, run, self._kept(), self._addresses.met, self._alone):
            self._refusals.add(identity, "computed addresses inside arrays that depend on one another")
        return engine

    def _alone(self, identity: int) -> Prepared:
        """A formula with its own text for the engine."""
        item = self.prepared[identity]
        return self._preparer.prepare(identity, item.sheet, item.source)

    def _beside(self, book: BookContent) -> tuple[dict[tuple[int, int], Stored], dict[int, CellRange], str]:
        """A small workbook evaluated beside this one: values of its first sheet, arrays, why not."""
        other = Calculation(replace(book, date_1904=self._book.date_1904), {}, self._now)
        other.prepare()
        try:
            outcome = other.collect(other.evaluate(here=True))
        except EngineError as problem:
            return {}, {}, str(problem)
        values = dict(outcome.values[book.sheets[0].name])
        return values, outcome.spills, next(iter(outcome.refused.values()), "")

    def _feeds(self) -> list[SheetFeed]:
        by_sheet: dict[str, list[Prepared]] = {sheet.name: [] for sheet in self._book.sheets}
        for item in self._kept():
            by_sheet[item.sheet].append(item)
        refused = self._refusals.reasons
        feeds = [
            SheetFeed(sheet.name, packed=self._plain[sheet.name].feed(refused))
            if sheet.name in self._plain
            else _feed(sheet, by_sheet[sheet.name])
            for sheet in self._book.sheets
        ]
        return [*feeds, self._ranges.feed()]

    def _formula_feeds(self) -> list[SheetFeed]:
        """Every formula that is not refused, one by one."""
        cells: dict[str, list[tuple[int, int, Content]]] = {sheet.name: [] for sheet in self._book.sheets}
        for item in self._kept():
            cells[item.sheet].append((item.source.row, item.source.col, Formula(item.fed)))
        for plain in self.prepared.plain:
            for identity in range(plain.base, plain.base + len(plain)):
                if identity not in self._refusals.reasons:
                    item = self._alone(identity)
                    cells[plain.name].append((item.source.row, item.source.col, Formula(item.fed)))
        return [*(SheetFeed(name, listed) for name, listed in cells.items()), self._ranges.feed()]

    def _refuse_faulty(self, faulty: list[tuple[str, int, int, str]]) -> None:
        at = {(item.sheet, item.source.row, item.source.col): item.identity for item in self.prepared}
        for sheet, row, col, problem in faulty:
            self._refusals.add(at[sheet, row, col], f"the engine cannot take the formula: {problem}")
        self._refusals.spread()

    def collect(self, engine: Engine) -> Evaluated:
        """Values that are certain; the rest refused, with everything that depends on it."""
        for identity, reason in self.calls.refusals.items():
            self._refusals.add(identity, reason)
        self._refusals.meet(self._addresses.met)
        outcome = Evaluated(refused=self._refusals.reasons)
        circular: list[int] = []
        doubtful: list[Prepared] = []
        kept = self._kept()
        spills = outcome.spills
        for item in kept:
            if item.source.mark is ArrayMark.DYNAMIC:
                spills[item.identity] = spilled(engine, item)
        for sheet in self._book.sheets:
            if sheet.name in self._plain:
                self._collect_plainly(self._plain[sheet.name], engine, outcome, circular, doubtful)
                continue
            items = [item for item in kept if item.sheet == sheet.name]
            values = SheetValues(engine, sheet.name, [spills.get(item.identity, item.area) for item in items])
            stored: dict[tuple[int, int], Stored] = {}
            outcome.values[sheet.name] = stored
            for item in items:
                sized = item.identity in self.calls.sizes
                problem = store(item, spills.get(item.identity, item.area), values, stored, sized=sized)
                if problem == "Circ":
                    circular.append(item.identity)
                elif problem == "#VALUE!":
                    doubtful.append(item)
                elif problem:
                    self._refusals.suspect(item.identity, _UNFIT_REASONS.get(problem, problem))
        if any(compiled.anchors for compiled in self._preparer.compiled):
            refuse_without_array(self.prepared, self._refusals, spills)
        self._refusals.add_circular(circular)
        refuse_overlapping(self.prepared, self._refusals, spills)
        if doubtful:
            refuse_regional(engine, self._refusals, self.nodes(), doubtful)
        self._refusals.spread(spills)
        self._leave_out_refused(outcome)
        outcome.spills = {i: area for i, area in spills.items() if area != self.prepared[i].area}
        return outcome

    def refuse(self, outcome: Evaluated, reasons: Mapping[int, str]) -> None:
        """Refuse more formulas after they were evaluated, with everything that depends on them."""
        if not reasons:
            return
        for identity, reason in reasons.items():
            self._refusals.add(identity, reason)
        self._refusals.spread(outcome.spills)
        refuse_overlapping(self.prepared, self._refusals, outcome.spills)
        self._refusals.spread(outcome.spills)
        self._leave_out_refused(outcome)

    def _leave_out_refused(self, outcome: Evaluated) -> None:
        for identity in self._refusals.reasons:
            item = self.prepared[identity]
            values_of_sheet = outcome.values[item.sheet]
            if isinstance(values_of_sheet, GridValues):
                values_of_sheet.leave_out((item.source.row, item.source.col))
                continue
            for position in positions(outcome.spills.pop(identity, item.area)):
                values_of_sheet.pop(position, None)

    def largest(self, item: Prepared, outcome: Evaluated) -> float:
        """Largest absolute number among the cells that a formula names; 0 where it names none."""
        found = 0.0
        for sheet, area in self.nodes()[item.identity].areas:
            values = outcome.values.get(sheet, {})
            for position in positions(area) if area.area <= _LARGEST_LOOKED_AT else ():
                value = values.get(position)
                if value is None:
                    value = self.typed.constant((sheet, *position))
                if type(value) is float:
                    found = max(found, abs(value))
        return found

    def _collect_plainly(
        self,
        plain: PlainSheet,
        engine: Engine,
        outcome: Evaluated,
        circular: list[int],
        doubtful: list[Prepared],
    ) -> None:
        """Take over the values of a plain sheet as the rows that the engine gives."""
        values = sheet_grid(engine, plain)
        outcome.values[plain.name] = values
        refused = self._refusals.reasons
        errors = outcome.errors.setdefault(plain.name, [])
        for index, value in values.unusual():
            identity = plain.base + index
            if identity in refused:
                continue
            problem = value.kind if isinstance(value, Unfit) else doubt(value)
            if problem == "Circ":
                circular.append(identity)
            elif problem == "#VALUE!":
                doubtful.append(self.prepared[identity])
            elif problem:
                self._refusals.suspect(identity, _UNFIT_REASONS.get(problem, problem))
            if isinstance(value, CellError):
                errors.append(identity)

    def _kept(self) -> list[Prepared]:
        """Formulas that are kept one by one and are not refused."""
        refused = self._refusals.reasons
        return [item for item in self.prepared.listed if item.identity not in refused]


def _feed(sheet: SheetContent, formulas: list[Prepared]) -> SheetFeed:
    cells: list[tuple[int, int, Content]] = list(sheet.constants)
    cells += [(item.source.row, item.source.col, Formula(item.fed)) for item in formulas]
    return SheetFeed(sheet.name, cells)
