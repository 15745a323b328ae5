"""Anderson acceleration of a fixed-point iteration on complex unknowns.

D. G. Anderson, "Iterative procedures for nonlinear integral equations", J. ACM 12 (1965) 547-560; in the form
of H. F. Walker and P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715-1735 (both from memory).
"""

from __future__ import annotations

import numpy as np

from xlcalc.spectrum import ComplexArray, FloatArray


class Anderson:
    """Next iterates of ``x = g(x)`` from the last few pairs of x and g(x).

    Parameters
    ----------
    weights : array, shape (n,)
        Weight of each unknown in the norm that is made small.
    memory : int
        Pairs that are kept.
    """

    def __init__(self, weights: FloatArray, memory: int = 20) -> None:
        self._weights = weights
        self._memory = memory
        self._steps: list[ComplexArray] = []
        self._changes: list[ComplexArray] = []
        self._last: tuple[ComplexArray, ComplexArray] | None = None

    def following(self, x: ComplexArray, image: ComplexArray, damping: float = 1.0) -> ComplexArray:
        """The next iterate after ``image = g(x)``; `damping` below 1 takes a part of the step only."""
        residual = image - x
        if self._last is not None:
            self._steps.append(x - self._last[0])
            self._changes.append(residual - self._last[1])
            if len(self._steps) > self._memory:
                self._steps.pop(0)
                self._changes.pop(0)
        self._last = (x, residual)
        if not self._steps:
            return x + damping * residual
        steps = np.array(self._steps).T
        changes = np.array(self._changes).T
        shares = np.linalg.lstsq(self._real(changes), self._real(residual[:, None])[:, 0], rcond=1e-10)[0]
        return np.asarray(x + damping * residual - (steps + damping * changes) @ shares, np.complex128)

    def restart(self) -> None:
        """Forget all pairs."""
        self._steps.clear()
        self._changes.clear()
        self._last = None

    def _real(self, columns: ComplexArray) -> FloatArray:
        weighted = columns * self._weights[:, None]
        return np.concatenate([weighted.real, weighted.imag])
