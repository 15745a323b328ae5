"""Sheet of the spectra of single elements in the case in view, one block each; other sheets refer to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.worksheet.formula import ArrayFormula
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.workbooks.kit import page
from xlcalc.workbooks.plant import plant_arrays
from xlcalc.workbooks.plant.network_sheet import HELD

ORDERS: Final = 50


NAME_ROW: Final = 4


FIRST_ROW: Final = 6


AMPS, VOLTS = "A", "V"


@dataclass(frozen=True)
class ElementKind:
    """A table of the network whose elements have a spectrum, or several: one for each ending of the name."""

    table: str
    unit: str
    parts: tuple[str, ...] = ("",)

    @property
    def blocks(self) -> int:
        return HELD[self.table] * len(self.parts)


WINDINGS: Final = ("", " secondary", " tertiary")


KINDS: Final = (
    ElementKind("transformers", AMPS),
    ElementKind("three-winding transformers", AMPS, WINDINGS),
    ElementKind("cables", AMPS),
    ElementKind("capacitors", VOLTS),
    ElementKind("generators", AMPS),
)


def parts(table: str) -> tuple[str, ...]:
    """Endings of the names of its elements."""
    return next((kind.parts for kind in KINDS if kind.table == table), ("",))


def _column(table: str, position: int, part: int) -> int:
    """First column of the block of an element, positions from 1."""
    before = 0
    for kind in KINDS:
        if kind.table == table:
            return 1 + 3 * (before + (position - 1) * len(kind.parts) + part)
        before += kind.blocks
    raise ValueError(f"no spectra of {table}")


def cells(table: str, position: int, part: int = 0) -> str:
    """Reference from another sheet to the spectrum of an element, positions from 1."""
    column = _column(table, position, part)
    first, last = get_column_letter(column), get_column_letter(column + 2)
    return f"{quote_sheetname(names.SPECTRA_SHEET)}!${first}${FIRST_ROW}:${last}${FIRST_ROW + ORDERS - 1}"


def fundamental(table: str, position: int, part: int = 0) -> str:
    """Reference to the fundamental of an element."""
    letter = get_column_letter(_column(table, position, part) + 1)
    return f"{quote_sheetname(names.SPECTRA_SHEET)}!${letter}${FIRST_ROW}"


def build(book: Workbook, sheet: Worksheet) -> None:
    """Fill the sheet."""
    page.heading(
        sheet,
        names.SPECTRA_SHEET,
        "Currents of transformers, cables and generators, voltages across capacitors, in the case in view. "
        "Nothing to enter here.",
    )
    for kind in KINDS:
        for position in range(1, HELD[kind.table] + 1):
            for part in range(len(kind.parts)):
                _block(sheet, kind, position, part)
    sheet.freeze_panes = f"A{FIRST_ROW}"
    page.set_up(sheet, area="A1:H3")


def _block(sheet: Worksheet, kind: ElementKind, position: int, part: int) -> None:
    column = _column(kind.table, position, part)
    function = "HD_PLANT_AMPS" if kind.unit == AMPS else "HD_PLANT_VOLTS"
    name = f"INDEX({plant_names.column(kind.table, 'name')},{position})"
    ending = f'&"{kind.parts[part]}"' if kind.parts[part] else ""
    page.put(sheet, NAME_ROW, column, f'=IF({name}="","",{name}{ending})', style.SUBTITLE)
    page.headings(sheet, NAME_ROW + 1, ("order", kind.unit, "deg"), column)
    area = names.area(FIRST_ROW, column, FIRST_ROW + ORDERS - 1, column + 2)
    for row in sheet[area]:
        for cell in row:
            cell.style = style.ARRAY
    own = f"{get_column_letter(column)}${NAME_ROW}"
    formula = f'=IF({own}="","",{function}({plant_arrays.plant()},{own},{plant_names.VIEW}))'
    sheet[area.split(":")[0]] = ArrayFormula(area, formula)
