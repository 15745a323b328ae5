"""Rewrites a formula into what the engine evaluates with certainty, or refuses it with the reason.

Defined names and structured references become plain addresses, foreign spellings of our functions their
plain name, implicit intersection an explicit cell. A range where one value is expected is crossed with the
formula's own row or column, as a formula without an array mark is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from xlcalc.hosts.headless.cellnames import MAX_COL, MAX_ROW
from xlcalc.hosts.headless.evaluation.callrules import (
    call_text,
    caught,
    check_call,
    computes,
    is_array,
    is_text,
    result_shape,
)
from xlcalc.hosts.headless.evaluation.content import ArrayMark
from xlcalc.hosts.headless.evaluation.engine import EngineError, syntax_problem
from xlcalc.hosts.headless.evaluation.held import Held
from xlcalc.hosts.headless.evaluation.internal import (
    DO,
    EACH,
    EMPTY,
    FAILED,
    FIRST,
    HOLD,
    ONE,
    ONWARD,
    TEXT,
)
from xlcalc.hosts.headless.evaluation.keptranges import KeptRanges
from xlcalc.hosts.headless.evaluation.library.arithmetic import OPERATORS
from xlcalc.hosts.headless.evaluation.library.catalogue import (
    CALENDAR,
    COMPARING,
    COUNTING_CELLS,
    FROM_1904,
    KEEPING,
    LIBRARY,
)
from xlcalc.hosts.headless.evaluation.ordinary import (
    ADDING_UP,
    ANY_KIND,
    CATCHING,
    CELLS_ONLY,
    INSPECTING,
    LOGICAL,
    LOOKING_UP,
    MEASURING,
    MOVING,
    ORDINARY,
    TAKING_APART,
    VOLATILE,
    Signature,
)
from xlcalc.hosts.headless.evaluation.parts import (
    AreaPattern,
    Compiled,
    Crossing,
    Identity,
    Kept,
    OwnCall,
    Part,
    Place,
    Span,
    joined,
)
from xlcalc.hosts.headless.evaluation.pattern import split_pattern
from xlcalc.hosts.headless.evaluation.references import Area, Name, References, area_name, sheet_prefix
from xlcalc.hosts.headless.evaluation.refusal import Refusal, UnknownFunctionError
from xlcalc.hosts.headless.evaluation.spellings import own_name, plain_name
from xlcalc.hosts.headless.evaluation.syntax import (
    ArrayConstant,
    Call,
    Group,
    Infix,
    Literal,
    Node,
    Omitted,
    Postfix,
    Prefix,
    Reference,
    parse,
)
from xlcalc.hosts.headless.protocol import WorksheetFunction

_LOCAL = "_xlpm."
_MAX_NAME_DEPTH = 16


@dataclass
class _State:
    sheet: str
    place: tuple[int, int]
    array: bool
    slot: int | None = 0
    areas: list[AreaPattern] = field(default_factory=list)
    own_calls: list[OwnCall] = field(default_factory=list)
    bases: list[AreaPattern] = field(default_factory=list)
    moving: bool = False
    tracked: bool = True
    volatile: bool = False
    caught: int = 0
    names: tuple[str, ...] = ()
    cells: list[str] = field(default_factory=list)
    locals: dict[str, str] = field(default_factory=dict)
    local_areas: dict[str, AreaPattern | None] = field(default_factory=dict)


Piece = tuple[list[Part], str]
"""Rewritten text, and its shape: "one" value, a "range", a "ref" of unknown size, an array "arr" or "own".

The parts of "steps" are one call of a function that can hand its array on in Python.
"""


class Rewriter:
    """Rewrites the formulas of one workbook; equal patterns are analysed once."""

    def __init__(
        self,
        references: References,
        functions: Mapping[str, WorksheetFunction],
        held: Held,
        ranges: KeptRanges,
        *,
        hidden_rows: frozenset[str] = frozenset(),
        date_1904: bool = False,
    ) -> None:
        self._references = references
        self._functions = functions
        self._arrays = held
        self._ranges = ranges
        self._hidden_rows = hidden_rows
        self._date_1904 = date_1904
        self.called: set[str] = set()
        """Names of our functions that the formulas call."""
        self.ordinary: set[str] = set()
        """Names of the ordinary functions among them that the library computes."""

    def compile(self, text: str, sheet: str, mark: ArrayMark, place: tuple[int, int]) -> Compiled:
        """The rewritten formula; where it is refused, the reason."""
        cells = split_pattern(text)[1]
        state = _State(sheet, place, array=mark is not ArrayMark.PLAIN, cells=cells)
        try:
            if mark is ArrayMark.DATA_TABLE:
                raise Refusal("a what-if data table")
            tree = parse(text)
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
        )
        problem_text = syntax_problem("=" + compiled.render(cells, Place(*place, "0")))
        if problem_text is not None:
            return Compiled((), compiled.areas, refusal=f"the engine cannot read the formula: {problem_text}")
        return compiled

    def _visit(self, node: Node, context: str, state: _State) -> Piece:
        """Rewrite a node where `context` is "one" value, a "range", or "any" array."""
        if isinstance(node, Literal):
            return [node.text], "one"
        if isinstance(node, Reference):
            return self._reference(node.text, context, state)
        if isinstance(node, Group):
            inner, shape = self._visit(node.inner, context, state)
            return (inner if shape == "steps" else ["(", *inner, ")"]), shape
        if isinstance(node, Prefix):
            if node.operator == "@":
                return self._visit(node.operand, "one", state)
            inner, shape = self._operand(node.operand, context, state)
            if shape == "steps" and node.operator == "-":
                return self._library("_SUBTRACT", [["0"], _onward(inner, shape)]), "steps"
            return [node.operator, *inner], "arr" if shape == "steps" else shape
        if isinstance(node, Postfix):
            if node.operator == "#":
                raise Refusal("the size of a spilled array (A1#) is not known before it is computed")
            inner, shape = self._operand(node.operand, context, state)
            return [*inner, node.operator], "arr" if shape == "steps" else shape
        if isinstance(node, Infix):
            return self._infix(node, context, state)
        if isinstance(node, ArrayConstant):
            if context == "one":
                raise Refusal("an array constant where one value is expected")
            return [node.text], "arr"
        if isinstance(node, Call):
            return self._call(node, context, state)
        raise Refusal("an empty argument where a value is expected")

    def _reference(self, text: str, context: str, state: _State) -> Piece:
        local = text[len(_LOCAL) :] if text.lower().startswith(_LOCAL) else text
        if local.casefold() in state.locals:
            return self._fit(([local], state.locals[local.casefold()]), context)
        resolved, slots = self._references.resolve(text, state.sheet, state.slot, state.place)
        if state.slot is not None:
            state.slot += slots
        if isinstance(resolved, Area):
            state.areas.append(resolved.pattern)
            if not resolved.several:
                return list(resolved.parts), "one"
            if context == "one":
                return [Crossing(resolved.prefix, resolved.pattern)], "one"
            return list(resolved.parts), "range"
        if isinstance(resolved, Name):
            return self._name(resolved, context, state)
        return [resolved.text], "one"

    def _name(self, name: Name, context: str, state: _State) -> Piece:
        folded = name.name.casefold()
        if folded in state.names or len(state.names) >= _MAX_NAME_DEPTH:
            raise Refusal(f"the name {name.name} is defined by itself")
        try:
            tree = parse(name.text)
        except Refusal as problem:
            raise Refusal(f"the name {name.name}: {problem}") from None
        outer = state.slot, state.names, state.locals
        state.slot, state.names, state.locals = None, (*state.names, folded), {}
        try:
            parts, shape = self._visit(tree, context, state)
        except Refusal as problem:
            raise Refusal(f"the name {name.name}: {problem}") from None
        state.slot, state.names, state.locals = outer
        return (parts if isinstance(tree, Reference) else ["(", *parts, ")"]), shape

    def _operand(self, node: Node, context: str, state: _State) -> Piece:
        """An operand of arithmetic: arrays only where an array is computed."""
        piece = self._visit(node, context, state)
        if context == "range" and piece[1] != "one":
            raise Refusal("arithmetic on a range of cells in a formula that is not an array formula")
        return piece

    def _infix(self, node: Infix, context: str, state: _State) -> Piece:
        if node.operator == ",":
            raise Refusal("a union of ranges")
        if node.operator == " ":
            raise Refusal("an intersection of ranges")
        if node.operator == ":":
            moved = self._moved(node, context, state)
            if moved is not None:
                return moved
            left, _ = self._visit(node.left, "range", state)
            right, _ = self._visit(node.right, "range", state)
            state.moving, state.tracked = True, False
            return self._fit(([*left, ":", *right], "ref"), context)
        kept: list[Part] | None = None
        other: list[Part] | None = None
        if node.operator == "&":
            left, first = self._text(node.left, context, state)
            right, second = self._text(node.right, context, state)
        else:
            kept = self._kept(node.left, state, bounded=True) if context == "any" else None
            left, first = self._operand(node.left, context, state)
            other = self._kept(node.right, state, bounded=True) if context == "any" else None
            right, second = self._operand(node.right, context, state)
            if node.operator not in COMPARING:
                left = self._as("_NUMBER", node.left, left, state)
                right = self._as("_NUMBER", node.right, right, state)
        arrays = first != "one" and second != "one"
        if node.operator in COMPARING or arrays or "steps" in (first, second):
            name = COMPARING.get(node.operator) or OPERATORS[node.operator]
            left = kept if kept and first == "range" else _onward(left, first)
            right = other if other and second == "range" else _onward(right, second)
            parts = self._library(name, [left, right])
            return parts, "one" if first == second == "one" else "steps"
        shape = "one" if first == second == "one" else "arr"
        return [*left, node.operator, *right], shape

    def _text(self, node: Node, context: str, state: _State) -> Piece:
        parts, shape = self._operand(node, context, state)
        return (parts, shape) if is_text(node) else ([f"{TEXT}(", Identity(), ",", *parts, ")"], shape)

    def _fit(self, piece: Piece, context: str) -> Piece:
        """Reduce an array to one value where one value is expected."""
        parts, shape = piece
        if context != "one" or shape == "one":
            return piece
        if shape == "own":
            return [f"{FIRST}(", *parts, ")"], "one"
        return [f"{ONE}(", Identity(), ",", *parts, ")"], "one"

    def _call(self, node: Call, context: str, state: _State) -> Piece:
        own = own_name(node.name, self._functions)
        if own is not None:
            return self._own_call(own, node, context, state)
        name, linked = plain_name(node.name)
        if linked:
            raise Refusal(f"function {node.name} lies in another file")
        if name == "SINGLE" and len(node.arguments) == 1:
            return self._visit(node.arguments[0], "one", state)
        if name == "LET":
            return self._let(node, context, state)
        signature = ORDINARY.get(name)
        if signature is None:
            raise UnknownFunctionError(f"function {name} is not supported")
        letters = signature.letters(len(node.arguments))
        if letters is None:
            raise Refusal(f"{name} with {len(node.arguments)} arguments is not supported")
        check_call(name, node.arguments, hidden_rows=self._hides_rows(name, node, state))
        state.volatile |= name in VOLATILE
        if self._date_1904 and name in CALENDAR and name not in FROM_1904:
            raise Refusal(f"{name} in a workbook that counts dates from 1904")
        special = self._special(name, node, context, state)
        if special is not None:
            return special
        written: list[list[Part]] = []
        shapes: list[str] = []
        array_condition = False
        for index, (letter, argument) in enumerate(zip(letters, node.arguments, strict=True)):
            if isinstance(argument, Omitted):
                if not signature.omits:
                    raise Refusal(f"an empty argument of {name}")
                written.append([f'"{EMPTY}"'] if name in LIBRARY else [])
                continue
            state.caught += name in CATCHING and (index == 0 or name == "COUNT")
            inner, shape = self._argument(letter, argument, context, signature, name, state)
            state.caught -= name in CATCHING and (index == 0 or name == "COUNT")
            looked_at = name in INSPECTING and (index == 0 or letter != "p")
            if looked_at and (shape == "one" or letter == "r") and computes(argument):
                inner = caught(inner, INSPECTING[name])
            written.append(inner)
            array_condition |= index == 0 and shape != "one"
            if letter == "p" or (letter in "nt" and shape != "one"):
                shapes.append(shape)
        if name == "IF" and len(shapes) > 0 and array_condition:
            parts = self._library("_IF", [inner or ["0"] for inner in written])
        elif name in LIBRARY and not (self._date_1904 and name in FROM_1904):
            dates: list[list[Part]] = [["TRUE"]] if name == "TEXT" and self._date_1904 else []
            parts = self._library(name, [*written, *dates])
        elif name == "SUBTOTAL":
            parts = call_text(name, [call_text("INT", written[:1]), *written[1:]])
        elif name in ("FORECAST", "FORECAST.LINEAR") and len(written) == 3:
            x, ys, xs = written
            line = [*call_text("INTERCEPT", [ys, xs]), "+", *call_text("SLOPE", [ys, xs])]
            parts = ["(", *line, "*(", *x, "))"]
        elif name == "SWITCH" and "p" in letters:
            cases = [inner for letter, inner in zip(letters, written, strict=True) if letter == "n"]
            results = [inner for letter, inner in zip(letters, written, strict=True) if letter == "p"]
            if len(results) < len(cases):
                results.append(["NA()"])
            parts = call_text("CHOOSE", [self._library("_SWITCH", cases), *results])
        elif signature.lifts and shapes:
            parts = call_text(EACH, [[Identity()], [f'"{name}"'], *written])
        else:
            parts = call_text(name, written)
        if name in LOOKING_UP:
            for argument, inner in zip(node.arguments, written, strict=True):
                if isinstance(argument, Call) and own_name(argument.name, self._functions):
                    parts = ["IF(", *call_text(FAILED, [inner]), ",", *inner, ",", *parts, ")"]
        return self._fit((parts, result_shape(signature, shapes)), context)

    def _hides_rows(self, name: str, node: Call, state: _State) -> bool:
        """Whether rows are hidden on a sheet with the cells of a subtotal, as far as these are named."""
        if not self._hidden_rows or name not in ("SUBTOTAL", "AGGREGATE"):
            return False
        for argument in node.arguments[1 if name == "SUBTOTAL" else 2 :]:
            area = self._resolved_area(argument, state)
            constant = isinstance(argument, Literal)
            if not constant and (area is None or area.pattern.sheet in self._hidden_rows):
                return True
        return False

    def _special(self, name: str, node: Call, context: str, state: _State) -> Piece | None:
        """A call that is about where cells are; None where that is left to the engine."""
        if name in MOVING:
            moved = self._moved(node, context, state)
            if moved is None:
                state.moving, state.tracked = True, False
            return moved
        if name == "CHOOSE" and node.arguments and is_array(node.arguments[0]):
            found = [self._visit(argument, "any", state)[0] for argument in node.arguments]
            return self._fit((self._library("_CHOOSE", found), "arr"), context)
        if name == "INDEX" and len(node.arguments) == 2:
            area = self._resolved_area(node.arguments[0], state)
            if area is not None and _rectangle(area, state.cells, state.place[0]):
                raise Refusal("INDEX of several rows and columns by one number")
        if name in MEASURING and len(node.arguments) == 1:
            return self._measured(name, node.arguments[0], context, state)
        return None

    def _moved(self, node: Node, context: str, state: _State) -> Piece | None:
        """Cells whose address is computed."""
        address = self._address(node, context, state)
        if address is None:
            return None
        state.moving = True
        return self._fit((["INDIRECT(", *self._library("_MEET", [address]), ")"], "ref"), context)

    def _measured(self, name: str, argument: Node, context: str, state: _State) -> Piece | None:
        """ROW, ROWS, COLUMN or COLUMNS, which do not depend on what the cells hold."""
        slot = state.slot
        address = self._address(argument, context, state)
        if address is None:
            return None
        parts = self._library("_" + name, [address])
        if name in ("ROWS", "COLUMNS"):
            return parts, "one"
        if context == "any":
            return parts, "arr"
        resolved = self._resolved_area(argument, replace(state, slot=slot))
        if context == "range" and resolved is not None and resolved.several:
            raise Refusal(f"{name} of several cells in a formula that is not an array formula")
        if resolved is not None:
            return [f"{FIRST}(", *parts, ")"], "one"
        return self._fit((parts, "arr"), "one")

    def _address(self, node: Node, context: str, state: _State) -> list[Part] | None:
        """The address of cells as text, computed where needed; None for anything that has none."""
        kept = state.slot, len(state.bases), len(state.areas)
        found = self._address_text(node, "any" if context == "any" else "one", state)
        if found is None:
            state.slot = kept[0]
            del state.bases[kept[1] :], state.areas[kept[2] :]
        return found

    def _address_text(self, node: Node, context: str, state: _State) -> list[Part] | None:
        if isinstance(node, Group):
            return self._address_text(node.inner, context, state)
        if isinstance(node, Reference):
            return self._base(node.text, context, state)
        if isinstance(node, Infix) and node.operator == ":":
            return self._addresses("_SPAN", (node.left, node.right), 2, context, state)
        if not isinstance(node, Call) or own_name(node.name, self._functions) is not None:
            return None
        name, arguments = plain_name(node.name)[0], node.arguments
        if name == "INDIRECT" and len(arguments) in (1, 2):
            return self._addresses("_ADDRESS", arguments, 0, context, state)
        if name == "OFFSET" and 3 <= len(arguments) <= 5:
            return self._addresses("_OFFSET", arguments, 1, context, state)
        if name == "INDEX" and len(arguments) in (2, 3):
            return self._addresses("_CELL", arguments, 1, context, state)
        return None

    def _addresses(
        self, name: str, arguments: tuple[Node, ...], bases: int, context: str, state: _State
    ) -> list[Part] | None:
        """A call that computes an address; so many of its arguments are addresses themselves."""
        written: list[list[Part]] = []
        for index, argument in enumerate(arguments):
            if isinstance(argument, Omitted):
                written.append([f'"{EMPTY}"'])
                continue
            address = self._address_text(argument, context, state) if index < bases else None
            if index < bases and address is None:
                return None
            if address is None:
                address, shape = self._visit(argument, context, state)
                if shape != "one":
                    raise Refusal("an array for one value of OFFSET, INDIRECT or INDEX")
            written.append(address)
        return self._library(name, written)

    def _base(self, text: str, context: str, state: _State) -> list[Part] | None:
        """The address of a reference or of what a name stands for."""
        if _local(text) in state.locals:
            return None
        resolved, slots = self._references.resolve(text, state.sheet, state.slot, state.place)
        if state.slot is not None:
            state.slot += slots
        if isinstance(resolved, Area):
            state.bases.append(resolved.pattern)
            return self._library("_AREA", [[str(len(state.bases) - 1)]])
        if not isinstance(resolved, Name) or len(state.names) >= _MAX_NAME_DEPTH:
            return None
        outer = state.slot, state.names, state.locals
        state.slot, state.names, state.locals = None, (*state.names, resolved.name.casefold()), {}
        found = self._address_text(parse(resolved.text), context, state)
        state.slot, state.names, state.locals = outer
        return found

    def _library(self, name: str, arguments: list[list[Part]]) -> list[Part]:
        """A call of an ordinary function of our own."""
        self.ordinary.add(name)
        return call_text(DO + name, [[Identity()], *arguments])

    def _kept(self, argument: Node, state: _State, *, bounded: bool = False) -> list[Part] | None:
        """The cells of a range that are looked up in, kept for all formulas; None for anything else.

        Whole columns and rows are cut to the cells in use, which is not the same for `bounded` arrays.
        """
        slot = state.slot
        area = self._resolved_area(argument, state)
        if area is None or not area.several:
            return None
        if all(isinstance(part, str) for part in area.parts):
            cells = area.pattern.at((), 1)
            if bounded and (cells.rows == MAX_ROW or cells.cols == MAX_COL):
                return None
            return [self._ranges.cell(sheet_prefix(area.pattern.sheet) + area_name(cells), cells)]
        span = area.parts[-1]
        if isinstance(span, Span) and slot is not None:
            return [Kept(area.prefix, sheet_prefix(area.pattern.sheet), span, self._ranges)]
        return None

    def _argument(
        self, letter: str, argument: Node, context: str, signature: Signature, name: str, state: _State
    ) -> Piece:
        if letter == "p":
            return self._visit(argument, context, state)
        if letter in "ra":
            steps = name == "SUMPRODUCT"
            kept = self._kept(argument, state, bounded=steps) if name in KEEPING or steps else None
            piece = self._visit(argument, "any" if context == "any" or letter == "a" else "range", state)
            if kept is not None and piece[1] == "range":
                return kept, "range"
            if steps:
                return _onward(*piece), "arr" if piece[1] == "steps" else piece[1]
            literal = isinstance(argument, Literal) and name in CELLS_ONLY
            if literal or (name in COUNTING_CELLS and piece[1] in ("arr", "steps")):
                raise Refusal(f"{name} of something that is no range of cells")
            if piece[1] == "one" and is_text(argument) and name in (ADDING_UP | LOGICAL | {"COUNT"}):
                wanted = "_LOGICAL" if name in LOGICAL else "_COUNTED" if name == "COUNT" else "_NUMBER"
                return self._as(wanted, argument, piece[0], state), "one"
            return piece
        several = context == "any" or (signature.lifts and is_array(argument))
        parts, shape = self._visit(argument, "any" if several else "one", state)
        if shape != "one" and not (signature.lifts or (name == "IF" and letter == "n" and state.array)):
            raise Refusal(f"an array for one value of {name}")
        if letter == "t":
            return (parts if is_text(argument) else [f"{TEXT}(", Identity(), ",", *parts, ")"]), shape
        if name == "CHOOSE":
            return self._library("_INDEX", [parts]), shape
        if name in LIBRARY or name in ANY_KIND:
            return parts, shape
        if name in LOGICAL:
            return self._as("_LOGICAL", argument, parts, state), shape
        forced = name in TAKING_APART and isinstance(argument, Reference)
        return self._as("_NUMBER", argument, parts, state, force=forced), shape

    def _as(
        self, name: str, node: Node, parts: list[Part], state: _State, *, force: bool = False
    ) -> list[Part]:
        """A value read as number or condition here where the engine reads text in another way."""
        known = (isinstance(node, Literal) and node.kind != "text") or _gives_no_text(node)
        if not (is_text(node) or ((state.caught or force) and not known)):
            return parts
        dates: list[list[Part]] = [["TRUE"]] if name == "_NUMBER" and self._date_1904 else []
        return self._library(name, [parts, *dates])

    def _own_call(self, name: str, node: Call, context: str, state: _State) -> Piece:
        arguments = list(node.arguments)
        while arguments and isinstance(arguments[-1], Omitted):
            arguments.pop()
        number = len(state.own_calls)
        state.own_calls.append(OwnCall(name))
        parts: list[Part] = [f"{name}(", Identity(), f",{number}"]
        areas: list[AreaPattern | None] = []
        for argument in arguments:
            parts.append(",")
            if isinstance(argument, Omitted):
                parts.append(f'"{EMPTY}"')
                areas.append(None)
            else:
                areas.append(self._area(argument, state))
                inner = self._visit(argument, "any" if context == "any" else "range", state)[0]
                parts += self._held(argument, inner)
        state.own_calls[number] = OwnCall(name, tuple(areas))
        parts.append(")")
        function = self._functions[name]
        self.called.add(name)
        state.volatile |= function.volatile
        return self._fit((parts, "one" if function.shape is None else "own"), context)

    def _area(self, node: Node, state: _State) -> AreaPattern | None:
        """The cells that a reference or a name stands for, so that a reason can name one of them."""
        if isinstance(node, Reference) and _local(node.text) in state.locals:
            return state.local_areas.get(_local(node.text))
        area = self._resolved_area(node, state)
        return None if area is None else area.pattern

    def _resolved_area(self, node: Node, state: _State) -> Area | None:
        """The cells that a reference or a name stands for."""
        slot = state.slot
        for _ in range(_MAX_NAME_DEPTH):
            while isinstance(node, Group):
                node = node.inner
            if not isinstance(node, Reference):
                return None
            if slot == state.slot and _local(node.text) in state.locals:
                return None
            try:
                resolved, _ = self._references.resolve(node.text, state.sheet, slot, state.place)
                if isinstance(resolved, Area):
                    return resolved
                if not isinstance(resolved, Name):
                    return None
                node, slot = parse(resolved.text), None
            except Refusal:
                return None
        return None

    def _held(self, argument: Node, parts: list[Part]) -> list[Part]:
        """What goes straight into a function of ours, arrays as texts: the engine need not carry them.

        Formulas that hold an array constant also cost it several times the memory of others.
        """
        if isinstance(argument, ArrayConstant):
            try:
                return [f'"{self._arrays.constant(argument.text)}"']
            except EngineError:
                raise Refusal(f"the array constant {argument.text}, which lacks a value") from None
        inner = own_name(argument.name, self._functions) if isinstance(argument, Call) else None
        if inner is None or self._functions[inner].shape is None or parts[0] != f"{inner}(":
            return parts
        return [HOLD + f"{inner}(", *parts[1:]]

    def _let(self, node: Call, context: str, state: _State) -> Piece:
        arguments = node.arguments
        if len(arguments) < 3 or len(arguments) % 2 == 0:
            raise Refusal("LET with an even number of arguments")
        outer = dict(state.locals)
        parts: list[Part] = ["LET("]
        for variable, value in zip(arguments[:-1:2], arguments[1::2], strict=True):
            if not isinstance(variable, Reference):
                raise Refusal("LET with a variable that is no name")
            name = variable.text[len(_LOCAL) :] if variable.text.lower().startswith(_LOCAL) else variable.text
            area = self._area(value, state)
            inner, shape = self._visit(value, "any" if context == "any" else "range", state)
            state.local_areas[name.casefold()] = area
            state.locals[name.casefold()] = shape if shape in ("one", "own") else "ref"
            parts += [name, ",", *inner, ","]
        result, shape = self._visit(arguments[-1], context, state)
        state.locals = outer
        return [*parts, *result, ")"], shape


def _rectangle(area: Area, cells: list[str], row: int) -> bool:
    """Whether an area has several rows and several columns."""
    found = area.pattern.at(cells, row)
    return found.rows > 1 and found.cols > 1


def _gives_no_text(node: Node) -> bool:
    """Whether a node compares or calculates, so that its value is a logical, a number or an error."""
    if isinstance(node, Group):
        return _gives_no_text(node.inner)
    return isinstance(node, Infix) and node.operator not in ("&", ",", " ", ":")


def _onward(parts: list[Part], shape: str) -> list[Part]:
    """A step whose array goes to the next one without the engine."""
    if shape != "steps" or not isinstance(parts[0], str) or not parts[0].startswith(DO):
        return parts
    return [parts[0][:-1] + ONWARD + "(", *parts[1:]]


def _local(text: str) -> str:
    """A variable of LET, whatever its case and prefix."""
    return (text[len(_LOCAL) :] if text.lower().startswith(_LOCAL) else text).casefold()
