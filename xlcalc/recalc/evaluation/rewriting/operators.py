"""Operators: arithmetic, comparison, joining, and ranges between computed ends."""

from __future__ import annotations

from xlcalc.recalc.evaluation.formula.parts import Identity, Part
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
)
from xlcalc.recalc.evaluation.internal import TEXT
from xlcalc.recalc.evaluation.library.arithmetic import CANCELLED, LAST, OPERATORS
from xlcalc.recalc.evaluation.library.catalogue import COMPARING
from xlcalc.recalc.evaluation.rewriting.callrules import gives_new_array, is_text
from xlcalc.recalc.evaluation.rewriting.computed_addresses import ComputedAddresses
from xlcalc.recalc.evaluation.rewriting.ordinary_calls import read_as
from xlcalc.recalc.evaluation.rewriting.setting import Setting, Visit
from xlcalc.recalc.evaluation.rewriting.spellings import plain_name
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState, fit, onward
from xlcalc.recalc.evaluation.rewriting.whole_lines import WholeLines


class Operators:
    """Rewrites operators with their operands."""

    def __init__(
        self, setting: Setting, visit: Visit, addresses: ComputedAddresses, whole: WholeLines
    ) -> None:
        self._setting = setting
        self._visit = visit
        self._addresses = addresses
        self._whole = whole

    def prefix(self, node: Prefix, context: str, state: RewriteState) -> Piece:
        """A sign, or the mark of implicit intersection."""
        if node.operator == "@":
            return self._visit(node.operand, "one", state)
        inner, shape = self._operand(node.operand, context, state)
        if shape == "steps" and node.operator == "-":
            return self._setting.library("_SUBTRACT", [["0"], onward(inner, shape)]), "steps"
        return [node.operator, *inner], "arr" if shape == "steps" else shape

    def postfix(self, node: Postfix, context: str, state: RewriteState) -> Piece:
        """A percent sign, or the mark of all cells that an array fills."""
        if node.operator == "#":
            return self.spilled(node.operand, context, state)
        inner, shape = self._operand(node.operand, context, state)
        return [*inner, node.operator], "arr" if shape == "steps" else shape

    def spilled(self, node: Node, context: str, state: RewriteState) -> Piece:
        """The cells that the array of a cell fills."""
        area = self._setting.resolved_area(node, state)
        if area is None or area.several:
            raise Refusal("the array (A1#) of something that is not written as one cell")
        state.areas.append(area.pattern)
        state.anchors.append(area.pattern)
        return fit(([*area.parts, "#"], "ref"), context)

    def infix(self, node: Infix, context: str, state: RewriteState) -> Piece:
        """An operator between two operands."""
        if node.operator == ",":
            raise Refusal("a union of ranges")
        if node.operator in (":", " "):
            moved = self._addresses.moved(node, context, state)
            if moved is not None:
                return moved
            if node.operator == " ":
                raise Refusal("an intersection of something that is not written as cells")
            left, _ = self._visit(node.left, "range", state)
            right, _ = self._visit(node.right, "range", state)
            state.moving, state.tracked = True, False
            return fit(([*left, ":", *right], "ref"), context)
        if node.operator == "&":
            return self._joined(node, context, state)
        kept = self._setting.kept(node.left, state, bounded=True) if context == "any" else None
        left, first = self._operand(node.left, context, state)
        other = self._setting.kept(node.right, state, bounded=True) if context == "any" else None
        right, second = self._operand(node.right, context, state)
        if node.operator not in COMPARING:
            left = read_as(self._setting, "_NUMBER", node.left, left, state)
            right = read_as(self._setting, "_NUMBER", node.right, right, state)
        arrays = (first != "one" and second != "one") or kept is not None or other is not None
        powers = node.operator == "^" and not _above_zero(node.right)
        if node.operator in COMPARING or powers or arrays or "steps" in (first, second):
            name = COMPARING.get(node.operator) or OPERATORS[node.operator]
            left = kept if kept and first == "range" else onward(left, first)
            right = other if other and second == "range" else onward(right, second)
            parts = self._setting.library(name, [left, right])
            return parts, "one" if first == second == "one" else "steps"
        if first != "one" or second != "one":
            return [*left, node.operator, *right], "arr"
        plain = [*left, node.operator, *right]
        return self._last(node, left, right, plain) if node is state.last else plain, "one"

    def _last(self, node: Infix, left: list[Part], right: list[Part], plain: list[Part]) -> list[Part]:
        """An addition or subtraction that no other operation follows; the engine decides the usual case."""
        if node.operator not in LAST:
            return plain
        decided = self._setting.library(LAST[node.operator], [left, right])
        if not (_without_calls(node.left) and _without_calls(node.right)):
            return decided
        near = ["ABS(", *plain, ")<ABS(", *right, f"+0)*{CANCELLED}"]
        return ["IF(", *near, ",", *decided, ",", *plain, ")"]

    def _joined(self, node: Infix, context: str, state: RewriteState) -> Piece:
        """The operator that joins texts."""
        operands = node.left, node.right
        pieces = [self._operand(operand, context, state) for operand in operands]
        if all(shape == "one" for _, shape in pieces):
            left, right = (
                parts if is_text(operand) else [f"{TEXT}(", Identity(), ",", *parts, ")"]
                for operand, (parts, _) in zip(operands, pieces, strict=True)
            )
            return [*left, "&", *right], "one"
        steps = [
            self._setting.stepped(operand, piece, state)
            for operand, piece in zip(operands, pieces, strict=True)
        ]
        return self._setting.library("_EACH", [['"&"'], ['"tt"'], *steps]), "steps"

    def _operand(self, node: Node, context: str, state: RewriteState) -> Piece:
        """An operand of arithmetic: arrays only where an array is computed."""
        if context == "range" and isinstance(node, Call) and plain_name(node.name)[0] == "INDEX":
            return self._visit(node, "one", state)
        piece = self._visit(node, context, state)
        known = piece[1] == "one" or (piece[1] in ("arr", "steps") and not gives_new_array(node))
        if context == "range" and not known:
            raise Refusal("arithmetic on a range of cells in a formula that is not an array formula")
        return self._whole.padded(node, piece, state)


def _without_calls(node: Node) -> bool:
    """Whether a node is made of cells, constants and operators alone, which may be computed twice."""
    if isinstance(node, Group):
        return _without_calls(node.inner)
    if isinstance(node, Prefix | Postfix):
        return _without_calls(node.operand)
    if isinstance(node, Infix):
        return _without_calls(node.left) and _without_calls(node.right)
    return isinstance(node, Reference | Literal)


def _above_zero(node: Node) -> bool:
    """Whether a node is a number above 0 as written."""
    if isinstance(node, Group):
        return _above_zero(node.inner)
    return isinstance(node, Literal) and node.kind == "number" and float(node.text) > 0
