"""Rewrites a formula into what the engine evaluates with certainty, or refuses it with the reason.

Defined names and structured references become plain addresses, foreign spellings of our functions their
plain name, implicit intersection an explicit cell. A range where one value is expected is crossed with the
formula's own row or column, as a formula without an array mark is read.
"""

from __future__ import annotations

from xlcalc.recalc.evaluation.content import ArrayMark
from xlcalc.recalc.evaluation.engine import syntax_problem
from xlcalc.recalc.evaluation.formula.parts import Compiled, Crossing, FormulaPlace, joined
from xlcalc.recalc.evaluation.formula.pattern import split_pattern
from xlcalc.recalc.evaluation.formula.references import Area, Cube, Name
from xlcalc.recalc.evaluation.formula.refusal import Refusal, UnknownFunctionError
from xlcalc.recalc.evaluation.formula.syntax import (
    Applied,
    ArrayConstant,
    Call,
    Group,
    Infix,
    Literal,
    Node,
    Postfix,
    Prefix,
    Reference,
    parse,
)
from xlcalc.recalc.evaluation.rewriting.computed_addresses import ComputedAddresses
from xlcalc.recalc.evaluation.rewriting.lambdas import REPEATING, FunctionsGiven
from xlcalc.recalc.evaluation.rewriting.operators import Operators
from xlcalc.recalc.evaluation.rewriting.ordinary_calls import OrdinaryCalls
from xlcalc.recalc.evaluation.rewriting.own_calls import OwnCalls
from xlcalc.recalc.evaluation.rewriting.setting import Setting
from xlcalc.recalc.evaluation.rewriting.spellings import own_name, plain_name
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState, fit, local
from xlcalc.recalc.evaluation.rewriting.whole_lines import WholeLines


class Rewriter:
    """Rewrites the formulas of one workbook; equal patterns are analysed once."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._addresses = ComputedAddresses(setting, self._visit)
        self._own = OwnCalls(setting, self._visit)
        self._lambdas = FunctionsGiven(setting, self._visit, self._own)
        self._whole = WholeLines(setting, self._visit)
        self._ordinary = OrdinaryCalls(setting, self._visit, self._addresses, self._whole)
        self._operators = Operators(setting, self._visit, self._addresses, self._whole)

    def compile(self, text: str, sheet: str, mark: ArrayMark, place: tuple[int, int]) -> Compiled:
        """The rewritten formula; where it is refused, the reason."""
        cells = split_pattern(text)[1]
        state = RewriteState(sheet, place, array=mark is not ArrayMark.PLAIN, cells=cells)
        try:
            if mark is ArrayMark.DATA_TABLE:
                raise Refusal("a what-if data table")
            tree = state.last = parse(text)
            state.lines = list(self._whole.lines(tree, state))
            if state.array and self._whole.spread(tree, state):
                raise Refusal("an array that is as long as a whole column or row")
            parts, _ = self._visit(tree, "any" if state.array else "one", state)
        except Refusal as problem:
            unknown = isinstance(problem, UnknownFunctionError)
            return Compiled((), tuple(state.areas), refusal=str(problem), unknown_function=unknown)
        except RecursionError:
            return Compiled((), tuple(state.areas), refusal="the formula is nested too deep")
        compiled = Compiled(
            joined(parts),
            tuple(state.areas),
            tuple(state.bases),
            state.moving,
            state.tracked,
            state.volatile,
            tuple(state.own_calls),
            tuple(state.anchors),
        )
        problem_text = syntax_problem("=" + compiled.render(cells, FormulaPlace(*place, "0")))
        if problem_text is not None:
            return Compiled((), compiled.areas, refusal=f"the engine cannot read the formula: {problem_text}")
        return compiled

    def _visit(self, node: Node, context: str, state: RewriteState) -> Piece:
        """Rewrite a node where `context` is "one" value, a "range", or "any" array."""
        if isinstance(node, Literal):
            return [node.text], "one"
        if isinstance(node, Reference):
            return self._reference(node, context, state)
        if isinstance(node, Group):
            inner, shape = self._visit(node.inner, context, state)
            return (inner if shape == "steps" else ["(", *inner, ")"]), shape
        if isinstance(node, Prefix):
            return self._operators.prefix(node, context, state)
        if isinstance(node, Postfix):
            return self._operators.postfix(node, context, state)
        if isinstance(node, Infix):
            return self._operators.infix(node, context, state)
        if isinstance(node, ArrayConstant):
            if context == "one":
                raise Refusal("an array constant where one value is expected")
            return [node.text], "arr"
        if isinstance(node, Call):
            return self._call(node, context, state)
        if isinstance(node, Applied):
            function = self._lambdas.function(node.function, state)
            if function is None:
                raise Refusal("a call of something that is no LAMBDA")
            return self._lambdas.apply(function, node.arguments, context, state)
        raise Refusal("an empty argument where a value is expected")

    def _reference(self, node: Reference, context: str, state: RewriteState) -> Piece:
        variable = local(node.text)
        if variable in state.locals:
            known = state.locals[variable]
            return fit(([known.name], known.shape), context)
        if variable in state.functions:
            raise Refusal(f"the LAMBDA {node.text} as a value")
        resolved = self._setting.references.resolve(node.text, state.sheet, node.slot, state.place)
        if isinstance(resolved, Area):
            state.areas.append(resolved.pattern)
            if not resolved.several:
                return list(resolved.parts), "one"
            if context == "one" and state.blank_lines and self._whole.spread(node, state):
                return [self._setting.ranges.blank], "one"
            if context == "one":
                return [Crossing(resolved.prefix, resolved.pattern)], "one"
            return list(resolved.parts), "range"
        if isinstance(resolved, Name):
            return self._name(resolved, context, state)
        if isinstance(resolved, Cube):
            raise Refusal(f"{node.text} spans several sheets")
        return [resolved.text], "one"

    def _name(self, name: Name, context: str, state: RewriteState) -> Piece:
        with state.inside(name):
            try:
                tree = parse(name.text, fixed=True)
                parts, shape = self._visit(tree, context, state)
            except Refusal as problem:
                raise Refusal(f"the name {name.name}: {problem}") from None
        return (parts if isinstance(tree, Reference) else ["(", *parts, ")"]), shape

    def _call(self, node: Call, context: str, state: RewriteState) -> Piece:
        own = own_name(node.name, self._setting.functions)
        if own is not None:
            return self._own.call(own, node, context, state)
        name, linked = plain_name(node.name)
        if linked:
            raise Refusal(f"function {node.name} lies in another file")
        if name == "SINGLE" and len(node.arguments) == 1:
            return self._visit(node.arguments[0], "one", state)
        if name == "ANCHORARRAY" and len(node.arguments) == 1:
            return self._operators.spilled(node.arguments[0], context, state)
        if name == "LET":
            return self._lambdas.let(node, context, state)
        if name in REPEATING:
            return self._lambdas.repeated(name, node, context, state)
        if name == "LAMBDA":
            raise Refusal("a LAMBDA that is not called")
        function = self._lambdas.called(node.name, state)
        if function is not None:
            return self._lambdas.apply(function, node.arguments, context, state)
        return self._ordinary.call(name, node, context, state)
