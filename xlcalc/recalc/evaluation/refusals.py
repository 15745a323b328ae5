"""The formulas of one calculation that keep their old values, with the reason of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.dependents import Node, SheetArea, circles, following
from xlcalc.recalc.evaluation.feeding.formulas import Formulas

_ON_A_CIRCLE = "a circular reference"
_BEHIND_A_CIRCLE = "it depends on a circular reference"


class Refusals:
    """Collects refused formulas and everything that depends on them."""

    def __init__(self, prepared: Formulas) -> None:
        self.reasons: dict[int, str] = {}
        self._prepared = prepared
        self._suspected: dict[int, str] = {}
        self._nodes: dict[int, Node] | None = None

    def nodes(self) -> dict[int, Node]:
        """Every formula with what it covers and refers to."""
        if self._nodes is None:
            self._nodes = {
                item.identity: replace(item.node(), moving=item.compiled.moving and not item.compiled.tracked)
                for item in self._prepared
            }
        return self._nodes

    def meet(self, met: Mapping[int, Sequence[SheetArea]]) -> None:
        """Take over the cells that formulas met by computed addresses; refuse circles through them."""
        if not met:
            return
        nodes = self.nodes()
        for identity, areas in met.items():
            node = nodes[identity]
            nodes[identity] = replace(node, areas=(*node.areas, *dict.fromkeys(areas)))
        behind = {*met, *following(nodes, met)}
        for identity in circles(nodes, sorted(behind)):
            self.add(identity, _ON_A_CIRCLE)

    def add(self, identity: int, reason: str) -> None:
        """Refuse a formula; the first reason stays."""
        self.reasons.setdefault(identity, reason)

    def suspect(self, identity: int, reason: str) -> None:
        """Refuse a formula that has no value, unless it depends on one that is refused for another reason."""
        self._suspected.setdefault(identity, reason)

    def add_circular(self, identities: Sequence[int]) -> None:
        """Refuse formulas that the engine found to be on a circle or behind one."""
        if identities:
            on_circle = circles(self.nodes(), identities)
            for identity in identities:
                self.add(identity, _ON_A_CIRCLE if identity in on_circle else _BEHIND_A_CIRCLE)

    def spread(self, results: Mapping[int, CellRange] | None = None) -> None:
        """Refuse everything that depends on what is refused, then what has no value, with all that follows.

        `results` gives the cells that dynamic arrays filled in this calculation.
        """
        self._spread(results)
        if self._suspected.keys() - self.reasons.keys():
            for identity, reason in self._suspected.items():
                self.add(identity, reason)
            self._spread(results)

    def _spread(self, results: Mapping[int, CellRange] | None) -> None:
        if not self.reasons:
            return
        nodes = self.nodes()
        if results:
            nodes = dict(nodes)
            for identity, area in results.items():
                sheet, old = nodes[identity].covers
                node = nodes[identity]
                nodes[identity] = Node((sheet, _around(old, area)), node.areas, node.moving)
        for identity, cause in following(nodes, set(self.reasons)).items():
            origin = self._prepared[cause].address
            node, covered = nodes[identity], nodes[cause].covers
            if node.moving and not any(touch(area, covered) for area in node.areas):
                self.add(identity, f"it can refer to any cell, and {origin} kept its old value")
            else:
                self.add(identity, f"it depends on {origin}, which kept its old value")


def _around(first: CellRange, second: CellRange) -> CellRange:
    top, left = min(first.first_row, second.first_row), min(first.first_col, second.first_col)
    return CellRange(top, left, max(first.last_row, second.last_row), max(first.last_col, second.last_col))


def touch(first: tuple[str, CellRange], second: tuple[str, CellRange]) -> bool:
    """Whether two areas, each with its sheet, have a cell in common."""
    (sheet, a), (other, b) = first, second
    return (
        sheet == other
        and a.first_row <= b.last_row
        and b.first_row <= a.last_row
        and a.first_col <= b.last_col
        and b.first_col <= a.last_col
    )
