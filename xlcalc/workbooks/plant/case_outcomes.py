"""What a plant study judges in the cases that are not in view: its equipment follows the case in view."""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from xlcalc.files.books.names import place
from xlcalc.files.books.plant_names import CASES, VIEW_CASE
from xlcalc.recalc.recalc import recalculate
from xlcalc.standards.verdict import FAIL, PASS
from xlcalc.workbooks.kit.editing.book_parts import BookParts
from xlcalc.workbooks.outcome import Judged, Outcome, read_outcome
from xlcalc.worksheet.catalogue import FUNCTIONS


def outcome_of_all_cases(path: Path, book: Workbook, moment: datetime) -> Outcome:
    """The outcome of a workbook with what its equipment comes to in every case.

    Parameters
    ----------
    path : Path
        The computed workbook; it is not changed. Copies of it are calculated with each other case in view.
    book : Workbook
        The same, loaded with its values.
    moment : datetime
        What NOW and TODAY are taken as.

    Raises
    ------
    InputError
        The workbook has no verdict of the whole study.
    WorkbookFileError
        A copy cannot be calculated.
    """
    shown = read_outcome(book, path.name)
    if VIEW_CASE not in book.defined_names or not shown.items:
        return shown
    sheet, (column, row, _, _) = place(book, VIEW_CASE, path.name)
    in_view = sheet.cell(row, column).value
    found: dict[tuple[str, str], Judged] = {(item.what, item.case): item for item in shown.items}
    stated, reason = shown.stated, shown.stated_reason
    with tempfile.TemporaryDirectory() as scratch:
        for number in (number for number in range(1, CASES + 1) if number != in_view):
            other = _with_case(path, Path(scratch), (sheet.title, row, column), number, moment)
            found = {(item.what, item.case): item for item in other.items} | found
            if _rank(other.stated) > _rank(stated):
                stated, reason = other.stated, other.stated_reason
    return Outcome(tuple(found.values()), stated, reason)


def _with_case(
    path: Path, scratch: Path, cell: tuple[str, int, int], number: int, moment: datetime
) -> Outcome:
    sheet, row, column = cell
    parts = BookParts.open(path)
    parts.sheet(sheet).set_value(row, column, float(number))
    copy = scratch / f"case {number}{path.suffix}"
    parts.write(copy)
    recalculate(copy, copy, FUNCTIONS, now=moment)
    return read_outcome(load_workbook(copy, data_only=True), path.name)


def _rank(word: str) -> int:
    """PASS below no verdict below FAIL: doubts about the inputs are the same in all cases."""
    return {PASS: 0, FAIL: 2}.get(word, 1)
