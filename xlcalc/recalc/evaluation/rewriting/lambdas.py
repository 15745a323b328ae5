"""LAMBDA: one that is called becomes LET; one that MAP and its kin repeat becomes a recipe."""

from __future__ import annotations

from dataclasses import dataclass, replace

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW
from xlcalc.recalc.evaluation.calling.recipes import Captured, Recipe, captured, parameter
from xlcalc.recalc.evaluation.formula.parts import Part
from xlcalc.recalc.evaluation.formula.references import Name
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import (
    Applied,
    Call,
    Group,
    Infix,
    Node,
    Omitted,
    Postfix,
    Prefix,
    Reference,
    parse,
)
from xlcalc.recalc.evaluation.internal import EMPTY
from xlcalc.recalc.evaluation.ordinary import MOVING, ORDINARY, VOLATILE
from xlcalc.recalc.evaluation.rewriting.own_calls import OwnCalls
from xlcalc.recalc.evaluation.rewriting.setting import Setting, Visit
from xlcalc.recalc.evaluation.rewriting.spellings import own_name, plain_name
from xlcalc.recalc.evaluation.rewriting.state import Given, Piece, RewriteState, fit, local

REPEATING = frozenset({"MAP", "REDUCE", "SCAN", "BYROW", "BYCOL", "MAKEARRAY"})
"""Functions that are given a LAMBDA."""

_PLACES = MOVING | frozenset(
    "ROW COLUMN SUBTOTAL AGGREGATE CELL SHEET SHEETS FORMULATEXT ISFORMULA ISREF AREAS COUNTBLANK".split()
)
"""Functions that need to know where cells are."""

_CELLS = frozenset(
    "COUNTIF COUNTIFS SUMIF SUMIFS AVERAGEIF AVERAGEIFS MAXIFS MINIFS RANK RANK.EQ RANK.AVG".split()
)
"""Functions that take cells and no computed arrays."""

_DEEPEST = 24


class FunctionsGiven:
    """Rewrites LAMBDA and what is given one."""

    def __init__(self, setting: Setting, visit: Visit, own: OwnCalls) -> None:
        self._setting = setting
        self._visit = visit
        self._own = own

    def let(self, node: Call, context: str, state: RewriteState) -> Piece:
        """LET; a variable that stands for a LAMBDA is put in where it is called."""
        arguments = node.arguments
        if len(arguments) < 3 or len(arguments) % 2 == 0:
            raise Refusal("LET with an even number of arguments")
        with state.scope(state.locals, state.functions):
            parts: list[Part] = []
            for variable, value in zip(arguments[:-1:2], arguments[1::2], strict=True):
                if not isinstance(variable, Reference):
                    raise Refusal("LET with a variable that is no name")
                parts += self._bound(local(variable.text), value, context, state, state)
            result, shape = self._visit(arguments[-1], context, state)
        return (["LET(", *parts, *result, ")"] if parts else result), shape

    def _bound(
        self, name: str, value: Node, context: str, outer: RewriteState, state: RewriteState
    ) -> list[Part]:
        """A variable with its value, for the engine; nothing where it stands for a LAMBDA."""
        function = self.function(value, outer)
        if function is not None:
            state.functions[name] = function
            state.locals.pop(name, None)
            return []
        area = self._own.area(value, outer)
        inner, shape = self._visit(value, "any" if context == "any" else "range", outer)
        variable = state.variable(shape if shape in ("one", "own") else "ref", area)
        state.locals[name] = variable
        state.functions.pop(name, None)
        return [variable.name, ",", *inner, ","]

    def function(self, node: Node, state: RewriteState) -> Given | None:
        """The LAMBDA that a node is or stands for; None for any other node."""
        while isinstance(node, Group):
            node = node.inner
        if isinstance(node, Call) and plain_name(node.name)[0] == "LAMBDA":
            *names, body = node.arguments or (Omitted(),)
            if not all(isinstance(name, Reference) for name in names):
                raise Refusal("LAMBDA with a parameter that is no name")
            parameters = tuple(local(name.text) for name in names if isinstance(name, Reference))
            return Given(parameters, body, dict(state.locals), dict(state.functions), state.names)
        if isinstance(node, Reference):
            if local(node.text) in state.functions:
                return state.functions[local(node.text)]
            return None if local(node.text) in state.locals else self._named(node.text, state)
        return None

    def called(self, name: str, state: RewriteState) -> Given | None:
        """The LAMBDA behind the name of a call."""
        if local(name) in state.functions:
            return state.functions[local(name)]
        return None if plain_name(name)[0] in ORDINARY else self._named(name, state)

    def _named(self, text: str, state: RewriteState) -> Given | None:
        try:
            resolved = self._setting.references.resolve(text, state.sheet, None, state.place)
            tree = parse(resolved.text, fixed=True) if isinstance(resolved, Name) else None
        except Refusal:
            return None
        if not isinstance(tree, Call) or plain_name(tree.name)[0] != "LAMBDA":
            return None
        with state.scope({}, {}):
            return self.function(tree, state)

    def apply(self, function: Given, arguments: tuple[Node, ...], context: str, state: RewriteState) -> Piece:
        """A call of a LAMBDA: its body with its parameters as variables."""
        self._check_count(function, len(arguments))
        if state.depth >= _DEEPEST:
            raise Refusal("a LAMBDA that calls itself")
        if any(isinstance(argument, Omitted) for argument in arguments):
            raise Refusal("an empty argument of a LAMBDA")
        inner = replace(state, locals=dict(function.locals), functions=dict(function.functions))
        parts: list[Part] = []
        for name, value in zip(function.parameters, arguments, strict=True):
            parts += self._bound(name, value, context, state, inner)
            state.numbered = inner.numbered
        with state.scope(inner.locals, inner.functions):
            state.depth += 1
            result, shape = self._visit(function.body, context, state)
            state.depth -= 1
        return (["LET(", *parts, *result, ")"] if parts else result), shape

    @staticmethod
    def _check_count(function: Given, count: int) -> None:
        if len(function.parameters) != count:
            raise Refusal(f"a LAMBDA of {len(function.parameters)} parameters that is given {count}")

    def repeated(self, name: str, node: Call, context: str, state: RewriteState) -> Piece:
        """MAP, REDUCE, SCAN, BYROW, BYCOL or MAKEARRAY."""
        *given, last = node.arguments or (Omitted(),)
        function = self.function(last, state)
        if function is None:
            raise Refusal(f"{name} with a function that is not written as LAMBDA")
        if name != "MAP" and len(given) != (1 if name in ("BYROW", "BYCOL") else 2):
            raise Refusal(f"{name} with {len(node.arguments)} arguments")
        if not given or any(isinstance(argument, Omitted) for argument in given):
            raise Refusal(f"an empty argument of {name}")
        self._check_count(function, len(given))
        for argument in given:
            area = self._setting.resolved_area(argument, state)
            size = area.pattern.at(state.cells, state.place[0]) if area is not None else None
            if size is not None and (size.rows == MAX_ROW or size.cols == MAX_COL):
                raise Refusal(f"{name} of a whole column or row, its blank cells included")
        cells = [self._setting.resolved_area(argument, state) is not None for argument in given]
        if name in ("REDUCE", "SCAN", "MAKEARRAY"):
            cells[0] = False
        if name == "MAKEARRAY":
            cells[1] = False
        closing = _Closing(self, self._setting, self._visit, state)
        body = closing.closed(function, {p: parameter(n) for n, p in enumerate(function.parameters)}, cells)
        number = self._setting.recipe(Recipe(len(given), body, tuple(closing.found)))
        single = "one" if name == "MAKEARRAY" else "any"
        arguments = [self._visit(argument, single, state)[0] for argument in given]
        parts = self._setting.library("_" + name, [[str(number)], *arguments, *closing.parts])
        return fit((parts, "ref" if name == "REDUCE" else "arr"), context)


@dataclass
class _Scope:
    """Names inside a body: what a parameter or a variable of an inner LET is called there."""

    bound: dict[str, Reference | None]
    function: Given


class _Closing:
    """Takes a body out of the formula around it: what it uses from there is handed to it."""

    def __init__(
        self, functions: FunctionsGiven, setting: Setting, visit: Visit, state: RewriteState
    ) -> None:
        self._functions = functions
        self._setting = setting
        self._visit = visit
        self._state = state
        self._known: dict[tuple[Reference, str], Reference] = {}
        self._computed: set[Reference] = set()
        self.found: list[Captured] = []
        self.parts: list[list[Part]] = []

    def closed(self, function: Given, bound: dict[str, Reference], cells: list[bool]) -> Node:
        """The body of a function whose parameters are bound; `cells` marks those that are cells."""
        self._computed = {ref for ref, is_cell in zip(bound.values(), cells, strict=True) if not is_cell}
        return self._node(function.body, _Scope(dict(bound), function), 0)

    def _node(self, node: Node, scope: _Scope, depth: int) -> Node:
        if depth > _DEEPEST * 4:
            raise Refusal("a LAMBDA that calls itself")
        match node:
            case Reference():
                return self._reference(node, scope, depth)
            case Group():
                return Group(self._node(node.inner, scope, depth + 1))
            case Prefix():
                return Prefix(node.operator, self._node(node.operand, scope, depth + 1))
            case Postfix() if node.operator == "#":
                return self._capture(node, "#", self._visit(node, "any", self._state)[0], Captured())
            case Postfix():
                return Postfix(node.operator, self._node(node.operand, scope, depth + 1))
            case Infix():
                if node.operator in (":", " ", ","):
                    raise Refusal("a computed range inside a LAMBDA that is repeated")
                left = self._node(node.left, scope, depth + 1)
                return Infix(node.operator, left, self._node(node.right, scope, depth + 1))
            case Applied():
                inner = tuple(self._node(item, scope, depth + 1) for item in node.arguments)
                return Applied(self._node(node.function, scope, depth + 1), inner)
            case Call():
                return self._call(node, scope, depth)
        return node

    def _call(self, node: Call, scope: _Scope, depth: int) -> Node:
        name = plain_name(node.name)[0]
        if own_name(node.name, self._setting.functions) is not None:
            raise Refusal(f"{name} inside a LAMBDA that is repeated")
        if name in _PLACES or name in VOLATILE:
            raise Refusal(f"{name} inside a LAMBDA that is repeated")
        if name == "LAMBDA":
            return self._inner_function(node, scope, depth)
        if name == "LET":
            return self._inner_let(node, scope, depth)
        arguments = tuple(self._node(item, scope, depth + 1) for item in node.arguments)
        if name in _CELLS and any(item in self._computed for item in arguments):
            raise Refusal(f"{name} of something that is no range of cells")
        if local(node.name) in scope.bound:
            return Call(node.name, arguments)
        outer = replace(self._state, locals=scope.function.locals, functions=scope.function.functions)
        function = self._functions.called(node.name, outer)
        if function is None:
            return Call(node.name, arguments)
        return Applied(self._function(function, depth), arguments)

    def _function(self, function: Given, depth: int) -> Call:
        """A LAMBDA from around the body, written into it."""
        bound: dict[str, Reference | None] = dict.fromkeys(function.parameters)
        body = self._node(function.body, _Scope(bound, function), depth + 8)
        return Call("LAMBDA", (*(Reference("_xlpm." + name) for name in function.parameters), body))

    def _inner_function(self, node: Call, scope: _Scope, depth: int) -> Call:
        *names, body = node.arguments or (Omitted(),)
        bound = dict(scope.bound)
        bound.update((local(name.text), None) for name in names if isinstance(name, Reference))
        inner = self._node(body, _Scope(bound, scope.function), depth + 1)
        return Call(node.name, (*names, inner))

    def _inner_let(self, node: Call, scope: _Scope, depth: int) -> Call:
        bound = dict(scope.bound)
        found: list[Node] = []
        for variable, value in zip(node.arguments[:-1:2], node.arguments[1::2], strict=False):
            found += [variable, self._node(value, _Scope(dict(bound), scope.function), depth + 1)]
            if isinstance(variable, Reference):
                bound[local(variable.text)] = None
        last = self._node(node.arguments[-1], _Scope(bound, scope.function), depth + 1)
        return Call(node.name, (*found, last))

    def _reference(self, node: Reference, scope: _Scope, depth: int) -> Node:
        name = local(node.text)
        if name in scope.bound:
            return scope.bound[name] or node
        variable = scope.function.locals.get(name)
        if variable is not None:
            found = self._capture(node, variable.name, [variable.name], Captured())
            self._computed.add(found)
            return found
        outer = replace(self._state, locals=scope.function.locals, functions=scope.function.functions)
        function = self._functions.function(node, outer)
        if function is not None:
            return self._function(function, depth)
        area = self._setting.resolved_area(node, outer)
        how = Captured()
        if area is not None and area.several and all(isinstance(part, str) for part in area.parts):
            cells = area.pattern.at((), 1)
            how = Captured(
                cells.cols if cells.rows == MAX_ROW else 0, cells.rows if cells.cols == MAX_COL else 0
            )
        with self._state.scope(dict(scope.function.locals), dict(scope.function.functions)):
            parts = self._visit(node, "any", self._state)[0]
        return self._capture(node, "", parts, how)

    def _capture(self, node: Node, key: str, parts: list[Part], how: Captured) -> Reference:
        at = (node if isinstance(node, Reference) else Reference(repr(node)), key)
        if at not in self._known:
            self._known[at] = captured(len(self.found))
            self.found.append(how)
            self.parts.append(parts or [f'"{EMPTY}"'])
        return self._known[at]
