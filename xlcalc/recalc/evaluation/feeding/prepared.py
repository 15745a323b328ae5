"""Formulas ready to be fed to the engine, one number each."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from xlcalc.recalc.cellnames import CellRange, cell_name
from xlcalc.recalc.evaluation.content import ArrayMark, CellFormula
from xlcalc.recalc.evaluation.dependents import Node
from xlcalc.recalc.evaluation.formula.parts import Compiled, FormulaPlace
from xlcalc.recalc.evaluation.formula.pattern import extents, split_pattern
from xlcalc.recalc.evaluation.formula.references import References
from xlcalc.recalc.evaluation.internal import FIT
from xlcalc.recalc.evaluation.rewriting.rewriter import Rewriter

_TEXT = re.compile(r'"(?:[^"]|"")*"')


@dataclass(slots=True)
class Prepared:
    """A formula: the cells that hold its result in the file, and the text to feed (empty where refused)."""

    identity: int
    sheet: str
    source: CellFormula
    compiled: Compiled
    area: CellRange
    fed: str

    @property
    def address(self) -> str:
        return f"{self.sheet}!{cell_name(self.source.row, self.source.col)}"

    def node(self) -> Node:
        """What it covers and refers to."""
        cells = split_pattern(self.source.text)[1]
        areas = tuple((area.sheet, area.at(cells, self.source.row)) for area in self.compiled.areas)
        return Node((self.sheet, self.area), areas, self.compiled.moving)


class Preparer:
    """Rewrites formulas; those with the same pattern are analysed once.

    `stated` gives formulas that stand for others in this calculation.
    """

    def __init__(
        self, rewriter: Rewriter, references: References, stated: Mapping[str, str] | None = None
    ) -> None:
        self._rewriter = rewriter
        self._stated = stated or {}
        self._references = references
        self._patterns: dict[tuple[str, ArrayMark, str, str], Compiled] = {}

    def moves(self, text: str) -> bool:
        """Whether a formula means other cells in every cell, and more than its text shows."""
        return self._references.moves(text)

    @property
    def compiled(self) -> Iterable[Compiled]:
        """Every pattern once."""
        return self._patterns.values()

    def mentions(self, calls: re.Pattern[str], *, own: bool = False) -> bool:
        """Whether a formula, evaluated or not, holds a text; or, with `own`, calls one of our functions."""
        patterns = self._patterns.items()
        return any((own and c.own_calls) or calls.search(_TEXT.sub('""', key[2])) for key, c in patterns)

    def analysed(self, sheet: str, source: CellFormula) -> tuple[Compiled, list[str], CellRange | None]:
        """The rewritten pattern, the cell addresses that go into it, and the table around if that matters."""
        source = self._as_stated(source)
        pattern, cells = split_pattern(source.text)
        row, col = source.row, source.col
        table = self._references.table_at(sheet, row, col) if "[" in pattern else None
        around = table.name if table else ""
        if self._references.moves(pattern):
            around = f"{around} {row} {col}"
        around += extents(pattern, cells)
        key = (sheet, source.mark, pattern, around)
        compiled = self._patterns.get(key)
        if compiled is None:
            compiled = self._rewriter.compile(source.text, sheet, source.mark, (row, col))
            self._patterns[key] = compiled
        return compiled, cells, table.area if table else None

    def _as_stated(self, source: CellFormula) -> CellFormula:
        """What stands for the formula in this calculation."""
        text = self._stated.get(source.text)
        return source if text is None else replace(source, text=text)

    def prepare(self, identity: int, sheet: str, source: CellFormula) -> Prepared:
        """One formula with the text to feed."""
        compiled, cells, _ = self.analysed(sheet, source)
        row, col = source.row, source.col
        area = source.area or CellRange(row, col, row, col)
        fed = "" if compiled.refusal else compiled.render(cells, FormulaPlace(row, col, str(identity)))
        if fed and source.mark is ArrayMark.ARRAY:
            fed = f"{FIT}({identity},{fed},{area.rows},{area.cols})"
        return Prepared(identity, sheet, source, compiled, area, fed)
