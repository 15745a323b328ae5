"""Inputs that nobody reads: on a copy of an input sheet, in a second list, or outside a changed range.

What a workbook says of its inputs is in `inputs`; one that says nothing is not affected.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Final

from xlcalc.files.books.names import SEAM
from xlcalc.recalc.cellnames import CellRange, Position, cell_name
from xlcalc.recalc.inputs import RANGES, Fault, InputArea, areas_of, quoted
from xlcalc.recalc.typedresults import RESULTS

Cells = Mapping[Position, object]
Sheets = Mapping[str, Callable[[], Cells]]

LEAST_TEXTS: Final = 8
COPIED_SHARE: Final = 0.7
"""Share of the texts of an input sheet that a copy of it still has at their places."""
LEAST_HEADINGS: Final = 5
"""Headings of a table, its first one among them, by which a row of another sheet is taken for its own."""
BLANK: Final = ("", None)


def left_out(sheets: Sheets, names: Mapping[str, str]) -> tuple[Fault, ...]:
    """Inputs that are not in the study because of the sheet or the range they stand in.

    Parameters
    ----------
    sheets : mapping of name to callable
        What is typed on each sheet, by row and column, read only where it is needed.
    names : mapping of folded name to text
        Defined names of the workbook.
    """
    areas = areas_of(names.get(RANGES, ""))
    if not areas:
        return ()
    return (*_narrowed(areas, names), *_inserted(sheets, names), *_elsewhere(sheets, areas, names))


def _inserted(sheets: Sheets, names: Mapping[str, str]) -> Iterator[Fault]:
    """What stands in rows that were inserted at the edge of a table, which neither side of it holds."""
    seams = (area for name, text in names.items() if name.startswith(SEAM) for area in areas_of(text))
    for area in seams:
        box = area.cells
        inside = box._replace(first_row=box.first_row + 1, last_row=box.last_row - 1)
        if inside.first_row > inside.last_row or area.sheet not in sheets:
            continue
        for at, value in sorted(sheets[area.sheet]().items()):
            if value not in BLANK and _inside(at, [inside]):
                place = f"{quoted(area.sheet)}!{cell_name(*at)}"
                yield Fault(place, f"{place}: data in a row inserted beside the table is not in the study")
                break


def _narrowed(areas: Sequence[InputArea], names: Mapping[str, str]) -> Iterator[Fault]:
    """Areas in which somebody types and which no name stands for any more."""
    own = {name: areas_of(text) for name, text in names.items() if name != RANGES}
    held = {area for found in own.values() for area in found}
    for area in areas:
        if area in held:
            continue
        place = _place(area.sheet, area.cells)
        found = ((name, part) for name, parts in own.items() for part in parts if _meet(part, area))
        near = next((f"; {name} is now {_place(part.sheet, part.cells)}" for name, part in found), "")
        yield Fault(place, f"{place} is for inputs, and no name stands for it any more{near}")


def _elsewhere(sheets: Sheets, areas: Sequence[InputArea], names: Mapping[str, str]) -> Iterator[Fault]:
    """Copies of input sheets in which an input was changed, and lists with rows that the study lacks."""
    results = (area for name, text in names.items() if name.startswith(RESULTS) for area in areas_of(text))
    known = {area.sheet.casefold() for area in (*areas, *results)}
    others = {name: read for name, read in sheets.items() if name.casefold() not in known}
    if not others:
        return
    originals = {area.sheet: sheets[area.sheet]() for area in areas if area.sheet in sheets}
    for name, read in others.items():
        cells = read()
        fault = next(_copied(name, cells, areas, originals), None) or next(
            _listed(name, cells, areas, originals), None
        )
        if fault is not None:
            yield fault


def _copied(
    name: str, cells: Cells, areas: Sequence[InputArea], originals: Mapping[str, Cells]
) -> Iterator[Fault]:
    for sheet, original in originals.items():
        own = [area.cells for area in areas if area.sheet == sheet]
        texts = {at: value for at, value in original.items() if isinstance(value, str)}
        same = sum(cells.get(at) == value for at, value in texts.items())
        if len(texts) < LEAST_TEXTS or same < COPIED_SHARE * len(texts):
            continue
        for at, value in sorted(cells.items()):
            if value not in BLANK and _inside(at, own) and original.get(at) != value:
                place = f"{quoted(name)}!{cell_name(*at)}"
                meant = f"{quoted(sheet)}!{cell_name(*at)}"
                yield Fault(
                    place,
                    f"{place} stands on a copy of the sheet {sheet} and differs from {meant}: the copy is "
                    "not in the study; delete it, or type the value there",
                )


def _listed(
    name: str, cells: Cells, areas: Sequence[InputArea], originals: Mapping[str, Cells]
) -> Iterator[Fault]:
    starts: dict[str, list[Position]] = {}
    for at, value in cells.items():
        if isinstance(value, str):
            starts.setdefault(_folded(value), []).append(at)
    for area in areas:
        original, box = originals.get(area.sheet, {}), area.cells
        columns = range(box.first_col, box.last_col + 1)
        headings = [_folded(original.get((box.first_row, column), "")) for column in columns]
        if not headings[0] or sum(map(bool, headings)) < LEAST_HEADINGS:
            continue
        keys = {
            _folded(value)
            for (row, column), value in original.items()
            if column == box.first_col and box.first_row < row <= box.last_row
        }
        for row, column in starts.get(headings[0], ()):
            beside = {_folded(value) for (at, _), value in cells.items() if at == row}
            if len(beside & set(filter(None, headings))) >= LEAST_HEADINGS:
                yield from _lacking(name, cells, (row, column), keys, area.sheet)


def _lacking(name: str, cells: Cells, head: Position, keys: Collection[str], sheet: str) -> Iterator[Fault]:
    for (row, column), value in sorted(cells.items()):
        if column == head[1] and row > head[0] and _folded(value) and _folded(value) not in keys:
            place = f"{quoted(name)}!{cell_name(row, column)}"
            yield Fault(
                place,
                f"{place} is {str(value)!r}, in a list with the headings of the sheet {sheet}, which has no "
                f"such row: it is not in the study; move the row to {sheet}, or change the headings",
            )


def _meet(one: InputArea, other: InputArea) -> bool:
    """Whether two areas begin or end together."""
    ends = (one.cells[:2] == other.cells[:2], one.cells[2:] == other.cells[2:])
    return one.sheet == other.sheet and any(ends)


def _inside(at: Position, areas: Sequence[CellRange]) -> bool:
    return any(
        area.first_row <= at[0] <= area.last_row and area.first_col <= at[1] <= area.last_col
        for area in areas
    )


def _folded(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.15g}"
    return " ".join(str(value).split()).casefold() if value not in BLANK else ""


def _place(sheet: str, cells: CellRange) -> str:
    first, last = cell_name(cells.first_row, cells.first_col), cell_name(cells.last_row, cells.last_col)
    return f"{quoted(sheet)}!{first}" + (f":{last}" if last != first else "")
