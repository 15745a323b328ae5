"""What is known about a formula while it is rewritten."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from xlcalc.hosts.headless.evaluation.internal import DO, FIRST, ONE, ONWARD
from xlcalc.hosts.headless.evaluation.parts import AreaPattern, Identity, OwnCall, Part
from xlcalc.hosts.headless.evaluation.references import Name
from xlcalc.hosts.headless.evaluation.refusal import Refusal

_LOCAL = "_xlpm."
_MAX_NAME_DEPTH = 16

Piece = tuple[list[Part], str]
"""Rewritten text, and its shape: "one" value, a "range", a "ref" of unknown size, an array "arr" or "own".

The parts of "steps" are one call of a function that can hand its array on in Python.
"""


@dataclass
class State:
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
    locals: dict[str, str] = field(default_factory=dict)
    local_areas: dict[str, AreaPattern | None] = field(default_factory=dict)

    @contextmanager
    def inside(self, name: Name) -> Iterator[None]:
        """While the text of a defined name is rewritten: it sees none of the variables around it."""
        folded = name.name.casefold()
        if folded in self.names or len(self.names) >= _MAX_NAME_DEPTH:
            raise Refusal(f"the name {name.name} is defined by itself")
        outer = self.names, self.locals
        self.names, self.locals = (*self.names, folded), {}
        try:
            yield
        finally:
            self.names, self.locals = outer


def local(text: str) -> str:
    """A variable of LET, whatever its case and prefix."""
    return local_name(text).casefold()


def local_name(text: str) -> str:
    """A variable of LET without its prefix."""
    return text[len(_LOCAL) :] if text.lower().startswith(_LOCAL) else text


def onward(parts: list[Part], shape: str) -> list[Part]:
    """A step whose array goes to the next one without the engine."""
    if shape != "steps" or not isinstance(parts[0], str) or not parts[0].startswith(DO):
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
