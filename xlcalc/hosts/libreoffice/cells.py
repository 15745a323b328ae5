"""The cell of a Calc document that somebody typed, behind what a function refused; runs in its Python."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from xlcalc.core.errors import Place
from xlcalc.hosts.libreoffice.identifiers import method_name
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.structured import parse_structured
from xlcalc.schema.places import Corner, corner_of, letters_of, sheet_text
from xlcalc.schema.values import CellError

_TEXTS = re.compile(r"""("(?:[^"]|"")*")""")
_CALL = re.compile(r"(?<![\w.$])(?:[\w.]+\.)?(\w+)\s*\(")
_OPENING, _CLOSING = "({[", ")}]"
_DEEPEST = 32
_MOST = 8


def located(document: Any, cell: Any, function: str, error: CellError) -> CellError:
    """The error with the cell that was typed, where the formula of `cell` hands it over as it stands.

    Parameters
    ----------
    document, cell
        Of Calc.
    function : str
        Name of the function that refused.
    error : CellError
    """
    place = error.place
    if place is None or not error.after_cell:
        return error
    corners = {corner_of(error.typed)} if error.typed else _corners(document, cell, function, place)
    if len(corners) != 1 or None in corners:
        return error
    corner = corners.pop()
    assert corner is not None
    sheet, row, column = corner.at(Place() if error.typed else place)
    if not document.Sheets.hasByName(sheet):
        return error
    typed = document.Sheets.getByName(sheet).getCellByPosition(column - 1, row - 1)
    if place.row is not None and place.column is not None:
        typed = _behind(document, typed)
    return CellError(error.code, error.reason, place, error.after_cell).at(_text(document, typed))


def arguments_of(formula: str, function: str) -> Iterator[list[str]]:
    """The arguments of every call of a function in a formula as Calc writes it, under any of its names.

    Examples
    --------
    >>> list(arguments_of('=IF(A1;HD_X($S.A1:B2;"a;(b";{1;2|3});HD_Y(1))', "HD_X"))
    [['$S.A1:B2', '"a;(b"', '{1;2|3}']]
    >>> list(arguments_of("=ORG.XLCALC.CALC.FUNCTIONS.HDX('a;b'.A1)", "HD_X"))
    [["'a;b'.A1"]]
    """
    pieces = _TEXTS.split(formula)
    plain = "".join(
        piece if n % 2 == 0 else '"' + "_" * (len(piece) - 2) + '"' for n, piece in enumerate(pieces)
    )
    for call in _CALL.finditer(plain):
        if method_name(call[1]) == method_name(function):
            yield [formula[first:last].strip() for first, last in _pieces(plain, call.end())]


def _pieces(text: str, start: int) -> Iterator[tuple[int, int]]:
    """Where the arguments begin and end; names of sheets in quotes may hold any sign."""
    depth, first, quoted = 0, start, False
    for place in range(start, len(text)):
        sign = text[place]
        if sign == "'":
            quoted = not quoted
        elif quoted:
            continue
        elif sign in _OPENING:
            depth += 1
        elif sign in _CLOSING and depth:
            depth -= 1
        elif sign in _CLOSING or (sign == ";" and not depth):
            yield first, place
            first = place + 1
            if sign in _CLOSING:
                return


def _corners(document: Any, cell: Any, function: str, place: Place) -> set[Corner | None]:
    formula = cell.getFormula().strip("{}")
    found = (
        _corner(document, cell, given[place.position])
        for given in arguments_of(formula, function)
        if place.position is not None and place.position < len(given)
    )
    return set(found)


def _corner(document: Any, cell: Any, text: str) -> Corner | None:
    own = document.Sheets.getByIndex(cell.getCellAddress().Sheet)
    for names in (own.NamedRanges, document.NamedRanges):
        if names.hasByName(text):
            return _corner_of_range(document, names.getByName(text).getReferredCells())
    if "[" in text or document.DatabaseRanges.hasByName(text):
        return _corner_of_table(document, text)
    return corner_of(text) or corner_of(f"{sheet_text(own.Name)}!{text}")


def _corner_of_table(document: Any, text: str) -> Corner | None:
    """A part of a table that takes in its row of headings or begins below it."""
    try:
        reference = parse_structured(text.replace("];[", "],[") if "[" in text else f"{text}[]")
    except Refusal:
        return None
    if reference.own_row or not document.DatabaseRanges.hasByName(reference.table):
        return None
    area = document.DatabaseRanges.getByName(reference.table).getReferredCells()
    corner = _corner_of_range(document, area)
    if corner is None:
        return None
    width = area.getRangeAddress().EndColumn - area.getRangeAddress().StartColumn + 1
    headings = [area.getCellByPosition(n, 0).getString().casefold() for n in range(width)]
    first = (reference.first or "").casefold()
    if first and first not in headings:
        return None
    down = 0 if reference.items & {"all", "headers"} else 1
    return Corner(corner.sheet, corner.row + down, corner.column + (headings.index(first) if first else 0))


def _corner_of_range(document: Any, area: Any) -> Corner | None:
    if area is None:
        return None
    address = area.getRangeAddress()
    name = document.Sheets.getByIndex(address.Sheet).Name
    return Corner(name, address.StartRow + 1, address.StartColumn + 1)


def _behind(document: Any, cell: Any) -> Any:
    """The typed cell whose value a formula such as ``=IF(B5="";10;B5)`` only passes on; else the cell."""
    for _ in range(_DEEPEST):
        if not cell.getFormula().startswith(("=", "{=")):
            return cell
        single = list(_precedents(document, cell))
        if len(single) > _MOST:
            return cell
        formulas = [c for c in single if c.getFormula().startswith(("=", "{="))]
        typed = [c for c in single if c not in formulas and c.getString() == cell.getString()]
        if len(typed) == 1 and not formulas:
            return typed[0]
        if len(single) != 1 or not formulas:
            return cell
        cell = formulas[0]
    return cell


def _precedents(document: Any, cell: Any) -> Iterator[Any]:
    """The first cells that a formula refers to; Calc lists the formula's own cell among them."""
    own = cell.getCellAddress()
    count = 0
    for area in cell.queryPrecedents(False).getRangeAddresses():
        sheet = document.Sheets.getByIndex(area.Sheet)
        for row in range(area.StartRow, area.EndRow + 1):
            for column in range(area.StartColumn, area.EndColumn + 1):
                if (area.Sheet, row, column) == (own.Sheet, own.Row, own.Column):
                    continue
                yield sheet.getCellByPosition(column, row)
                count += 1
                if count > _MOST:
                    return


def _text(document: Any, cell: Any) -> str:
    address = cell.getCellAddress()
    sheet = document.Sheets.getByIndex(address.Sheet).Name
    return f"{sheet_text(sheet)}!{letters_of(address.Column + 1)}{address.Row + 1}"
