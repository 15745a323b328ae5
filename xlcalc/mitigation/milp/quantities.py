"""Every value that a limit bounds, as a convex function of the unknowns.

A row is one order of one phase at one place: ``|b + sum of n_k p_k| + sum of n_k l_k`` with phasors p of
known angle and magnitudes l of unknown angle. A total is the root of the sum of squares of the rows of one
phase. Both are convex, so that a tangent lies below them everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.spectrum import ComplexArray, FloatArray

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class ValueBlock:
    """Rows of one quantity at one place: the phases of all orders from 2 on.

    Parameters
    ----------
    name : str
        What it is, with its place and case.
    orders : array of int, shape (m,)
        Orders of the rows of one phase.
    base : array of complex, shape (phases, m)
        Fixed part.
    parts : array of complex, shape (unknowns, phases, m)
        Phasors per unit of each unknown.
    unknown_angle : array of float, shape (unknowns, phases, m)
        Magnitudes of unknown angle.
    base_unknown_angle : array of float, shape (phases, m)
        Fixed magnitudes of unknown angle.
    """

    name: str
    orders: IntArray
    base: ComplexArray
    parts: ComplexArray
    unknown_angle: FloatArray
    base_unknown_angle: FloatArray


class Quantities:
    """Rows and totals of all blocks, one after the other.

    Parameters
    ----------
    blocks : tuple of ValueBlock
        The blocks, for the same unknowns.
    """

    def __init__(self, blocks: tuple[ValueBlock, ...]) -> None:
        self.blocks = blocks
        unknowns = blocks[0].parts.shape[0]
        self.base: ComplexArray = np.concatenate([b.base.ravel() for b in blocks])
        self.base_unknown_angle: FloatArray = np.concatenate([b.base_unknown_angle.ravel() for b in blocks])
        self.parts: ComplexArray = np.concatenate([b.parts.reshape(unknowns, -1) for b in blocks], axis=1)
        self.unknown_angle: FloatArray = np.concatenate(
            [b.unknown_angle.reshape(unknowns, -1) for b in blocks], axis=1
        )
        self.rows = self.base.size
        phases = [(k, phase) for k, b in enumerate(blocks) for phase in range(b.base.shape[0])]
        self.totals = len(phases)
        lengths = [blocks[k].orders.size for k, _ in phases]
        self.total_of_row: IntArray = np.repeat(np.arange(self.totals), lengths)
        self._starts: IntArray = np.concatenate([[0], np.cumsum(lengths)[:-1]]).astype(np.int64)
        self.block_of_total: IntArray = np.array([k for k, _ in phases], dtype=np.int64)
        self.order_of_row: IntArray = np.concatenate([blocks[k].orders for k, _ in phases])

    @property
    def count(self) -> int:
        """Number of values: rows, then totals."""
        return self.rows + self.totals

    @property
    def block_of(self) -> IntArray:
        """Block of every value."""
        return np.concatenate([self.block_of_total[self.total_of_row], self.block_of_total])

    @property
    def order_of(self) -> IntArray:
        """Order of every value; 0 for a total."""
        return np.concatenate([self.order_of_row, np.zeros(self.totals, np.int64)])

    def state(self, unknowns: FloatArray) -> tuple[ComplexArray, FloatArray]:
        """Phasors and unknown_angle magnitudes of all rows; `unknowns` of shape (..., unknowns)."""
        return self.base + unknowns @ self.parts, self.base_unknown_angle + unknowns @ self.unknown_angle

    def values_of(self, phasors: ComplexArray, unknown_angle: FloatArray) -> FloatArray:
        """All values of a state, shape (..., count)."""
        rows = np.abs(phasors) + unknown_angle
        totals = np.sqrt(np.add.reduceat(rows**2, self._starts, axis=-1))
        return np.concatenate([rows, totals], axis=-1)

    def values(self, unknowns: FloatArray) -> FloatArray:
        """All values, shape (..., count)."""
        return self.values_of(*self.state(unknowns))

    def tangent(
        self, index: int, phasors: ComplexArray, unknown_angle: FloatArray
    ) -> tuple[FloatArray, float]:
        """Gradient over the unknowns and constant of the tangent to one value at a state.

        The value is at or above ``gradient @ unknowns + constant`` everywhere.
        """
        if index < self.rows:
            chosen, weights = np.array([index]), np.ones(1)
        else:
            chosen = np.flatnonzero(self.total_of_row == index - self.rows)
            sizes = np.abs(phasors[chosen]) + unknown_angle[chosen]
            length = float(np.linalg.norm(sizes))
            weights = sizes / length if length > 0.0 else np.zeros(chosen.size)
        size = np.abs(phasors[chosen])
        unit = np.where(size > 0.0, np.conj(phasors[chosen]) / np.where(size > 0.0, size, 1.0), 0.0)
        gradient = np.real(self.parts[:, chosen] * unit) + self.unknown_angle[:, chosen]
        constant = np.real(self.base[chosen] * unit) + self.base_unknown_angle[chosen]
        return np.asarray(gradient @ weights), float(constant @ weights)
