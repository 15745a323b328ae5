"""LINEST, LOGEST, TREND and GROWTH: least squares with numpy.

Which cells a result has as in the function descriptions of Excel (support.microsoft.com, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    error,
    fail,
    is_error,
    is_number,
    logical,
    rows_of,
)
from xlcalc.schema.values import ErrorCode

_INDEPENDENT = 1e-10
_EXACT = 1e-22
Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Fit:
    """A straight line, plane or more through points.

    Parameters
    ----------
    slopes : array
        One for each variable, in the order of the columns.
    """

    slopes: Matrix
    intercept: float
    known: Matrix
    variables: Matrix
    through_zero: bool

    def at(self, variables: Matrix) -> Matrix:
        values: Matrix = variables @ self.slopes + self.intercept
        return values


def _matrix(raw: Raw) -> Matrix:
    """Numbers of a range; #VALUE! where a cell holds none."""
    for cell in cells_of(raw):
        if is_error(cell):
            raise ErrorShown(cell)
    if isinstance(raw, bool):
        raise Uncertain("a logical where numbers are expected")
    rows = rows_of(raw)
    if not all(is_number(cell) for row in rows for cell in row):
        fail(ErrorCode.VALUE)
    return np.array(rows, dtype=np.float64)


def _variables(known: Matrix, raw: Raw) -> Matrix:
    """One column for each variable, one row for each point; 1, 2, 3 and so on where none are given."""
    if raw is LEFT_OUT:
        return np.arange(1.0, known.size + 1).reshape(-1, 1)
    given = _matrix(raw)
    if given.shape == known.shape:
        return given.reshape(-1, 1)
    if known.shape[1] == 1 and given.shape[0] == known.shape[0]:
        return given
    if known.shape[0] == 1 and given.shape[1] == known.shape[1]:
        return given.T
    return fail(ErrorCode.REF)


def _asked(raw: Raw, otherwise: bool) -> bool:
    return otherwise if raw is LEFT_OUT else logical(raw)


def _fit(known: Matrix, raw: Raw, constant: Raw) -> _Fit:
    """Least squares.

    Raises
    ------
    Uncertain
        Where the variables depend on one another, which programs resolve differently.
    """
    variables, free = _variables(known, raw), _asked(constant, True)
    points = known.ravel()
    if points.size < variables.shape[1] + free:
        raise Uncertain("fewer points than coefficients")
    centre = variables.mean(axis=0) if free else np.zeros(variables.shape[1])
    level = float(points.mean()) if free else 0.0
    shifted = variables - centre
    sizes = np.sqrt((shifted**2).sum(axis=0))
    raw_sizes = np.sqrt((variables**2).sum(axis=0))
    if (sizes <= _INDEPENDENT * raw_sizes).any():
        raise Uncertain("a variable that has the same value everywhere")
    scaled = shifted / sizes
    if np.linalg.svd(scaled, compute_uv=False)[-1] < _INDEPENDENT:
        raise Uncertain("variables that depend on one another")
    slopes = np.linalg.lstsq(scaled, points - level, rcond=None)[0] / sizes
    return _Fit(slopes, level - float(centre @ slopes), points, variables, not free)


def _statistics(fit: _Fit) -> list[list[Raw]]:
    """Standard errors, share explained, F, degrees of freedom and sums of squares below the coefficients."""
    count, number = fit.variables.shape
    free = not fit.through_zero
    residuals = float(((fit.known - fit.at(fit.variables)) ** 2).sum())
    level = fit.known.mean() if free else 0.0
    total = float(((fit.known - level) ** 2).sum())
    freedom = count - number - free
    if freedom < 1 or total == 0 or residuals <= _EXACT * total:
        raise Uncertain("the statistics of a line that meets every point")
    design = np.column_stack([fit.variables, np.ones(count)]) if free else fit.variables
    _, triangle = np.linalg.qr(design)
    inverse = np.linalg.inv(triangle)
    variance = residuals / freedom
    errors = np.sqrt((inverse**2).sum(axis=1) * variance)
    missing = error(ErrorCode.NA)
    explained = total - residuals
    width = number + 1

    def padded(*values: Raw) -> list[Raw]:
        return [*values, *[missing] * (width - len(values))][:width]

    return [
        [*errors[:number][::-1].tolist(), float(errors[-1]) if free else missing],
        padded(explained / total, math.sqrt(variance)),
        padded(explained / number / variance, float(freedom)),
        padded(explained, residuals),
    ]


def _shaped(values: Matrix, like: tuple[int, ...]) -> Raw:
    found: Raw = values.reshape(like).tolist() if values.size > 1 else float(values.ravel()[0])
    return found


def line(known: Raw, variables: Raw = LEFT_OUT, constant: Raw = LEFT_OUT, more: Raw = LEFT_OUT) -> Raw:
    """LINEST: the slopes, the last variable first, the intercept, and statistics below where asked for."""
    fit = _fit(_matrix(known), variables, constant)
    rows: list[list[Raw]] = [[*fit.slopes[::-1].tolist(), fit.intercept]]
    return rows + _statistics(fit) if _asked(more, False) else rows


def exponential_curve(
    known: Raw, variables: Raw = LEFT_OUT, constant: Raw = LEFT_OUT, more: Raw = LEFT_OUT
) -> Raw:
    """LOGEST: the bases and the factor of an exponential curve."""
    fit = _fit(_logarithms(known), variables, constant)
    rows: list[list[Raw]] = [[*np.exp(fit.slopes[::-1]).tolist(), math.exp(fit.intercept)]]
    return rows + _statistics(fit) if _asked(more, False) else rows


def _logarithms(known: Raw) -> Matrix:
    values = _matrix(known)
    if (values <= 0).any():
        fail(ErrorCode.NUM)
    return np.log(values)


def _continued(known: Matrix, variables: Raw, new: Raw, constant: Raw) -> tuple[Matrix, tuple[int, ...]]:
    """Values of the line at new places, and the shape of the result."""
    fit = _fit(known, variables, constant)
    if new is LEFT_OUT:
        return fit.at(fit.variables), known.shape
    if any(is_error(cell) for cell in cells_of(new)):
        raise Uncertain("an error value among the new places")
    places = _matrix(new)
    if fit.variables.shape[1] == 1:
        return fit.at(places.reshape(-1, 1)), places.shape
    in_columns = known.shape[1] == 1
    table = places if in_columns else places.T
    if table.shape[1] != fit.variables.shape[1]:
        return fail(ErrorCode.REF)
    return fit.at(table), (len(table), 1) if in_columns else (1, len(table))


def trend(known: Raw, variables: Raw = LEFT_OUT, new: Raw = LEFT_OUT, constant: Raw = LEFT_OUT) -> Raw:
    """TREND."""
    values, shape = _continued(_matrix(known), variables, new, constant)
    return _shaped(values, shape)


def growth(known: Raw, variables: Raw = LEFT_OUT, new: Raw = LEFT_OUT, constant: Raw = LEFT_OUT) -> Raw:
    """GROWTH."""
    values, shape = _continued(_logarithms(known), variables, new, constant)
    return _shaped(np.exp(values), shape)


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "LINEST": line,
    "LOGEST": exponential_curve,
    "TREND": trend,
    "GROWTH": growth,
}
