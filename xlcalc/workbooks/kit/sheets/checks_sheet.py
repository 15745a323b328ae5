"""Sheet of checks: what stands where no input is read, live in every host: then there is no verdict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, outside
from xlcalc.recalc.inputs import MERGED
from xlcalc.recalc.typedresults import TYPED_OVER
from xlcalc.workbooks.kit import marks, page

FIRST_ROW: Final = 9
FAULT_ROW: Final = 5
ASSUMED_ROW: Final = 6
COLUMNS: Final = 4
NUMBERS: Final = 14
"""Column of the numbers 1 to `BOX_ROWS`; the row above them has the numbers 1 to `BOX_COLUMNS`."""
BOX_ROWS: Final = 1200
BOX_COLUMNS: Final = 60


def build(book: Workbook, sheet: Worksheet, inputs: Sequence[str], assumed: str = "") -> None:
    """Fill the sheet.

    Parameters
    ----------
    inputs : sequence of str
        Names of all inputs; what stands around them must be blank.
    assumed : str
        Formula, without the equals sign, of what blank cells stand for.
    """
    page.widths(sheet, 44, 10, 70, 70, *[9.0] * (NUMBERS - 5))
    page.heading(
        sheet,
        names.CHECKS_SHEET,
        "Data where no input is read. As long as there is any, nothing is judged: no verdict.",
    )
    page.study_title(sheet)
    places = _places(book)
    figures = names.DRIVE_FIGURES in book.defined_names
    last = FIRST_ROW + len(places) + figures + 1
    page.section(sheet, FAULT_ROW - 1, "First fault", COLUMNS)
    page.put(sheet, FAULT_ROW, 1, f"=$D${FIRST_ROW}", style.RESULT_TEXT)
    sheet.merge_cells(start_row=FAULT_ROW, end_row=FAULT_ROW, start_column=1, end_column=COLUMNS)
    sheet.row_dimensions[FAULT_ROW].height = 26
    names.define(book, names.INPUT_FAULT, sheet, f"A{FAULT_ROW}")
    if assumed:
        page.put(sheet, ASSUMED_ROW, 1, f'="Blank cells stand for: "&{assumed}', style.RESULT_TEXT)
        sheet.merge_cells(start_row=ASSUMED_ROW, end_row=ASSUMED_ROW, start_column=1, end_column=COLUMNS)
        sheet.row_dimensions[ASSUMED_ROW].height = 62
        names.define(book, names.ASSUMED_TEXT, sheet, f"A{ASSUMED_ROW}")
    page.headings(sheet, FIRST_ROW - 1, ("place", "cells", "fault", "first fault from here on"))
    for row, (name, where, title, cells) in enumerate(places, start=FIRST_ROW):
        page.put(sheet, row, 1, f"{title}: {where}", style.LABEL)
        seam = name.replace(names.OUTSIDE, names.SEAM, 1)
        inserted = f"+{outside.inserted(seam)}" if seam in book.defined_names else ""
        page.put(sheet, row, 2, f"=COUNTA({name}){inserted}", style.RESULT, "0")
        _found(sheet, row, title, cells)
        page.put(sheet, row, 3, _sentence(row, title, where, cells), style.RESULT_TEXT)
    merged = FIRST_ROW + len(places)
    _seen_by_recalculation(sheet, merged, "Merged cells among the inputs", MERGED)
    names.define(book, names.MERGED_INPUTS, sheet, f"C{merged}")
    if figures:
        _untagged(book, sheet, merged + 1)
    _seen_by_recalculation(
        sheet, last, "Values typed over formulas, changed names, copied sheets", TYPED_OVER
    )
    ranges = ",".join(str(book.defined_names[name].attr_text) for name in inputs)
    book.defined_names[names.INPUT_RANGES] = DefinedName(names.INPUT_RANGES, attr_text=ranges)
    for row in range(FIRST_ROW, last + 1):
        rest = f"$D{row + 1}" if row < last else '""'
        page.put(sheet, row, 4, f'=IF($C{row}<>"",$C{row},{rest})', style.RESULT_TEXT)
    if names.DRIVE_INPUTS in book.defined_names:
        _last_row(book, sheet, last + 2)
    _numbers(sheet)
    marks.formula(sheet, f"A{FAULT_ROW}:D{FAULT_ROW}", f'$A${FAULT_ROW}<>""', style.BAD)
    marks.formula(sheet, names.area(FIRST_ROW, 1, last, 3), f'$C{FIRST_ROW}<>""', style.BAD)
    page.set_up(sheet, area=names.area(1, 1, last, 3))


def _seen_by_recalculation(sheet: Worksheet, row: int, what: str, formula: str) -> None:
    """A fault that no formula can see."""
    page.put(sheet, row, 1, f"{what} (seen by xlcalc recalc alone)", style.LABEL)
    page.put(sheet, row, 2, None, style.RESULT)
    page.put(sheet, row, 3, f"={formula}", style.RESULT_TEXT)


def _untagged(book: Workbook, sheet: Worksheet, row: int) -> None:
    """Values in the columns of figures where no drive is: a second list, or a drive without its tag."""
    ((title, cells),) = book.defined_names[names.DRIVE_FIGURES].destinations
    left, top, right, bottom = names.bounds(cells)
    columns = [
        names.reference(title, names.area(top, column, bottom, column)) for column in range(left, right + 1)
    ]
    kinds = ('"?*"', '"<1E+300"')
    count = "+".join(f'COUNTIFS({names.TAGS},"",{c},{kind})' for c in columns for kind in kinds)
    page.put(sheet, row, 1, f"{title}: figures of rows without a tag", style.LABEL)
    page.put(sheet, row, 2, f"={count}", style.RESULT, "0")
    place = f"{names.quoted(title)}!{names.area(top, left, bottom, right)}"
    page.put(sheet, row, 3, f'=IF($B{row}=0,"","{outside.untagged(place)}")', style.RESULT_TEXT)


def _last_row(book: Workbook, sheet: Worksheet, row: int) -> None:
    """The last row of the drives in which something is typed, for the print area."""
    page.put(sheet, row, 1, "Last row of drives", style.LABEL)
    ((title, cells),) = book.defined_names[names.DRIVE_INPUTS].destinations
    left, top, _, bottom = names.bounds(cells)
    letter = get_column_letter(NUMBERS)
    numbers = f"${letter}${FIRST_ROW + 1}:${letter}${FIRST_ROW + 1 + bottom - top}"
    inputs = names.DRIVE_INPUTS
    corner = f"{names.quoted(title)}!${get_column_letter(left)}${top}"
    page.put(sheet, row, 2, f'=ROW({corner})-1+SUMPRODUCT(MAX(({inputs}<>"")*{numbers}))', style.RESULT, "0")
    names.define(book, names.LAST_DRIVE_ROW, sheet, f"B{row}")


def _places(book: Workbook) -> list[tuple[str, str, str, str]]:
    """Name, where it is in words, sheet and cells of every place."""
    found = []
    for name, defined in book.defined_names.items():
        if name.startswith(names.OUTSIDE):
            ((title, cells),) = defined.destinations
            found.append((name, outside.where(name), title, cells.replace("$", "")))
    return found


def _box(title: str, cells: str) -> str:
    """The part of a place that is searched for the first and last cell."""
    left, top, right, bottom = names.bounds(cells)
    box = names.area(top, left, min(bottom, top + BOX_ROWS - 1), min(right, left + BOX_COLUMNS - 1))
    return names.reference(title, box)


def _found(sheet: Worksheet, row: int, title: str, cells: str) -> None:
    """First and last row and column with data, columns F to I; blank where there are none."""
    left, top, right, bottom = names.bounds(cells)
    rows, columns = min(bottom - top + 1, BOX_ROWS), min(right - left + 1, BOX_COLUMNS)
    letter, first = get_column_letter(NUMBERS), FIRST_ROW + 1
    down = f"${letter}${first}:${letter}${first + rows - 1}"
    across = (
        f"${get_column_letter(NUMBERS + 1)}${FIRST_ROW}:${get_column_letter(NUMBERS + columns)}${FIRST_ROW}"
    )
    box, corner = _box(title, cells), f"{names.quoted(title)}!${get_column_letter(left)}${top}"
    for column, formula in enumerate(
        (
            f'ROW({corner})+{rows}-SUMPRODUCT(MAX(({box}<>"")*({rows + 1}-{down})))',
            f'COLUMN({corner})+{columns}-SUMPRODUCT(MAX(({box}<>"")*({columns + 1}-{across})))',
            f'ROW({corner})-1+SUMPRODUCT(MAX(({box}<>"")*{down}))',
            f'COLUMN({corner})-1+SUMPRODUCT(MAX(({box}<>"")*{across}))',
        ),
        start=6,
    ):
        page.put(sheet, row, column, f'=IF($B{row}=0,"",IFERROR({formula},""))', style.ARRAY, "0")


def _sentence(row: int, title: str, where: str, cells: str) -> str:
    """What is wrong, with the cells where they can be made out."""
    shown = names.quoted(title)
    first, last = f"ADDRESS($F{row},$G{row},4)", f"ADDRESS($H{row},$I{row},4)"
    span = f'{first}&IF(AND($F{row}=$H{row},$G{row}=$I{row}),"",":"&{last})'
    known = f"AND(COUNT($F{row}:$I{row})=4,N($F{row})<=N($H{row}))"
    place = f'IF({known},IFERROR({span},"{cells}"),"{cells}")'
    return f'=IF($B{row}=0,"","{shown}!"&{place}&": data {where} is not in the study")'


def _numbers(sheet: Worksheet) -> None:
    """Numbers that distinguish rows and columns."""
    for number in range(1, BOX_COLUMNS + 1):
        page.put(sheet, FIRST_ROW, NUMBERS + number, number, style.ARRAY, "0")
    for number in range(1, BOX_ROWS + 1):
        page.put(sheet, FIRST_ROW + number, NUMBERS, number, style.ARRAY, "0")
