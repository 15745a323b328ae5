"""DSUM and its kin: records of a list with headings that meet a table of criteria.

The criteria of one row hold together, those of several rows apart (function descriptions of Excel, from
memory). A text without an operator means "begins with" in Excel and the whole cell in LibreOffice; where that
matters the formula is refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.cells import CellLine
from xlcalc.recalc.evaluation.library.lists.criteria import Mask, meets
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    fail,
    is_error,
    is_number,
    rows_of,
    single,
)
from xlcalc.schema.values import ErrorCode

_OPERATORS = ("<", ">", "=")


def _headings(rows: list[list[Raw]]) -> list[str]:
    found = []
    for cell in rows[0]:
        if is_error(cell):
            raise ErrorShown(cell)
        if isinstance(cell, bool) or is_number(cell):
            raise Uncertain("a heading that is no text")
        found.append(cell.strip().lower() if isinstance(cell, str) else "")
    return found


def _column(headings: Sequence[str], field: Raw) -> int:
    field = single(field)
    if is_error(field):
        raise ErrorShown(field)
    if isinstance(field, str):
        places = [place for place, name in enumerate(headings) if name == field.strip().lower()]
        if len(places) > 1:
            raise Uncertain(f"several columns are named {field!r}")
        return places[0] if places else fail(ErrorCode.VALUE)
    if not is_number(field):
        raise Uncertain("a column that is given by a blank or a logical")
    number = int(field)
    if number < 1:
        raise Uncertain("a column number below 1")
    return number - 1 if number <= len(headings) else fail(ErrorCode.VALUE)


def _meets(line: CellLine, criterion: Raw) -> Mask:
    found = meets(line, criterion)
    if isinstance(criterion, str) and not criterion.startswith(_OPERATORS):
        begins = criterion.lower().rstrip("*")
        other = [text is not None and text.startswith(begins) for text in line.folded]
        if not any(mark in begins for mark in "*?~") and (found != np.array(other, dtype=np.bool_)).any():
            raise Uncertain(
                f"the criterion {criterion!r} means cells that begin with it in some programs; "
                f'the text "={criterion}" decides it'
            )
    return found


def _chosen(database: Raw, criteria: Raw) -> tuple[list[list[Raw]], list[str], Mask]:
    """The records, the headings, and which records meet the criteria."""
    rows, conditions = rows_of(database), rows_of(criteria)
    headings, asked = _headings(rows), _headings(conditions)
    records = rows[1:]
    if not records:
        fail(ErrorCode.VALUE)
    if len(conditions) < 2:
        raise Uncertain("criteria without a row below their headings")
    used = [place for place in range(len(asked)) if any(row[place] is not None for row in conditions[1:])]
    columns: dict[int, CellLine] = {}
    for place in used:
        if headings.count(asked[place]) != 1 or not asked[place]:
            raise Uncertain("a criterion under a heading that is not one of the list's")
        column = headings.index(asked[place])
        columns[place] = CellLine([record[column] for record in records])
    found: Mask = np.zeros(len(records), dtype=np.bool_)
    for condition in conditions[1:]:
        together: Mask = np.ones(len(records), dtype=np.bool_)
        for place in used:
            if condition[place] is not None:
                together &= _meets(columns[place], condition[place])
        found |= together
    return records, headings, found


def _cells(database: Raw, field: Raw, criteria: Raw) -> list[Raw]:
    """Cells of one column in the records that meet the criteria."""
    records, headings, found = _chosen(database, criteria)
    column = _column(headings, field)
    return [record[column] for record, meeting in zip(records, found, strict=True) if meeting]


def _numbers(database: Raw, field: Raw, criteria: Raw) -> list[float]:
    cells = _cells(database, field, criteria)
    for cell in cells:
        if is_error(cell):
            raise ErrorShown(cell)
    return [float(cell) for cell in cells if is_number(cell)]


def _of_numbers(summary: Callable[[Sequence[float]], float]) -> Callable[..., Raw]:
    return lambda database, field, criteria: summary(_numbers(database, field, criteria))


def _spread(*, sample: bool, root: bool) -> Callable[[Sequence[float]], float]:
    def computed(values: Sequence[float]) -> float:
        if len(values) < (2 if sample else 1):
            fail(ErrorCode.DIV0)
        variance = float(np.var(values, ddof=1 if sample else 0))
        return math.sqrt(variance) if root else variance

    return computed


def count_numbers(database: Raw, field: Raw, criteria: Raw) -> Raw:
    """DCOUNT: numbers of a column, or records where no column is given."""
    if field is LEFT_OUT:
        return float(_chosen(database, criteria)[2].sum())
    return float(sum(is_number(cell) for cell in _cells(database, field, criteria)))


def count_filled(database: Raw, field: Raw, criteria: Raw) -> Raw:
    """DCOUNTA."""
    if field is LEFT_OUT:
        return float(_chosen(database, criteria)[2].sum())
    return float(sum(cell is not None for cell in _cells(database, field, criteria)))


def the_one(database: Raw, field: Raw, criteria: Raw) -> Raw:
    """DGET: the cell of the only record; none is #VALUE!, several are #NUM!."""
    cells = _cells(database, field, criteria)
    if not cells:
        fail(ErrorCode.VALUE)
    return cells[0] if len(cells) == 1 else fail(ErrorCode.NUM)


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "DSUM": _of_numbers(math.fsum),
    "DAVERAGE": _of_numbers(lambda found: math.fsum(found) / len(found) if found else fail(ErrorCode.DIV0)),
    "DMAX": _of_numbers(lambda found: max(found, default=0.0)),
    "DMIN": _of_numbers(lambda found: min(found, default=0.0)),
    "DPRODUCT": _of_numbers(lambda found: math.prod(found) if found else 0.0),
    "DSTDEV": _of_numbers(_spread(sample=True, root=True)),
    "DSTDEVP": _of_numbers(_spread(sample=False, root=True)),
    "DVAR": _of_numbers(_spread(sample=True, root=False)),
    "DVARP": _of_numbers(_spread(sample=False, root=False)),
    "DCOUNT": count_numbers,
    "DCOUNTA": count_filled,
    "DGET": the_one,
}
