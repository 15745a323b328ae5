"""What all steps of the rewriting share: the workbook around the formula, and the functions called."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW, area_name
from xlcalc.recalc.evaluation.calling.recipes import Recipe
from xlcalc.recalc.evaluation.feeding.held import Held
from xlcalc.recalc.evaluation.feeding.keptranges import KeptRanges
from xlcalc.recalc.evaluation.formula.parts import Identity, Kept, Part, Span
from xlcalc.recalc.evaluation.formula.references import Area, Name, References, sheet_prefix
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import Call, Group, Node, Reference, parse
from xlcalc.recalc.evaluation.internal import DO
from xlcalc.recalc.evaluation.rewriting.callrules import call_text
from xlcalc.recalc.evaluation.rewriting.spellings import own_name
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState, local, onward
from xlcalc.recalc.protocol import EvaluatedFunction

_DEEPEST = 16

Visit = Callable[[Node, str, RewriteState], Piece]
"""Rewrites a node where "one" value, a "range", or "any" array is expected."""


class Setting:
    """The workbook that the formulas stand in.

    Parameters
    ----------
    tabs : tuple of str
        Names of all sheets in their order, where they are known.
    """

    def __init__(
        self,
        references: References,
        functions: Mapping[str, EvaluatedFunction],
        held: Held,
        ranges: KeptRanges,
        *,
        tabs: tuple[str, ...] = (),
        date_1904: bool = False,
    ) -> None:
        self.references = references
        self.functions = functions
        self.arrays = held
        self.ranges = ranges
        self.tabs = tabs
        self.date_1904 = date_1904
        self.called: set[str] = set()
        """Names of our functions that the formulas call."""
        self.ordinary: set[str] = set()
        """Names of the ordinary functions among them that the library computes."""
        self.recipes: list[Recipe] = []
        """Bodies of LAMBDA that are repeated."""

    def library(self, name: str, arguments: list[list[Part]]) -> list[Part]:
        """A call of an ordinary function of our own."""
        self.ordinary.add(name)
        return call_text(DO + name, [[Identity()], *arguments])

    def recipe(self, recipe: Recipe) -> int:
        """The number of a body."""
        self.recipes.append(recipe)
        return len(self.recipes) - 1

    def is_own_call(self, node: Node) -> bool:
        """Whether a node calls one of our functions."""
        return isinstance(node, Call) and own_name(node.name, self.functions) is not None

    def resolved_area(self, node: Node, state: RewriteState) -> Area | None:
        """The cells that a reference or a name stands for."""
        named = False
        for _ in range(_DEEPEST):
            while isinstance(node, Group):
                node = node.inner
            if not isinstance(node, Reference) or (not named and local(node.text) in state.locals):
                return None
            try:
                resolved = self.references.resolve(node.text, state.sheet, node.slot, state.place)
                if isinstance(resolved, Area):
                    return resolved
                if not isinstance(resolved, Name):
                    return None
                node, named = parse(resolved.text, fixed=True), True
            except Refusal:
                return None
        return None

    def kept(self, argument: Node, state: RewriteState, *, bounded: bool = False) -> list[Part] | None:
        """The cells of a range that are looked up in, kept for all formulas; None for anything else.

        Whole columns and rows are cut to the cells in use, which is not the same for `bounded` arrays.
        """
        area = self.resolved_area(argument, state)
        if area is None or not area.several:
            return None
        if all(isinstance(part, str) for part in area.parts):
            cells = area.pattern.at((), 1)
            if bounded and (cells.rows == MAX_ROW or cells.cols == MAX_COL):
                return None
            return [self.ranges.cell(sheet_prefix(area.pattern.sheet) + area_name(cells), cells)]
        span = area.parts[-1]
        if isinstance(span, Span):
            sheet = area.pattern.sheet
            return [Kept(sheet, area.prefix, sheet_prefix(sheet), span, self.ranges)]
        return None

    def stepped(self, argument: Node, piece: Piece, state: RewriteState) -> list[Part]:
        """An argument of a function over arrays: cells as they are kept, an array without the engine."""
        parts, shape = piece
        if not parts:
            return ["0"]
        kept = self.kept(argument, state, bounded=True) if shape == "range" else None
        return onward(parts, shape) if kept is None else kept
