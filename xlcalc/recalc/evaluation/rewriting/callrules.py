"""Rules of the rewriting that look at one call at a time: refused, wrapped, and of what shape."""

from __future__ import annotations

from xlcalc.recalc.evaluation.formula.parts import Identity, Part
from xlcalc.recalc.evaluation.formula.syntax import (
    ArrayConstant,
    Call,
    Group,
    Infix,
    Literal,
    Node,
    Reference,
    children,
)
from xlcalc.recalc.evaluation.internal import CAUGHT, MARK, SEEN
from xlcalc.recalc.evaluation.ordinary import ORDINARY, TOP_LEFT, Signature
from xlcalc.recalc.evaluation.rewriting.spellings import plain_name

_TEXT_FUNCTIONS = frozenset(
    "TEXT LEFT RIGHT MID LOWER UPPER TRIM PROPER CLEAN REPT SUBSTITUTE REPLACE CHAR CONCATENATE".split()
)


def computes(node: Node) -> bool:
    """Whether a node is more than a reference or a constant."""
    if isinstance(node, Group):
        return computes(node.inner)
    return not isinstance(node, Reference | Literal)


def is_error(node: Node) -> bool:
    """Whether a node is an error constant."""
    return isinstance(node, Literal) and node.kind == "error"


def caught(parts: list[Part], interest: int) -> list[Part]:
    """The same value; an error that would be thrown past the function looking at it becomes a value."""
    return [f"{CAUGHT}(", Identity(), f",IFERROR({SEEN}(", *parts, f'),"{MARK}"),{interest})']


def refused(interest: int) -> list[Part]:
    """What refuses the formula where it is evaluated."""
    return [f"{CAUGHT}(", Identity(), f',"{MARK}",{interest})']


def call_text(name: str, arguments: list[list[Part]]) -> list[Part]:
    """A call, each argument given by its pieces."""
    parts: list[Part] = [f"{name}("]
    for index, argument in enumerate(arguments):
        parts += [",", *argument] if index else argument
    return [*parts, ")"]


def is_array(node: Node) -> bool:
    """Whether a node is an array constant, which is computed with as an array in every formula."""
    return is_array(node.inner) if isinstance(node, Group) else isinstance(node, ArrayConstant)


def all_numeric(node: Node) -> bool:
    """Whether an array constant holds nothing but numbers."""
    if isinstance(node, Group):
        return all_numeric(node.inner)
    text = node.text.upper() if isinstance(node, ArrayConstant) else '"'
    return not any(mark in text for mark in ('"', "#", "TRUE", "FALSE"))


def gives_new_array(node: Node) -> bool:
    """Whether a node calls a function whose array is computed with only in array formulas."""
    if isinstance(node, Call):
        name = plain_name(node.name)[0]
        signature = ORDINARY.get(name)
        if (
            signature is not None and signature.result == "arr" and name not in TOP_LEFT
        ) or signature is None:
            return True
    return any(gives_new_array(child) for child in children(node))


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
    same = len(set(shapes)) == 1 and signature.result == "pass" and shapes[0] != "steps"
    return shapes[0] if same else "arr"
