"""Error values among the cells that SUMIF and its kin add up; the engine passes over them."""

from __future__ import annotations

from collections.abc import Sequence

from xlcalc.hosts.headless.cellnames import cell_name
from xlcalc.hosts.headless.evaluation.engine import Engine, Raw, plain_content
from xlcalc.hosts.headless.evaluation.feed import Content, Formula, SheetFeed

_SHEET = "Matched"
MAX_ERRORS = 20_000


def matched_error(summed: Raw, criteria: Sequence[tuple[Raw, Raw]]) -> Raw | None:
    """The first error value among the summed cells whose row meets all criteria, None where there is none.

    Parameters
    ----------
    summed : value or rows
        The cells to add up.
    criteria : sequence of (cells, criterion)
        Cells of the same shape each, and what they must meet.

    Raises
    ------
    ValueError
        Where the shapes differ, or there are more than `MAX_ERRORS` errors.
    """
    rows = _rows(summed)
    ranges = [(_rows(cells), criterion) for cells, criterion in criteria]
    if any((len(cells), len(cells[0])) != (len(rows), len(rows[0])) for cells, _ in ranges):
        raise ValueError("the cells to add up and those with the criteria differ in shape")
    places = [(r, c) for r, row in enumerate(rows) for c, cell in enumerate(row) if isinstance(cell, dict)]
    if not places:
        return None
    if len(places) > MAX_ERRORS:
        raise ValueError(f"more than {MAX_ERRORS} error values among the cells to add up")
    cells: list[tuple[int, int, Content]] = []
    width = 2 * len(ranges)
    for number, (row, column) in enumerate(places, 1):
        for index, (grid, criterion) in enumerate(ranges):
            for offset, value in enumerate((grid[row][column], criterion), 1):
                if value is not None:
                    cells.append((number, 2 * index + offset, plain_content(value)))
        addresses = ",".join(cell_name(number, column) for column in range(1, width + 1))
        cells.append((number, width + 1, Formula(f"COUNTIFS({addresses})")))
    engine = Engine()
    engine.load([SheetFeed(_SHEET, cells)])
    engine.evaluate_here()
    counts = engine.rows(_SHEET, 1, width + 1, len(places), width + 1)
    return next((rows[r][c] for (r, c), [count] in zip(places, counts, strict=True) if count == 1.0), None)


def _rows(raw: Raw) -> list[list[Raw]]:
    return raw if isinstance(raw, list) else [[raw]]
