"""The cell that somebody typed, behind what a function of ours refused."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from functools import cached_property

from xlcalc.core.errors import Place
from xlcalc.recalc.evaluation.content import BookContent, Constant
from xlcalc.recalc.evaluation.dependents import Cell
from xlcalc.recalc.evaluation.feeding.formulas import Formulas
from xlcalc.recalc.evaluation.feeding.prepared import Prepared
from xlcalc.recalc.evaluation.formula.pattern import split_pattern
from xlcalc.schema.places import Corner, corner_of, letters_of, sheet_text
from xlcalc.schema.values import CellError, Scalar, Value

_DEEPEST = 32
_LARGEST = 2000


def cell_text(cell: Cell) -> str:
    """Name of a cell with its sheet, as reasons write it."""
    sheet, row, column = cell
    return f"{sheet_text(sheet)}!{letters_of(column)}{row}"


class TypedCells:
    """Finds the cell of a workbook that an error of a function is about."""

    def __init__(self, book: BookContent, prepared: Formulas) -> None:
        self._book = book
        self._prepared = prepared

    def located(self, error: CellError, formula: int, call: int, given: list[Value]) -> CellError:
        """The error with the cell that was typed, where the formula hands it over as it stands.

        Parameters
        ----------
        error : CellError
        formula : int
            Number of the calling formula.
        call : int
            Number of the call among those of our functions in it.
        given : list of Value
            What was handed over.
        """
        place = error.place
        if place is None or not error.after_cell:
            return error
        cell = self._cell(error, place, formula, call, given)
        return error if cell is None else replace(error, typed="").at(cell_text(cell))

    def _cell(
        self, error: CellError, place: Place, formula: int, call: int, given: list[Value]
    ) -> Cell | None:
        wrong = _value_at(given, place)
        single = place.row is not None and place.column is not None
        corner = corner_of(error.typed)
        if corner is not None:
            cell = corner.at(Place())
            return self.behind(cell, wrong) if single else cell
        item = self._prepared[formula]
        calls = item.compiled.own_calls
        if place.position is None or call >= len(calls) or place.position >= len(calls[call].arguments):
            return None
        pattern = calls[call].arguments[place.position]
        if pattern is None:
            return self._chosen(item, place, given, wrong) if single else None
        area = pattern.at(split_pattern(item.source.text)[1], item.source.row)
        cell = Corner(pattern.sheet, area.first_row, area.first_col).at(place)
        return self.behind(cell, wrong) if single else cell

    def _chosen(self, item: Prepared, place: Place, given: list[Value], wrong: Scalar) -> Cell | None:
        """The typed cell where an argument is computed, as by IF or INDEX: the only one that fits."""
        value = given[place.position] if place.position is not None else None
        areas = item.node().areas
        if isinstance(value, list) and len(value) * len(value[0]) > 1:
            size = len(value), len(value[0])
            corners = {(s, *area[:2]) for s, area in areas if (area.rows, area.cols) == size}
            cells = {self.behind(Corner(*corner).at(place), wrong) for corner in corners}
        elif isinstance(wrong, str) and wrong:
            cells = {
                self.behind((sheet, row, col), wrong)
                for sheet, area in dict.fromkeys(areas)
                if area.area <= _LARGEST
                for row in range(area.first_row, area.last_row + 1)
                for col in range(area.first_col, area.last_col + 1)
                if self._shows((sheet, row, col), wrong)
            }
        else:
            return None
        fitting = {cell for cell in cells if self._formula_in(cell) is None and self._shows(cell, wrong)}
        if not fitting and item.node().moving and isinstance(wrong, str):
            fitting = {cell for cell, value in self._constants.items() if _same(value, wrong)}
        return fitting.pop() if len(fitting) == 1 else None

    def _shows(self, cell: Cell, value: Scalar) -> bool:
        return _same(self.constant(cell), value)

    def behind(self, cell: Cell, value: Scalar) -> Cell:
        """The typed cell whose value a formula such as ``=IF(B5="",10,B5)`` only passes on; else the cell."""
        for _ in range(_DEEPEST):
            item = self._formula_in(cell)
            if item is None:
                return cell
            node = item.node()
            single = {(s, area.first_row, area.first_col) for s, area in node.areas if area.area == 1}
            if node.moving or len(single) != len({(s, *area) for s, area in node.areas}):
                return cell
            typed = [c for c in single if self._formula_in(c) is None and self._shows(c, value)]
            formulas = [c for c in single if self._formula_in(c) is not None]
            if len(typed) == 1 and not formulas:
                return typed[0]
            if len(single) != 1 or not formulas:
                return cell
            cell = formulas[0]
        return cell

    def constant(self, cell: Cell) -> Constant | None:
        """What was typed into a cell."""
        return self._constants.get(cell)

    def is_formula(self, cell: Cell) -> bool:
        return self._formula_in(cell) is not None

    @cached_property
    def _constants(self) -> dict[Cell, Constant]:
        return {
            (sheet.name, row, col): value
            for sheet in self._book.sheets
            for row, col, value in sheet.every_constant()
        }

    @cached_property
    def _listed(self) -> dict[Cell, Prepared]:
        return {(item.sheet, item.source.row, item.source.col): item for item in self._prepared.listed}

    def _formula_in(self, cell: Cell) -> Prepared | None:
        sheet, row, col = cell
        for plain in self._prepared.plain:
            if plain.name == sheet:
                first = bisect_left(plain.rows, row)
                last = bisect_left(plain.rows, row + 1)
                found = next((n for n in range(first, last) if plain.cols[n] == col), None)
                return None if found is None else plain.item(plain.base + found)
        return self._listed.get(cell)


def _value_at(given: list[Value], place: Place) -> Scalar:
    value = given[place.position] if place.position is not None and place.position < len(given) else None
    if not isinstance(value, list):
        return value
    row, column = (place.row or 1) - 1, (place.column or 1) - 1
    return value[row][column] if row < len(value) and column < len(value[row]) else None


def _same(typed: Constant | None, passed_on: Scalar) -> bool:
    if typed in (None, "") or passed_on in (None, ""):
        return typed in (None, "") and passed_on in (None, "")
    return type(typed) is type(passed_on) and typed == passed_on
