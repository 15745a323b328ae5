"""What is known about a formula while it is rewritten."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from xlcalc.recalc.evaluation.formula.parts import AreaPattern, Identity, OwnCall, Part
from xlcalc.recalc.evaluation.formula.references import Name
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import Node
from xlcalc.recalc.evaluation.internal import DO, FIRST, ONE, ONWARD
from xlcalc.recalc.evaluation.library.catalogue import VECTORS

_LOCAL = "_xlpm."
_MAX_NAME_DEPTH = 16

Piece = tuple[list[Part], str]
"""Rewritten text, and its shape: "one" value, a "range", a "ref" of unknown size, an array "arr" or "own".

The parts of "steps" are one call of a function that can hand its array on in Python.
"""


@dataclass(frozen=True, slots=True)
class Variable:
    """A variable of LET as the engine knows it, the shape of its value, and the cells that it stands for."""

    name: str
    shape: str
    area: AreaPattern | None = None


@dataclass(frozen=True)
class Given:
    """A LAMBDA with what is visible where it is written."""

    parameters: tuple[str, ...]
    body: Node
    locals: dict[str, Variable]
    functions: dict[str, Given]
    names: tuple[str, ...]


@dataclass
class RewriteState:
    """One formula on its way: where it stands, what it refers to, the variables around a place in it."""

    sheet: str
    place: tuple[int, int]
    array: bool
    areas: list[AreaPattern] = field(default_factory=list)
    own_calls: list[OwnCall] = field(default_factory=list)
    bases: list[AreaPattern] = field(default_factory=list)
    anchors: list[AreaPattern] = field(default_factory=list)
    moving: bool = False
    tracked: bool = True
    volatile: bool = False
    caught: int = 0
    names: tuple[str, ...] = ()
    cells: list[str] = field(default_factory=list)
    locals: dict[str, Variable] = field(default_factory=dict)
    functions: dict[str, Given] = field(default_factory=dict)
    lines: list[tuple[bool, list[Part]]] = field(default_factory=list)
    blank_lines: int = 0
    numbered: int = 0
    depth: int = 0
    last: Node | None = None

    @contextmanager
    def inside(self, name: Name) -> Iterator[None]:
        """While the text of a defined name is rewritten: it sees none of the variables around it."""
        folded = name.name.casefold()
        if folded in self.names or len(self.names) >= _MAX_NAME_DEPTH:
            raise Refusal(f"the name {name.name} is defined by itself")
        outer = self.names
        self.names = (*self.names, folded)
        with self.scope({}, {}):
            try:
                yield
            finally:
                self.names = outer

    @contextmanager
    def scope(self, variables: dict[str, Variable], functions: dict[str, Given]) -> Iterator[None]:
        """While only these variables are visible; the mappings are copied."""
        outer = self.locals, self.functions
        self.locals, self.functions = dict(variables), dict(functions)
        try:
            yield
        finally:
            self.locals, self.functions = outer

    @contextmanager
    def beyond(self) -> Iterator[None]:
        """While whole columns and rows stand for one of their blank cells."""
        self.blank_lines += 1
        try:
            yield
        finally:
            self.blank_lines -= 1

    def variable(self, shape: str, area: AreaPattern | None) -> Variable:
        """A variable with a name that no other one of the formula has."""
        self.numbered += 1
        return Variable(f"v_{self.numbered}", shape, area)


def local(text: str) -> str:
    """A variable of LET, whatever its case and prefix."""
    return text.casefold().removeprefix(_LOCAL)


def onward(parts: list[Part], shape: str) -> list[Part]:
    """A step whose array goes to the next one without the engine."""
    if shape != "steps" or not isinstance(parts[0], str):
        return parts
    if not parts[0].startswith(DO) or parts[0].removeprefix(DO)[:-1] not in VECTORS:
        return parts
    return [parts[0][:-1] + ONWARD + "(", *parts[1:]]


def fit(piece: Piece, context: str) -> Piece:
    """Reduce an array to one value where one value is expected."""
    parts, shape = piece
    if context != "one" or shape == "one":
        return piece
    if shape == "own":
        return [f"{FIRST}(", *parts, ")"], "one"
    return [f"{ONE}(", Identity(), ",", *parts, ")"], "one"
