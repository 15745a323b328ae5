"""Several ranges given as one argument: a union, a name of several, the same cells of several sheets."""

from __future__ import annotations

from xlcalc.recalc.evaluation.formula.references import Cube, Name, sheet_prefix
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import Group, Node, Reference, parse, union
from xlcalc.recalc.evaluation.ordinary import ORDINARY
from xlcalc.recalc.evaluation.rewriting.setting import Setting
from xlcalc.recalc.evaluation.rewriting.state import RewriteState, local

CUBES = frozenset(
    "SUM AVERAGE AVERAGEA COUNT COUNTA MAX MAXA MIN MINA PRODUCT STDEV STDEV.S STDEV.P STDEVP STDEVA STDEVPA "
    "VAR VAR.S VAR.P VARP VARA VARPA".split()
)
"""Functions that take the same cells of several sheets (documented)."""

STACKING = frozenset(
    "LARGE SMALL RANK RANK.EQ RANK.AVG PERCENTILE PERCENTILE.INC PERCENTILE.EXC QUARTILE QUARTILE.INC "
    "QUARTILE.EXC PERCENTRANK PERCENTRANK.INC PERCENTRANK.EXC TRIMMEAN".split()
)
"""Functions that take a union in the place of one range."""


def members(node: Node, setting: Setting, state: RewriteState) -> tuple[Node, ...]:
    """The ranges of a union or of several sheets; the node itself where it is neither."""
    inner = node
    while isinstance(inner, Group):
        inner = inner.inner
    parts = union(inner)
    if len(parts) > 1:
        return tuple(member for part in parts for member in members(part, setting, state))
    if not isinstance(inner, Reference) or local(inner.text) in state.locals:
        return (node,)
    resolved = setting.references.resolve(inner.text, state.sheet, inner.slot, state.place)
    if isinstance(resolved, Cube):
        return tuple(Reference(sheet_prefix(name) + resolved.cells, inner.slot) for name in resolved.sheets)
    if isinstance(resolved, Name):
        with state.inside(resolved):
            named = members(parse(resolved.text, fixed=True), setting, state)
        return named if len(named) > 1 else (node,)
    return (node,)


def is_cube(node: Node, setting: Setting, state: RewriteState) -> bool:
    """Whether a node refers to several sheets."""
    if not isinstance(node, Reference) or local(node.text) in state.locals:
        return False
    return isinstance(setting.references.resolve(node.text, state.sheet, node.slot, state.place), Cube)


def spread(name: str, arguments: tuple[Node, ...], setting: Setting, state: RewriteState) -> tuple[Node, ...]:
    """The arguments of a function with several ranges in the place of one that stands for them.

    Raises
    ------
    Refusal
        Where the function does not take them.
    """
    signature = ORDINARY.get(name)
    if signature is None or signature.repeated not in ("r", "a"):
        return arguments
    found: list[Node] = []
    for argument in arguments:
        if name not in CUBES and is_cube(argument, setting, state):
            raise Refusal(f"{name} of cells of several sheets")
        found += members(argument, setting, state)
    return tuple(found)
