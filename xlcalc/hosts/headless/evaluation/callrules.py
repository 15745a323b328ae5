"""Rules of the rewriting that look at one call at a time: refused, wrapped, and of what shape."""

from __future__ import annotations

from xlcalc.hosts.headless.evaluation.internal import CAUGHT, MARK, MATCHED, SEEN
from xlcalc.hosts.headless.evaluation.ordinary import EXACT_ONLY, Signature
from xlcalc.hosts.headless.evaluation.parts import Identity, Part
from xlcalc.hosts.headless.evaluation.refusal import Refusal
from xlcalc.hosts.headless.evaluation.syntax import Call, Group, Infix, Literal, Node, Omitted, Reference

_CONDITIONAL = frozenset("COUNTIF COUNTIFS SUMIF SUMIFS AVERAGEIF AVERAGEIFS MAXIFS MINIFS".split())
_TEXT_FUNCTIONS = frozenset(
    "TEXT LEFT RIGHT MID LOWER UPPER TRIM PROPER CLEAN REPT SUBSTITUTE REPLACE CHAR CONCATENATE".split()
)


def computes(node: Node) -> bool:
    """Whether a node is more than a reference or a constant."""
    if isinstance(node, Group):
        return computes(node.inner)
    return not isinstance(node, Reference | Literal)


def caught(parts: list[Part], interest: int) -> list[Part]:
    """The same value; an error that would be thrown past the function looking at it becomes a value."""
    return [f"{CAUGHT}(", Identity(), f",IFERROR({SEEN}(", *parts, f'),"{MARK}"),{interest})']


def call_text(name: str, arguments: list[list[Part]]) -> list[Part]:
    """A call, each argument given by its pieces."""
    parts: list[Part] = [f"{name}("]
    for index, argument in enumerate(arguments):
        parts += [",", *argument] if index else argument
    return [*parts, ")"]


def with_errors(call: list[Part], place: int, arguments: list[list[Part]]) -> list[Part]:
    """A conditional sum that shows an error value among the cells that it adds up."""
    summed = arguments[place]
    criteria = arguments[:place] or arguments[1:]
    first = criteria[0]
    matched = call_text(MATCHED, [[Identity()], call, summed, *criteria])
    test: list[Part] = ["OR(ISERROR(SUM(", *summed, ")),ROWS(", *summed, ")<>ROWS(", *first, ")"]
    test += [",COLUMNS(", *summed, ")<>COLUMNS(", *first, "))"]
    return call_text("IF", [test, matched, call])


def check_call(name: str, arguments: tuple[Node, ...], *, hidden_rows: bool) -> None:
    """Refuse uses of ordinary functions that the engine is known to get wrong.

    Raises
    ------
    Refusal
        With the reason.
    """
    way = arguments[EXACT_ONLY[name]] if EXACT_ONLY.get(name, len(arguments)) < len(arguments) else Omitted()
    if not (isinstance(way, Omitted) or (isinstance(way, Literal) and way.text == "0")):
        raise Refusal(f"{name} with a way of matching other than exact")
    texts = [argument.text for argument in arguments if isinstance(argument, Literal)]
    if name == "SUBTOTAL" and hidden_rows:
        raise Refusal("SUBTOTAL in a workbook with hidden rows")
    if name == "SUBTOTAL" and texts[:1] in (["2"], ["102"]):
        raise Refusal("SUBTOTAL that counts numbers")
    if name in _CONDITIONAL and any(text.startswith(('"#', '"=#', '"<>#')) for text in texts):
        raise Refusal(f"{name} that looks for an error value")


def is_text(node: Node) -> bool:
    """Whether a node is text whatever the cells hold, so that no number needs turning into text."""
    if isinstance(node, Literal):
        return node.kind == "text"
    if isinstance(node, Group):
        return is_text(node.inner)
    if isinstance(node, Infix):
        return node.operator == "&"
    return isinstance(node, Call) and node.name.upper() in _TEXT_FUNCTIONS


def result_shape(signature: Signature, shapes: list[str]) -> str:
    """Shape of a call whose arguments that decide it have these shapes."""
    if signature.result == "arr":
        return "arr"
    if signature.result == "ref":
        return "ref"
    if not shapes or all(shape == "one" for shape in shapes):
        return "one"
    return shapes[0] if len(set(shapes)) == 1 and signature.result == "pass" else "arr"
