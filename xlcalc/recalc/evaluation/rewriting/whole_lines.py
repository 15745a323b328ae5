"""Whole columns and rows inside arrays: what the blank cells below the last one in use would contribute.

The engine cuts each whole column or row to its own cells in use. For functions of ranges that makes no
difference. Arrays of them have to be of equal length, and the cells cut off count wherever a blank gives
something.
"""

from __future__ import annotations

from collections.abc import Iterator

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW
from xlcalc.recalc.evaluation.formula.parts import Part
from xlcalc.recalc.evaluation.formula.references import Area, Name
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import (
    Call,
    Group,
    Infix,
    Literal,
    Node,
    Postfix,
    Prefix,
    Reference,
    children,
    parse,
)
from xlcalc.recalc.evaluation.internal import MARK, SEEN
from xlcalc.recalc.evaluation.ordinary import ORDINARY
from xlcalc.recalc.evaluation.rewriting.setting import Setting, Visit
from xlcalc.recalc.evaluation.rewriting.spellings import plain_name
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState

_PASSING_OVER = (
    "AVERAGE MEDIAN STDEV STDEV.S STDEV.P STDEVP VAR VAR.S VAR.P VARP LARGE SMALL PERCENTILE PERCENTILE.INC "
    "PERCENTILE.EXC QUARTILE QUARTILE.INC QUARTILE.EXC GEOMEAN HARMEAN DEVSQ AVEDEV PRODUCT"
)
_DEEPEST = 16
_KINDS = dict.fromkeys(_PASSING_OVER.split(), "PASSED") | {
    "SUM": "SUM",
    "SUMPRODUCT": "SUMPRODUCT",
    "MAX": "MAX",
    "MIN": "MIN",
    "COUNT": "COUNT",
    "FILTER": "CHOSEN",
    "LOOKUP": "ORDERED",
}
"""What makes a blank cell count for nothing, by function; look-ups that want an equal value are EXACT."""

_SHAPING = frozenset(
    "TRANSPOSE UNIQUE SORT SORTBY TAKE DROP HSTACK VSTACK CHOOSECOLS CHOOSEROWS TOCOL TOROW WRAPROWS "
    "WRAPCOLS EXPAND MMULT LINEST LOGEST TREND GROWTH MAP BYROW BYCOL REDUCE SCAN".split()
)
"""Functions whose result has as many cells as what they are given, or needs a number in every one."""


class WholeLines:
    """Refuses arrays made of whole columns or rows unless their blank cells make no difference."""

    def __init__(self, setting: Setting, visit: Visit) -> None:
        self._setting = setting
        self._visit = visit

    def spread(self, node: Node, state: RewriteState) -> bool:
        """Whether the array that a node gives has a value for each cell of a whole column or row."""
        if isinstance(node, Reference):
            area = self._setting.resolved_area(node, state)
            if area is None:
                return False
            cells = area.pattern.at(state.cells, state.place[0])
            return cells.rows == MAX_ROW or cells.cols == MAX_COL
        if isinstance(node, Group):
            return self.spread(node.inner, state)
        if isinstance(node, Prefix | Postfix):
            return node.operator != "#" and self.spread(node.operand, state)
        if isinstance(node, Infix):
            if node.operator in (":", " ", ","):
                return False
            return self.spread(node.left, state) or self.spread(node.right, state)
        if not isinstance(node, Call):
            return False
        name = plain_name(node.name)[0]
        if name in _SHAPING:
            return any(self.spread(argument, state) for argument in node.arguments)
        if name == "INDEX":
            first = node.arguments[0]
            return not isinstance(first, Reference) and self.spread(first, state)
        signature = ORDINARY.get(name)
        letters = signature.letters(len(node.arguments)) if signature is not None else None
        if letters is None:
            return False
        return any(
            letter in "ntp" and self.spread(argument, state)
            for letter, argument in zip(letters, node.arguments, strict=True)
        )

    def lines(self, node: Node, state: RewriteState, depth: int = 0) -> Iterator[tuple[bool, list[Part]]]:
        """Every whole column (True) or row that a formula names."""
        if isinstance(node, Reference):
            area = self._setting.resolved_area(node, state)
            if area is None:
                yield from self._named_lines(node, state, depth)
            elif self.spread(node, state):
                yield self._tall(area, state), list(area.parts)
            return
        for child in children(node):
            yield from self.lines(child, state, depth)

    def _named_lines(
        self, node: Reference, state: RewriteState, depth: int
    ) -> Iterator[tuple[bool, list[Part]]]:
        if depth > _DEEPEST:
            return
        try:
            resolved = self._setting.references.resolve(node.text, state.sheet, node.slot, state.place)
            tree = parse(resolved.text, fixed=True) if isinstance(resolved, Name) else None
        except Refusal:
            return
        if tree is not None:
            yield from self.lines(tree, state, depth + 1)

    @staticmethod
    def _tall(area: Area, state: RewriteState) -> bool:
        return area.pattern.at(state.cells, state.place[0]).rows == MAX_ROW

    def padded(self, node: Node, piece: Piece, state: RewriteState) -> Piece:
        """A whole column or row as long as the longest of the formula, everything else as it is."""
        parts, shape = piece
        area = self._setting.resolved_area(node, state) if shape == "range" else None
        if area is None or not self.spread(node, state):
            return piece
        tall = self._tall(area, state)
        same = [other for kind, other in state.lines if kind == tall]
        if len(same) < len(state.lines):
            raise Refusal("whole columns and whole rows in one formula with arrays")
        if all(other == same[0] for other in same):
            return piece
        return self._setting.library("_PADDED", [["TRUE" if tall else "FALSE"], parts, *same]), "range"

    def checked(
        self, name: str, node: Call, letters: str, parts: list[Part], state: RewriteState
    ) -> list[Part]:
        """A call, refused where cells that were cut off could change its result."""
        if name in _SHAPING and any(self.spread(argument, state) for argument in node.arguments):
            raise Refusal(f"{name} of a whole column or row, its blank cells included")
        ranges = [
            argument
            for letter, argument in zip(letters, node.arguments, strict=True)
            if letter in "ra" and self.spread(argument, state)
        ]
        direct = [argument for argument in ranges if isinstance(argument, Reference)]
        if name == "TEXTJOIN" and direct and not _is_true(node.arguments[1]):
            raise Refusal("TEXTJOIN of a whole column or row, its blank cells included")
        if len(direct) == len(ranges) or name == "INDEX" or (name == "SUMPRODUCT" and direct):
            return parts
        kind = _KINDS.get(name, "")
        if name in ("MATCH", "XMATCH", "XLOOKUP"):
            kind = "EXACT"
            if name == "MATCH":
                kind = "FIRST" if _is_zero(node.arguments[2:3]) else "ORDERED"
        if not kind:
            raise Refusal(f"{name} of an array made of a whole column or row")
        sought: list[Part] = ["0"]
        if kind in ("EXACT", "FIRST"):
            sought = self._visit(node.arguments[0], "one", state)[0]
        with state.beyond():
            twins = [self._visit(_inside(argument), "one", state)[0] for argument in ranges]
        seen: list[list[Part]] = [[f"IFERROR({SEEN}(", *twin, f'),"{MARK}")'] for twin in twins]
        written: list[list[Part]] = [[f'"{kind}"'], parts, sought]
        return self._setting.library("_CUT", written + seen)


def _inside(node: Node) -> Node:
    """The array that INDEX is given, for INDEX; the node itself for every other."""
    while isinstance(node, Call) and plain_name(node.name)[0] == "INDEX":
        node = node.arguments[0]
    return node


def _is_true(node: Node) -> bool:
    return isinstance(node, Literal) and node.text.upper() in ("TRUE", "1")


def _is_zero(nodes: tuple[Node, ...]) -> bool:
    return len(nodes) == 1 and isinstance(nodes[0], Literal) and nodes[0].text.upper() in ("0", "FALSE")
