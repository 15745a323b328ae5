"""Reading the values of worksheets."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Sequence
from functools import cached_property, partial
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.utils.cell import get_column_letter, range_boundaries

from xlcalc.core.errors import InputError
from xlcalc.files.books import names, outside
from xlcalc.io.lists.numerals import Numeral, is_blank
from xlcalc.io.lists.rawtable import RawCell, RawTable
from xlcalc.recalc.cellnames import Position
from xlcalc.recalc.inputs import InputArea, areas_of, merged_inputs
from xlcalc.recalc.leftout import left_out
from xlcalc.recalc.loaded import loaded, reading
from xlcalc.recalc.xlsx.cells import FormulaCell
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.schema.tables import normalised


def read_xlsx_tables(path: Path, sheet: str | None = None) -> tuple[RawTable, ...]:
    """All visible worksheets of a workbook, or the one named.

    Raises
    ------
    WorkbookFileError
        The file is not a valid workbook.
    InputError
        No such sheet, or a formula without a value.
    """
    package = WorkbookPackage.open(path)
    chosen = [
        s for s in package.sheets if s.entry.kind == "worksheet" and _wanted(s.name, s.entry.state, sheet)
    ]
    if not chosen:
        raise InputError("--sheet", sheet, "one of " + ", ".join(s.name for s in package.sheets))
    for part in chosen:
        for cell in part.formulas:
            if _without_value(cell):
                raise _uncalculated(cell.name, part.name, path.name)
    book = loaded(package, values=True, read_only=True)
    tables = []
    for part in chosen:
        rows = _all_rows(path, book, part.name)
        tables.append(RawTable(f"{path.name}, sheet {part.name}", rows, False))
    return tuple(tables)


def read_drives(path: Path, sheet: str | None = None) -> RawTable | None:
    """The room for drives of a workbook made from a template; None for any other workbook or sheet.

    Rows count from 1 as on the sheet. Cells around the room are left out.

    Raises
    ------
    InputError
        Merged cells, data outside the room, or a formula without a value in it.
    WorkbookFileError
        The file is not a valid workbook.
    """
    book = BookCells(path)
    place = book.place(names.DRIVE_INPUTS)
    if place is None or (sheet is not None and place[0].casefold() != sheet.casefold()):
        return None
    book.check_inputs()
    found = book.table(names.DRIVE_INPUTS)
    left, top, _, _ = place[1]
    rows = [*([] for _ in range(top - 1)), *([*[None] * (left - 1), *row] for row in found.rows)]
    return RawTable(f"{path.name}, sheet {place[0]}", rows, False, drives_only=True)


def read_named_ranges(path: Path, wanted: Sequence[str], titles: Collection[str] = ()) -> dict[str, RawTable]:
    """Rows of the ranges that a workbook has under given names; names that it lacks are left out.

    Formulas above the first row that begins with one of the `titles` need no value.

    Raises
    ------
    InputError, WorkbookFileError
        As `read_xlsx_tables`.
    """
    book = BookCells(path)
    book.check_inputs()
    return {name: book.table(name, titles) for name in wanted if book.place(name) is not None}


class BookCells:
    """Cells of a workbook under their names, as values and as formulas.

    Parameters
    ----------
    path : Path

    Raises
    ------
    WorkbookFileError
        The file is not a valid workbook.
    """

    def __init__(self, path: Path) -> None:
        self.name = path.name
        self._package = WorkbookPackage.open(path)
        self._sheets: dict[tuple[str, bool], list[list[RawCell]]] = {}

    def place(self, name: str) -> tuple[str, tuple[int, int, int, int]] | None:
        """Sheet, first column and row, last column and row of a name; None where it has no single area."""
        defined = self._values.defined_names
        with reading(self._package.path):
            places = list(defined[name].destinations) if name in defined else []
            if len(places) != 1:
                return None
            sheet, area = places[0]
            left, top, right, bottom = (int(bound or 0) for bound in range_boundaries(area))
        return sheet, (left, top, right, bottom)

    def table(self, name: str, titles: Collection[str] = ()) -> RawTable:
        """Rows of a defined name.

        Raises
        ------
        InputError
            A formula without a value, unless it stands above the first row that begins with one of the
            titles.
        """
        sheet, (left, top, right, bottom) = self._placed(name)
        rows = self._area(name, formulas=False)
        above = next((k for k, row in enumerate(rows) if row and normalised(str(row[0])) in titles), 0)
        for cell in self._package.sheet(sheet).formulas:
            inside = left <= cell.col <= right and top + above <= cell.row <= bottom
            if inside and _without_value(cell):
                raise _uncalculated(cell.name, sheet, self.name)
        return RawTable(f"{self.name}, range {name}", rows, False)

    def check_inputs(self) -> None:
        """Refuse merged cells among the inputs, and data where none is read: around them, or on a copy.

        Raises
        ------
        InputError
            It names the cells.
        """
        defined = self._entered.defined_names
        texts = {name: str(defined[name].attr_text or "") for name in defined}
        folded = {name.casefold(): text for name, text in texts.items()}
        for fault in (*merged_inputs(self._package, texts), *left_out(self._typed_cells(), folded)):
            raise InputError(self.name, fault.place, "", message=f"{self.name}: {fault.sentence}")
        for name, text in texts.items():
            for area in areas_of(text) if name.startswith(names.OUTSIDE) else ():
                found = self._filled(area)
                if found is not None:
                    sentence = outside.sentence(found, name)
                    raise InputError(self.name, found, "", message=f"{self.name}: {sentence}")

        self._check_figures()

    def _typed_cells(self) -> dict[str, Callable[[], dict[Position, object]]]:
        """What is typed on each worksheet, by row and column."""

        def cells(sheet: str) -> dict[Position, object]:
            rows = enumerate(self._rows(sheet, formulas=True), start=1)
            found = ((row, column, cell) for row, line in rows for column, cell in enumerate(line, start=1))
            return {(row, column): cell for row, column, cell in found if _typed(cell)}

        kinds = {part.name for part in self._package.sheets if part.entry.kind == "worksheet"}
        return {name: partial(cells, name) for name in self._entered.sheetnames if name in kinds}

    def _check_figures(self) -> None:
        """Refuse values typed over the figures of rows without a tag."""
        if self.place(names.DRIVE_FIGURES) is None or self.place(names.TAGS) is None:
            return
        sheet, (left, top, right, bottom) = self._placed(names.DRIVE_FIGURES)
        rows = zip(self.formulas(names.TAGS), self.formulas(names.DRIVE_FIGURES), strict=False)
        if any(is_blank(tag[0]) and any(map(_typed, figures)) for tag, figures in rows):
            corner, end = f"{get_column_letter(left)}{top}", f"{get_column_letter(right)}{bottom}"
            place = f"{names.quoted(sheet)}!{corner}:{end}"
            raise InputError(self.name, place, "", message=f"{self.name}: {outside.untagged(place)}")

    def _filled(self, area: InputArea) -> str | None:
        """The smallest block that holds all entries of an area, with its sheet."""
        if area.sheet not in self._entered.sheetnames:
            return None
        top, left, bottom, right = area.cells
        found = [
            (row, column)
            for row, cells in enumerate(self._rows(area.sheet, formulas=True)[top - 1 : bottom], start=top)
            for column, cell in enumerate(cells[left - 1 : right], start=left)
            if not is_blank(cell)
        ]
        if not found:
            return None
        rows, columns = zip(*found, strict=True)
        first = f"{get_column_letter(min(columns))}{min(rows)}"
        last = f"{get_column_letter(max(columns))}{max(rows)}"
        return f"{names.quoted(area.sheet)}!{first}" + (f":{last}" if last != first else "")

    def formulas(self, name: str) -> list[list[RawCell]]:
        """The same as they were entered: a text that begins with = is a formula."""
        return self._area(name, formulas=True)

    def value(self, sheet: str, column: int, row: int) -> RawCell:
        """Value of one cell; raises `InputError` for a formula without a value."""
        for cell in self._package.sheet(sheet).formulas:
            if (cell.col, cell.row) == (column, row) and _without_value(cell):
                raise _uncalculated(cell.name, sheet, self.name)
        return _at(self._rows(sheet, formulas=False), column, row)

    def _placed(self, name: str) -> tuple[str, tuple[int, int, int, int]]:
        place = self.place(name)
        if place is None:
            raise InputError(f"range {name} of {self.name}", None, "a name of one area")
        return place

    def _area(self, name: str, *, formulas: bool) -> list[list[RawCell]]:
        sheet, (left, top, right, bottom) = self._placed(name)
        rows = self._rows(sheet, formulas=formulas)
        widest = max(map(len, rows), default=0)
        columns = range(left, max(left, min(right, widest)) + 1)
        filled = range(top, max(top, min(bottom, len(rows))) + 1)
        return [[_at(rows, column, row) for column in columns] for row in filled]

    def _rows(self, sheet: str, *, formulas: bool) -> list[list[RawCell]]:
        key = sheet, formulas
        if key not in self._sheets:
            book = self._entered if formulas else self._values
            self._sheets[key] = _all_rows(self._package.path, book, sheet)
        return self._sheets[key]

    @cached_property
    def _values(self) -> Workbook:
        return loaded(self._package, values=True, read_only=True)

    @cached_property
    def _entered(self) -> Workbook:
        return loaded(self._package, read_only=True)


def _all_rows(path: Path, book: Workbook, sheet: str) -> list[list[RawCell]]:
    with reading(path):
        worksheet = book[sheet]
        worksheet.reset_dimensions()
        return [[_cell(cell) for cell in row] for row in worksheet.iter_rows()]


def _typed(cell: RawCell) -> bool:
    return not is_blank(cell) and not (isinstance(cell, str) and cell.startswith("="))


def _at(rows: list[list[RawCell]], column: int, row: int) -> RawCell:
    return rows[row - 1][column - 1] if row <= len(rows) and column <= len(rows[row - 1]) else None


def _without_value(cell: FormulaCell) -> bool:
    return not cell.text and cell.type != "str"


def _uncalculated(cell: str, sheet: str, file: str) -> InputError:
    return InputError(
        f"cell {cell} of sheet {sheet} in {file}",
        "a formula without a value",
        "a workbook that was calculated and saved; run xlcalc recalc on it first",
    )


def _wanted(name: str, state: str, sheet: str | None) -> bool:
    return state == "visible" if sheet is None else name.casefold() == sheet.casefold()


def _cell(cell: Any) -> RawCell:
    value = cell.value
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, int | float):
        return Numeral(100.0 * value, "%") if "%" in (cell.number_format or "") else float(value)
    if isinstance(value, datetime.datetime | datetime.date | datetime.time):
        return value.isoformat()
    return str(value)
