"""What a LAMBDA computes, free of the cells around it: its body with places for what is handed to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import (
    Applied,
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
)


@dataclass(frozen=True)
class Captured:
    """Something that a body uses from around it; whole columns or rows stay such where it is evaluated."""

    columns: int = 0
    rows: int = 0


@dataclass(frozen=True)
class Recipe:
    """A LAMBDA as a helper function repeats it.

    Parameters
    ----------
    parameters : int
        How many values it is given.
    body : Node
        With `parameter` and `captured` in the place of references.
    captured : tuple of Captured
    """

    parameters: int
    body: Node
    captured: tuple[Captured, ...]


def parameter(number: int) -> Reference:
    """The place of a parameter in a body."""
    return Reference(f"\ue0f5given {number}")


def captured(number: int) -> Reference:
    """The place of something captured in a body."""
    return Reference(f"\ue0f5used {number}")


def written(node: Node, texts: Mapping[Reference, str]) -> str:
    """A tree as the text of a formula, some references replaced."""
    match node:
        case Reference():
            return texts.get(node, node.text)
        case Literal() | ArrayConstant():
            return node.text
        case Omitted():
            return ""
        case Group():
            return f"({written(node.inner, texts)})"
        case Call():
            return f"{node.name}({','.join(written(item, texts) for item in node.arguments)})"
        case Applied():
            inner = ",".join(written(item, texts) for item in node.arguments)
            return f"{written(node.function, texts)}({inner})"
        case Infix():
            return written(node.left, texts) + node.operator + written(node.right, texts)
        case Prefix():
            return node.operator + written(node.operand, texts)
        case Postfix():
            return written(node.operand, texts) + node.operator
    raise Refusal("a formula of an unknown kind")
