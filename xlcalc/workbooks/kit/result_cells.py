"""Names over the cells that hold formulas: a value typed over one of them is found by a recalculation."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from openpyxl import Workbook
from openpyxl.cell.cell import Cell, MergedCell
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.recalc.typedresults import RESULTS

AREAS: Final = 100
"""Of one name; a formula, and with it the text of a name, may have 8,192 characters."""


def watch(book: Workbook) -> None:
    """Name every cell with a formula, once the whole book is built."""
    areas = [area for sheet in book.worksheets for area in formula_areas(sheet)]
    for first in range(0, len(areas), AREAS):
        name = f"{RESULTS}{first // AREAS + 1}"
        text = ",".join(areas[first : first + AREAS])
        book.defined_names[name] = DefinedName(name, attr_text=text, hidden=True)


def formula_areas(sheet: Worksheet) -> Iterator[str]:
    """Blocks of cells with formulas, as references with the sheet: equal runs of columns below each other."""
    open_blocks: dict[tuple[int, int], int] = {}
    last, width = sheet.max_row, sheet.max_column
    for row in range(1, last + 1):
        cells = (sheet.cell(row, column) for column in range(1, width + 1))
        found = set(_runs([number for number, cell in enumerate(cells, start=1) if _is_result(cell)]))
        for run in [run for run in open_blocks if run not in found]:
            yield _reference(sheet, run, open_blocks.pop(run), row - 1)
        for run in found:
            open_blocks.setdefault(run, row)
    for run, first in open_blocks.items():
        yield _reference(sheet, run, first, last)


def _is_result(cell: Cell | MergedCell) -> bool:
    """Whether a cell holds a formula that nobody is to replace; the first choice of an input may be one."""
    return cell.data_type == "f" and not cell.style.startswith(style.INPUT)


def _runs(columns: list[int]) -> Iterator[tuple[int, int]]:
    """First and last column of every run without a gap."""
    starts = [column for column in columns if column - 1 not in columns]
    ends = [column for column in columns if column + 1 not in columns]
    return zip(starts, ends, strict=True)


def _reference(sheet: Worksheet, run: tuple[int, int], first: int, last: int) -> str:
    return names.reference(sheet.title, names.area(first, run[0], last, run[1]))
