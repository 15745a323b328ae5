"""Who depends on whom: what follows from a refused cell, where an error came from, what goes in circles."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

import numpy as np

from xlcalc.recalc.cellnames import CellRange

Cell = tuple[str, int, int]
"""Sheet, row, column."""

SheetArea = tuple[str, CellRange]


@dataclass(frozen=True)
class Node:
    """A formula: the cells it covers and the areas it refers to; `moving` if it can refer to any cell."""

    covers: SheetArea
    areas: tuple[SheetArea, ...]
    moving: bool = False


class CellSet:
    """Cells of several sheets, asked for by area."""

    def __init__(self, cells: Iterable[Cell]) -> None:
        columns: defaultdict[str, defaultdict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
        for sheet, row, col in cells:
            columns[sheet][col].append(row)
        self._columns = {
            sheet: {col: sorted(rows) for col, rows in sorted(by_column.items())}
            for sheet, by_column in columns.items()
        }

    def inside(self, sheet: str, area: CellRange) -> Iterator[Cell]:
        """The cells inside an area, column by column."""
        columns = self._columns.get(sheet, {})
        wanted: Iterable[int] = range(area.first_col, area.last_col + 1)
        if area.cols > len(columns):
            wanted = (col for col in columns if area.first_col <= col <= area.last_col)
        for col in wanted:
            rows = columns.get(col)
            if rows:
                for index in range(bisect_left(rows, area.first_row), bisect_right(rows, area.last_row)):
                    yield sheet, rows[index], col

    def first_inside(self, sheet: str, area: CellRange) -> Cell | None:
        return next(self.inside(sheet, area), None)


class _Watch:
    """What the formulas refer to on one sheet: single cells in a mapping, areas in arrays, each once."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[int]] = {}
        self._users: dict[CellRange, list[int]] = {}

    def add(self, area: CellRange, identity: int) -> None:
        if area.area == 1:
            self._cells.setdefault(area[:2], []).append(identity)
        else:
            self._users.setdefault(area, []).append(identity)

    def close(self) -> None:
        self._areas = list(self._users)
        self._bounds = np.array(self._areas, dtype=np.int64).reshape(-1, 4)
        self._open = np.ones(len(self._areas), dtype=np.bool_)

    def hit(self, covered: Sequence[CellRange]) -> Iterator[int]:
        """Formulas that refer to any of the covered cells and were not found before."""
        touched = np.zeros(len(self._areas), dtype=np.bool_)
        single: defaultdict[int, list[int]] = defaultdict(list)
        for area in covered:
            if area.area == 1:
                yield from self._cells.pop(area[:2], ())
                single[area.first_col].append(area.first_row)
            else:
                yield from self._inside(area)
                top, left, bottom, right = self._bounds.T
                touched |= (
                    (top <= area.last_row)
                    & (bottom >= area.first_row)
                    & (left <= area.last_col)
                    & (right >= area.first_col)
                )
        if self._areas:
            for col, rows in single.items():
                ordered = np.array(sorted(rows))
                chosen = np.flatnonzero(
                    self._open & (self._bounds[:, 1] <= col) & (self._bounds[:, 3] >= col)
                )
                first = np.searchsorted(ordered, self._bounds[chosen, 0], "left")
                last = np.searchsorted(ordered, self._bounds[chosen, 2], "right")
                touched[chosen[last > first]] = True
        for index in np.flatnonzero(touched & self._open):
            self._open[index] = False
            yield from self._users[self._areas[index]]

    def _inside(self, area: CellRange) -> Iterator[int]:
        if area.area > len(self._cells):
            found = [cell for cell in self._cells if area.contains(*cell)]
        else:
            found = [
                (row, col)
                for row in range(area.first_row, area.last_row + 1)
                for col in range(area.first_col, area.last_col + 1)
                if (row, col) in self._cells
            ]
        for cell in found:
            yield from self._cells.pop(cell)


def following(nodes: Mapping[int, Node], seeds: Collection[int]) -> dict[int, int]:
    """Formulas that depend on the seeds, each with the formula it follows from.

    A formula that can refer to any cell follows from every seed.
    """
    watches: defaultdict[str, _Watch] = defaultdict(_Watch)
    for identity, node in nodes.items():
        for sheet, area in node.areas:
            watches[sheet].add(area, identity)
    for watch in watches.values():
        watch.close()
    found: dict[int, int] = {}
    layer = list(seeds)
    if layer:
        moving = [identity for identity, node in nodes.items() if node.moving and identity not in seeds]
        found.update(dict.fromkeys(moving, layer[0]))
        layer += moving
    while layer:
        by_sheet: defaultdict[str, list[int]] = defaultdict(list)
        for identity in layer:
            by_sheet[nodes[identity].covers[0]].append(identity)
        layer = []
        for sheet, identities in by_sheet.items():
            if sheet not in watches:
                continue
            covered = CellSet(
                (sheet, nodes[i].covers[1].first_row, nodes[i].covers[1].first_col) for i in identities
            )
            at = {nodes[i].covers[1][:2]: i for i in identities}
            for user in watches[sheet].hit([nodes[i].covers[1] for i in identities]):
                if user in found or user in seeds:
                    continue
                found[user] = _cause(nodes[user], sheet, covered, at, identities[0])
                layer.append(user)
    return found


def _cause(node: Node, sheet: str, covered: CellSet, at: Mapping[tuple[int, int], int], other: int) -> int:
    for name, area in node.areas:
        if name == sheet:
            cell = covered.first_inside(sheet, area)
            if cell is not None:
                return at[cell[1:]]
    return other


def circles(nodes: Mapping[int, Node], among: Sequence[int]) -> set[int]:
    """Those of the formulas that refer to themselves, directly or through one another."""
    number = {
        (*nodes[identity].covers[1][:2], nodes[identity].covers[0]): i for i, identity in enumerate(among)
    }
    cells = CellSet((nodes[i].covers[0], *nodes[i].covers[1][:2]) for i in among)
    sources: list[int] = []
    targets: list[int] = []
    own: set[int] = set()
    for index, identity in enumerate(among):
        for sheet, area in nodes[identity].areas:
            for _, row, col in cells.inside(sheet, area):
                target = number[row, col, sheet]
                if target == index:
                    own.add(identity)
                    continue
                sources.append(index)
                targets.append(target)
    if _without_circle(sources, targets):
        return own
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    graph = coo_array(
        (np.ones(len(sources), dtype=np.int8), (sources, targets)), shape=(len(among), len(among))
    )
    _, labels = connected_components(graph, directed=True, connection="strong")
    sizes = np.bincount(labels)
    return own | {identity for identity, label in zip(among, labels, strict=True) if sizes[label] > 1}


def _without_circle(sources: Sequence[int], targets: Sequence[int]) -> bool:
    """Whether the arrows from sources to targets never come back; spares the import of scipy."""
    graph: defaultdict[int, list[int]] = defaultdict(list)
    for source, target in zip(sources, targets, strict=True):
        graph[source].append(target)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError:
        return False
    return True
