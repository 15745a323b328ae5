"""Calls of ordinary functions: which are allowed, and how each of their arguments is read."""

from __future__ import annotations

from dataclasses import replace

from xlcalc.recalc.evaluation.formula.parts import Identity, Kept, OwnRow, Part, Sized, Slot, Span
from xlcalc.recalc.evaluation.formula.references import Area
from xlcalc.recalc.evaluation.formula.refusal import Refusal, UnknownFunctionError
from xlcalc.recalc.evaluation.formula.syntax import (
    Call,
    Group,
    Infix,
    Literal,
    Node,
    Omitted,
    Reference,
)
from xlcalc.recalc.evaluation.internal import EMPTY, FAILED, FIRST, MARK, TEXT
from xlcalc.recalc.evaluation.library.catalogue import (
    ADD_IN,
    CALENDAR,
    COUNTING_CELLS,
    FROM_1904,
    KEEPING,
    LIBRARY,
)
from xlcalc.recalc.evaluation.ordinary import (
    ADDING_UP,
    ANY_KIND,
    CATCHING,
    CELLS_ONLY,
    CHOOSING,
    COUNTING_TEXT,
    INSPECTING,
    LOGICAL,
    LOOKING_UP,
    MEASURING,
    MOVING,
    NO_BLANK,
    NO_CRITERION,
    ORDINARY,
    SUMMING,
    TAKING_APART,
    TAKING_STEPS,
    TOP_LEFT,
    VOLATILE,
    Signature,
)
from xlcalc.recalc.evaluation.rewriting.callrules import (
    all_numeric,
    call_text,
    caught,
    computes,
    is_array,
    is_error,
    is_text,
    refused,
    result_shape,
)
from xlcalc.recalc.evaluation.rewriting.computed_addresses import ComputedAddresses
from xlcalc.recalc.evaluation.rewriting.places import Places
from xlcalc.recalc.evaluation.rewriting.setting import Setting, Visit
from xlcalc.recalc.evaluation.rewriting.spreading import STACKING, is_cube, members, spread
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState, fit, onward
from xlcalc.recalc.evaluation.rewriting.whole_lines import WholeLines


class OrdinaryCalls:
    """Rewrites calls of the ordinary functions whose behaviour is tested."""

    def __init__(
        self, setting: Setting, visit: Visit, addresses: ComputedAddresses, whole: WholeLines
    ) -> None:
        self._setting = setting
        self._visit = visit
        self._addresses = addresses
        self._whole = whole
        self._places = Places(setting, visit, addresses)

    def call(self, name: str, node: Call, context: str, state: RewriteState) -> Piece:
        """A call of the function of that plain name."""
        signature = ORDINARY.get(name)
        if signature is None:
            raise UnknownFunctionError(f"function {name} is not supported")
        if name == "COUNT" and any(map(is_error, node.arguments)):
            node = Call(node.name, tuple(a for a in node.arguments if not is_error(a)))
            if not node.arguments:
                return ["0"], "one"
        node = self._one_area(name, node, state)
        node = Call(node.name, spread(name, node.arguments, self._setting, state))
        letters = signature.letters(len(node.arguments))
        if letters is None:
            raise Refusal(f"{name} with {len(node.arguments)} arguments is not supported")
        state.volatile |= name in VOLATILE
        if self._setting.date_1904 and name in CALENDAR and name not in FROM_1904:
            raise Refusal(f"{name} in a workbook that counts dates from 1904")
        special = self._special(name, node, context, state)
        if special is not None:
            return special
        stepping = signature.lifts and signature.result == "one" and self._repeated(name, letters, node)
        written: list[list[Part]] = []
        kinds: list[str] = []
        shapes: list[str] = []
        array_condition = False
        for index, (letter, argument) in enumerate(zip(letters, node.arguments, strict=True)):
            if isinstance(argument, Omitted):
                if not signature.omits:
                    raise Refusal(f"an empty argument of {name}")
                written.append([f'"{EMPTY}"'] if name in LIBRARY else [])
                kinds.append("one")
                continue
            if index == 2 and name in ("SUMIF", "AVERAGEIF"):
                sized = self._sized(node, state)
                if sized is not None:
                    written.append(sized)
                    kinds.append("range")
                    continue
            state.caught += name in CATCHING and (index == 0 or name == "COUNT")
            inner, shape = self._argument(
                letter, argument, context, signature, name, state, stepping=stepping
            )
            if letter in "ntp" or name in ("SUMPRODUCT", "FILTER"):
                inner, shape = self._whole.padded(argument, (inner, shape), state)
            state.caught -= name in CATCHING and (index == 0 or name == "COUNT")
            looked_at = name in INSPECTING and (index == 0 or letter != "p")
            if looked_at and (shape == "one" or letter == "r") and (computes(argument) or is_error(argument)):
                counted = name == "COUNTA" and shape in ("arr", "steps")
                inner = caught(inner, NO_BLANK if counted else INSPECTING[name])
            written.append(inner)
            kinds.append(shape)
            array_condition |= (letter == "n" and name in CHOOSING) and shape != "one"
            if letter == "p" or (letter in "nt" and shape != "one"):
                shapes.append(shape)
        if self._setting.date_1904 and name in FROM_1904 and shapes:
            raise Refusal(f"{name} of an array in a workbook that counts dates from 1904")
        if stepping and shapes:
            parts = self._setting.library("_EACH", [[f'"{name}"'], [f'"{letters}"'], *written])
            return fit((parts, "steps"), context)
        if name == "IF" and array_condition:
            pieces = zip(written, kinds, strict=True)
            sides = [
                self._setting.stepped(argument, piece, state)
                for argument, piece in zip(node.arguments, pieces, strict=True)
            ]
            return fit((self._setting.library("_IF", sides), "steps"), context)
        if name == "IFERROR" and kinds == ["steps", "one"]:
            caught_one = [onward(written[0], "steps"), written[1] or ["0"]]
            return fit((self._setting.library("_ELSE", caught_one), "steps"), context)
        if name in SUMMING and kinds == ["steps"]:
            parts = self._setting.library("_" + name, [onward(written[0], "steps")])
        else:
            parts = self._applied(name, letters, written, shapes, array_condition=array_condition)
        parts = self._whole.checked(name, node, letters, parts, state)
        if name in LOOKING_UP:
            for argument, inner in zip(node.arguments, written, strict=True):
                if self._setting.is_own_call(argument):
                    parts = ["IF(", *call_text(FAILED, [inner]), ",", *inner, ",", *parts, ")"]
        if name in TOP_LEFT and context == "one":
            return [f"{FIRST}(", *parts, ")"], "one"
        return fit((parts, result_shape(signature, shapes)), context)

    def _repeated(self, name: str, letters: str, node: Call) -> bool:
        """Whether a call takes nothing but single values, so that it can be repeated over arrays of them."""
        if self._setting.date_1904 and (name in CALENDAR or name in ("TEXT", "VALUE")):
            return False
        return set(letters) <= {"n", "t"} and not any(isinstance(item, Omitted) for item in node.arguments)

    def _applied(
        self, name: str, letters: str, written: list[list[Part]], shapes: list[str], *, array_condition: bool
    ) -> list[Part]:
        """The call of a function that takes arrays as such or single values only."""
        if name in ("IFERROR", "IFNA") and shapes[1:] and shapes[1] != "one":
            marked = [f"{name}(", *written[0], f',"{MARK}")']
            return self._setting.library("_INSTEAD", [marked, written[1] or ["0"]])
        if name in CHOOSING and array_condition:
            return self._setting.library("_" + name, [inner or ["0"] for inner in written])
        if name == "INDEX" and shapes:
            return self._setting.library("_PICKED", [inner or [f'"{EMPTY}"'] for inner in written])
        return self._written(name, letters, written)

    def _one_area(self, name: str, node: Call, state: RewriteState) -> Call:
        """INDEX of one of several areas."""
        if name != "INDEX" or len(node.arguments) != 4 or not isinstance(node.arguments[3], Literal):
            return node
        areas = members(node.arguments[0], self._setting, state)
        number = node.arguments[3].text
        if number not in map(str, range(1, len(areas) + 1)):
            raise Refusal(f"area {number} of {len(areas)}")
        return Call(node.name, (areas[int(number) - 1], *node.arguments[1:3]))

    def _sized(self, node: Call, state: RewriteState) -> list[Part] | None:
        """The cells to add up, from the first one on as many as those with the criterion (documented)."""
        like, values = (self._setting.resolved_area(node.arguments[place], state) for place in (0, 2))
        if like is None or values is None:
            return None
        plain = self._setting.kept(node.arguments[2], state) or list(values.parts)
        pattern = replace(values.pattern, shape=like.pattern)
        state.areas.append(pattern)
        written = tuple(part for part in plain if isinstance(part, str | Slot | Span | Kept | OwnRow))
        return [Sized(written, values.prefix, pattern)]

    def _special(self, name: str, node: Call, context: str, state: RewriteState) -> Piece | None:
        """A call that is about where cells are; None where that is left to the engine."""
        placed = self._places.call(name, node, context, state)
        if placed is not None:
            return placed
        if name in MOVING:
            moved = self._addresses.moved(node, context, state)
            if moved is None:
                state.moving, state.tracked = True, False
            return moved
        if name == "CHOOSE" and node.arguments and is_array(node.arguments[0]):
            found = [self._visit(argument, "any", state)[0] for argument in node.arguments]
            return fit((self._setting.library("_CHOOSE", found), "arr"), context)
        if name == "INDEX" and _whole_of_computed(node):
            return fit(self._visit(node.arguments[0], "any", state), context)
        if name == "INDEX" and len(node.arguments) == 2:
            area = self._setting.resolved_area(node.arguments[0], state)
            if area is not None and _rectangle(area, state.cells, state.place[0]):
                raise Refusal("INDEX of several rows and columns by one number")
        if name in MEASURING and len(node.arguments) == 1:
            return self._addresses.measured(name, node.arguments[0], context, state)
        return None

    def _argument(
        self,
        letter: str,
        argument: Node,
        context: str,
        signature: Signature,
        name: str,
        state: RewriteState,
        *,
        stepping: bool,
    ) -> Piece:
        if letter == "p":
            return self._visit(argument, context, state)
        if letter in "ra" and name in STACKING:
            ranges = members(argument, self._setting, state)
            if len(ranges) > 1 and not is_cube(argument, self._setting, state):
                pieces = [self._visit(member, "range", state)[0] for member in ranges]
                return self._setting.library("_STACKED", pieces), "arr"
        if letter in "ra":
            if name in COUNTING_TEXT and is_array(argument) and not all_numeric(argument):
                raise Refusal(f"texts or logicals in an array constant of {name}")
            steps = name == "SUMPRODUCT"
            kept = self._setting.kept(argument, state, bounded=steps) if name in KEEPING or steps else None
            piece = self._visit(argument, "any" if context == "any" or letter == "a" else "range", state)
            if kept is not None and piece[1] == "range":
                return kept, "range"
            if steps or (name in TAKING_STEPS and piece[1] == "steps"):
                return onward(*piece), "arr" if piece[1] == "steps" else piece[1]
            literal = isinstance(argument, Literal) and name in CELLS_ONLY
            if literal or (name in COUNTING_CELLS and piece[1] in ("arr", "steps")):
                raise Refusal(f"{name} of something that is no range of cells")
            if piece[1] == "one" and is_text(argument) and name in (ADDING_UP | LOGICAL | {"COUNT"}):
                wanted = "_LOGICAL" if name in LOGICAL else "_COUNTED" if name == "COUNT" else "_NUMBER"
                return read_as(self._setting, wanted, argument, piece[0], state), "one"
            return piece
        several = context == "any" or (signature.lifts and is_array(argument))
        parts, shape = self._visit(argument, "any" if several else "one", state)
        if shape != "one" and not (signature.lifts or (name in CHOOSING and state.array)):
            raise Refusal(f"an array for one value of {name}")
        single = name in ADD_IN or name in ("N", "T")
        if (name == "N" and shape == "ref") or (single and self._several(argument, state)):
            raise Refusal(f"{name} of several cells")
        if name in COUNTING_CELLS and shape == "one" and computes(argument):
            parts = ["IFERROR(", *parts, ",", *refused(NO_CRITERION), ")"]
        if name == "IF" and letter == "n" and shape == "steps":
            return parts, shape
        if stepping and shape != "one":
            plain = letter == "t" or name in LIBRARY or name in ANY_KIND
            read = parts if plain else self._read(name, argument, parts, state)
            return (
                (self._setting.stepped(argument, (parts, shape), state), shape)
                if read is parts
                else (read, "arr")
            )
        if letter == "t":
            return (parts if is_text(argument) else [f"{TEXT}(", Identity(), ",", *parts, ")"]), shape
        if name == "CHOOSE" and shape == "one":
            return self._setting.library("_INDEX", [parts]), shape
        if name in LIBRARY or name in ANY_KIND:
            return parts, shape
        return self._read(name, argument, parts, state), shape

    def _read(self, name: str, argument: Node, parts: list[Part], state: RewriteState) -> list[Part]:
        """A value as number or condition."""
        if name in LOGICAL:
            return read_as(self._setting, "_LOGICAL", argument, parts, state)
        forced = name in TAKING_APART and isinstance(argument, Reference)
        return read_as(self._setting, "_NUMBER", argument, parts, state, force=forced)

    def _several(self, argument: Node, state: RewriteState) -> bool:
        area = self._setting.resolved_area(argument, state)
        return area is not None and area.several

    def _written(self, name: str, letters: str, written: list[list[Part]]) -> list[Part]:
        """The call with its rewritten arguments, by whoever computes it."""
        setting = self._setting
        if name in LIBRARY and not (setting.date_1904 and name in FROM_1904):
            dates: list[list[Part]] = [["TRUE"]] if name == "TEXT" and setting.date_1904 else []
            return setting.library(name, [*written, *dates])
        if name in ("FORECAST", "FORECAST.LINEAR") and len(written) == 3:
            x, ys, xs = written
            line = [*call_text("INTERCEPT", [ys, xs]), "+", *call_text("SLOPE", [ys, xs])]
            return ["(", *line, "*(", *x, "))"]
        if name == "SWITCH" and "p" in letters:
            cases = [inner for letter, inner in zip(letters, written, strict=True) if letter == "n"]
            results = [inner for letter, inner in zip(letters, written, strict=True) if letter == "p"]
            if len(results) < len(cases):
                results.append(["NA()"])
            return call_text("CHOOSE", [setting.library("_CASE", cases), *results])
        return call_text(name, written)


def read_as(
    setting: Setting, name: str, node: Node, parts: list[Part], state: RewriteState, *, force: bool = False
) -> list[Part]:
    """A value read as number or condition here where the engine reads text in another way."""
    known = (isinstance(node, Literal) and node.kind != "text") or _gives_no_text(node)
    if not (is_text(node) or ((state.caught or force) and not known)):
        return parts
    dates: list[list[Part]] = [["TRUE"]] if name == "_NUMBER" and setting.date_1904 else []
    return setting.library(name, [parts, *dates])


def _whole_of_computed(node: Call) -> bool:
    """Whether INDEX gives the whole of an array that an operator computes, as in INDEX((a=x)*(b=y),0)."""
    array, *places = node.arguments
    while isinstance(array, Group):
        array = array.inner
    whole = [isinstance(place, Literal) and place.text == "0" for place in places]
    return isinstance(array, Infix) and array.operator not in (",", " ", ":") and whole == [True]


def _rectangle(area: Area, cells: list[str], row: int) -> bool:
    """Whether an area has several rows and several columns."""
    found = area.pattern.at(cells, row)
    return found.rows > 1 and found.cols > 1


def _gives_no_text(node: Node) -> bool:
    """Whether a node compares or calculates, so that its value is a logical, a number or an error."""
    if isinstance(node, Group):
        return _gives_no_text(node.inner)
    return isinstance(node, Infix) and node.operator not in ("&", ",", " ", ":")
