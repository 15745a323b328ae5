"""Formulas as trees: built from the engine's tokens, rendered back to text that the engine reads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from xlcalc.recalc.evaluation.engine import EngineError, Token, tokenize
from xlcalc.recalc.evaluation.formula.pattern import split_pattern
from xlcalc.recalc.evaluation.formula.refusal import Refusal

MAX_LENGTH = 8192
MAX_DEPTH = 64
MAX_CHAIN = 240
"""Limits that spreadsheet programs document for formulas."""

_PRECEDENCE = {
    ":": 8,
    " ": 7,
    ",": 6,
    "^": 4,
    "*": 3,
    "/": 3,
    "+": 2,
    "-": 2,
    "&": 1,
    "=": 0,
    "<": 0,
    ">": 0,
    "<=": 0,
    ">=": 0,
    "<>": 0,
}
_PREFIX_PRECEDENCE = 5


@dataclass(frozen=True, slots=True)
class Literal:
    """A number, text, logical or error constant; `kind` is the token's part."""

    text: str
    kind: str


@dataclass(frozen=True, slots=True)
class Reference:
    """A reference or name as written.

    `slot` numbers its first cell address among all of the formula; None where addresses do not move with
    the formula, as in the text of a defined name.
    """

    text: str
    slot: int | None = None


@dataclass(frozen=True, slots=True)
class Omitted:
    """An empty argument."""


@dataclass(frozen=True, slots=True)
class Call:
    name: str
    arguments: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Applied:
    """A computed function with its arguments, such as ``LAMBDA(x,x+1)(2)``."""

    function: Node
    arguments: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Infix:
    operator: str
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Prefix:
    operator: str
    operand: Node


@dataclass(frozen=True, slots=True)
class Postfix:
    operator: str
    operand: Node


@dataclass(frozen=True, slots=True)
class Group:
    """An expression in parentheses."""

    inner: Node


@dataclass(frozen=True, slots=True)
class ArrayConstant:
    text: str


Node = Literal | Reference | Omitted | Call | Applied | Infix | Prefix | Postfix | Group | ArrayConstant


@lru_cache(maxsize=1024)
def parse(text: str, *, fixed: bool = False) -> Node:
    """The tree of a formula written without its equals sign.

    The texts of defined names, which formulas ask for again and again, are parsed once.

    Parameters
    ----------
    text : str
        The formula.
    fixed : bool
        Whether its addresses stay where they are, as in a defined name.

    Raises
    ------
    Refusal
        For text that is no formula.
    """
    if len(text) > MAX_LENGTH:
        raise Refusal(f"the formula is longer than {MAX_LENGTH} characters")
    try:
        tokens = _spaced(tokenize("=" + text))
    except EngineError as problem:
        raise Refusal(f"not a formula: {problem}") from None
    reader = _Reader(tokens, None if fixed else 0)
    tree = reader.expression(0, 0)
    if reader.position != len(tokens):
        raise Refusal(f"not a formula: unexpected {reader.peek().text!r}")
    return tree


def children(node: Node) -> Iterator[Node]:
    """The nodes directly below."""
    if isinstance(node, Call):
        yield from node.arguments
    elif isinstance(node, Applied):
        yield node.function
        yield from node.arguments
    elif isinstance(node, Infix):
        yield node.left
        yield node.right
    elif isinstance(node, Prefix | Postfix):
        yield node.operand
    elif isinstance(node, Group):
        yield node.inner


def union(node: Node) -> tuple[Node, ...]:
    """The members of a union of references, one for any other node."""
    if isinstance(node, Infix) and node.operator == ",":
        return (*union(node.left), *union(node.right))
    return (node,)


def _spaced(tokens: list[Token]) -> list[Token]:
    """The tokens without blanks, but for one between two names, where it stands for their intersection."""
    kept: list[Token] = []
    for index, token in enumerate(tokens):
        if token.kind != "space":
            kept.append(token)
        elif kept and index + 1 < len(tokens):
            before, after = kept[-1], tokens[index + 1]
            ends = before.kind == "operand" or (
                before.kind in ("function", "paren") and before.part == "close"
            )
            begins = after.kind == "operand" or (after.kind == "function" and after.part == "open")
            if ends and begins:
                kept.append(Token(" ", "infix", ""))
    return kept


class _Reader:
    def __init__(self, tokens: list[Token], first_slot: int | None) -> None:
        self._tokens = tokens
        self._slot = first_slot
        self.position = 0

    def peek(self) -> Token:
        if self.position >= len(self._tokens):
            raise Refusal("not a formula: it ends too early")
        return self._tokens[self.position]

    def _more(self) -> bool:
        return self.position < len(self._tokens)

    def _take(self) -> Token:
        token = self.peek()
        self.position += 1
        return token

    def expression(self, floor: int, depth: int) -> Node:
        if depth > MAX_DEPTH * 2:
            raise Refusal(f"the formula is nested more than {MAX_DEPTH} deep")
        left = self._operand(depth + 1)
        links = 0
        while self._more():
            links += 1
            if links > MAX_CHAIN:
                raise Refusal(f"an expression of more than {MAX_CHAIN} operands")
            token = self.peek()
            if token.kind == "postfix":
                self.position += 1
                left = Postfix(token.text, left)
                continue
            if token.kind == "paren" and token.part == "open":
                if not isinstance(left, Call | Applied):
                    raise Refusal("a name followed by a blank and a parenthesis")
                left = Applied(left, self._applied(depth))
                continue
            if token.kind != "infix":
                break
            operator = token.text.strip() or " "
            if operator not in _PRECEDENCE:
                raise Refusal(f"operator {operator!r} is not known")
            precedence = _PRECEDENCE[operator]
            if precedence < floor:
                break
            self.position += 1
            left = Infix(operator, left, self.expression(precedence + 1, depth + 1))
        return left

    def _operand(self, depth: int) -> Node:
        token = self._take()
        if token.kind == "prefix":
            return Prefix(token.text, self.expression(_PREFIX_PRECEDENCE, depth))
        if token.kind == "paren" and token.part == "open":
            inner = self.expression(0, depth)
            self._expect("paren")
            return Group(inner)
        if token.kind == "function" and token.part == "open":
            return Call(token.text[:-1].strip(), self._arguments(depth))
        if token.kind == "array" and token.part == "open":
            return self._array()
        if token.kind == "operand":
            return self._reference(token.text) if token.part == "range" else Literal(token.text, token.part)
        raise Refusal(f"not a formula: unexpected {token.text!r}")

    def _reference(self, text: str) -> Reference:
        slot = self._slot
        if slot is not None:
            self._slot = slot + len(split_pattern(text)[1])
        return Reference(text, slot)

    def _expect(self, kind: str) -> None:
        token = self._take()
        if token.kind != kind or token.part != "close":
            raise Refusal(f"not a formula: unexpected {token.text!r}")

    def _arguments(self, depth: int) -> tuple[Node, ...]:
        found: list[Node] = []
        if self.peek().kind == "function" and self.peek().part == "close":
            self.position += 1
            return ()
        while True:
            token = self.peek()
            empty = token.kind == "separator" or (token.kind == "function" and token.part == "close")
            found.append(Omitted() if empty else self.expression(0, depth))
            token = self._take()
            if token.kind == "function" and token.part == "close":
                return tuple(found)
            if token.kind != "separator":
                raise Refusal(f"not a formula: unexpected {token.text!r}")

    def _applied(self, depth: int) -> tuple[Node, ...]:
        """Arguments in parentheses; the commas between them look like those of a union."""
        self.position += 1
        if self.peek().kind == "paren" and self.peek().part == "close":
            self.position += 1
            return ()
        inner = self.expression(0, depth + 1)
        self._expect("paren")
        return union(inner)

    def _array(self) -> Node:
        parts = ["{"]
        while True:
            token = self._take()
            parts.append(token.text)
            if token.kind == "array" and token.part == "close":
                return ArrayConstant("".join(parts))
            if token.kind not in ("operand", "separator", "prefix", "array"):
                raise Refusal(f"not a formula: {token.text!r} in an array constant")
