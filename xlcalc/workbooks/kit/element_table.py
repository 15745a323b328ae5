"""A table with one row per element of the network: names from the network, the rest from formulas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.workbooks.kit import marks, page, verdict_cells
from xlcalc.workbooks.plant import network_sheet
from xlcalc.workbooks.plant.equipment import spectra_sheet
from xlcalc.workbooks.plant.equipment.equipment_data import TABLES
from xlcalc.workbooks.plant.plant_data import PlantData

HEADING_HEIGHT = 50


@dataclass(frozen=True)
class Column:
    """One column of results.

    Parameters
    ----------
    key : str
        Name by which the formulas of later columns refer to it.
    heading : str
        What stands above it.
    formula : str
        Without the equals sign. In braces: the key of another column, `name`, `spectrum`, `fundamental`,
        `net[...]` a column of the network, `data[...]` a number and `word[...]` a text of the equipment data
        (0 and "" where nothing is given).
    number_format : str
        Of the cell.
    guard : str
        Blank unless there is an element (`named`), or one that carries current in this case (`loaded`).
    """

    key: str
    heading: str
    formula: str
    number_format: str = "0.0"
    guard: str = "loaded"


@dataclass(frozen=True)
class TableRows:
    """A table on its sheet: rows from `first` to `last`."""

    first: int
    last: int
    letters: dict[str, str]
    shown: int

    @property
    def rows(self) -> range:
        return range(self.first, self.last + 1)


@dataclass(frozen=True)
class Element:
    """An element of a table, positions from 1, and which of its parts."""

    table: str
    position: int
    part: int


def height(table: str) -> int:
    """Rows that a table takes, with title, headings, and the line on elements beyond it."""
    return _rows(table) + 3


def _rows(table: str) -> int:
    return network_sheet.HELD[table] * len(spectra_sheet.parts(table))


def build(
    sheet: Worksheet,
    row: int,
    title: str,
    table: str,
    columns: Sequence[Column],
    data: PlantData,
    *,
    width: int,
    looked_up: str = "",
    more: Sequence[Sequence[Column]] = (),
) -> TableRows:
    """Write the table with its title in `row`; rows beyond those in view are folded away.

    Elements with several parts take a row for each; `more` are the columns of the parts after the first.
    """
    page.section(sheet, row, title, width)
    page.headings(sheet, row + 1, (table.rstrip("s"), *(column.heading for column in columns)))
    sheet.row_dimensions[row + 1].height = HEADING_HEIGHT
    letters = {column.key: get_column_letter(k) for k, column in enumerate(columns, start=2)}
    held = network_sheet.HELD[table]
    first, endings = row + 2, spectra_sheet.parts(table)
    last = first + _rows(table) - 1
    for position in range(1, held + 1):
        for part, own in enumerate((columns, *more)):
            place = first + (position - 1) * len(endings) + part
            _row(sheet, place, Element(table, position, part), own, letters, looked_up)
    shown = network_sheet.shown(table, data)
    page.unshown(sheet, last + 1, plant_names.column(table, "name"), shown, held, table)
    page.fold(sheet, first + shown * len(endings), last)
    marks.errors(sheet, names.area(first, 1, last, len(columns) + 1))
    return TableRows(first, last, letters, shown * len(endings))


def verdict(source: str) -> Column:
    """Verdict from the column `margin`; without a margin the error of `source`, or that data lack."""
    beyond = f"{{margin}}<-{verdict_cells.TOLERANCE:g}*ABS({{{source}}})"
    word = f'IF({beyond},"FAIL","PASS")'
    formula = f'IF(ISNUMBER({{margin}}),{word},IF(ISERROR({{{source}}}),{{{source}}},"NO DATA"))'
    return Column("verdict", "verdict", formula, "General")


def verdicts(sheet: Worksheet, place: TableRows, key: str) -> None:
    """Colours of a column of verdicts."""
    for row in range(place.first, place.last + 1):
        marks.verdict(sheet, f"{place.letters[key]}{row}")


def margins(sheet: Worksheet, place: TableRows, value: str, margin: str, limit: str) -> None:
    """Colours of a column of values by their margin."""
    letters = place.letters
    cells = f"{letters[value]}{place.first}:{letters[value]}{place.last}"
    marks.margins(sheet, cells, f"${letters[margin]}{place.first}", f"${letters[limit]}{place.first}")


def _row(
    sheet: Worksheet,
    row: int,
    element: Element,
    columns: Sequence[Column],
    letters: dict[str, str],
    looked_up: str,
) -> None:
    table, position, part = element.table, element.position, element.part
    name, ending = _network(table, "name", position), spectra_sheet.parts(table)[part]
    shown = f'{name}&"{ending}"' if ending else name
    page.put(sheet, row, 1, f'=IF({name}="","",{shown})', style.LABEL)
    own = f"$A{row}"
    known: dict[str, object] = {key: f"${letter}{row}" for key, letter in letters.items()}
    known |= {"name": own, "net": _net(table, position)}
    known |= _looked_up(looked_up, name if ending else own)
    if any(kind.table == table for kind in spectra_sheet.KINDS):
        known["spectrum"] = spectra_sheet.cells(table, position, part)
        known["fundamental"] = spectra_sheet.fundamental(table, position, part)
    for number, column in enumerate(columns, start=2):
        formula = column.formula.format(**known)
        if column.guard == "loaded":
            formula = f'IF(N({known["fundamental"]})=0,"",{formula})'
        formula = f'=IF({own}="","",{formula})'
        page.put(sheet, row, number, formula, style.RESULT, column.number_format)


def _network(table: str, field: str, position: int) -> str:
    return f"INDEX({plant_names.column(table, field)},{position})"


def _net(table: str, position: int) -> dict[str, str]:
    """Columns of the network that have names."""
    return {field: _network(table, field, position) for field in network_sheet.NAMED[table]}


def _looked_up(title: str, own: str) -> dict[str, dict[str, str]]:
    if not title:
        return {}
    fields = next(table.fields for table in TABLES if table.title == title)
    found = f"MATCH({own},{plant_names.column(title, 'name')},0)"
    cells = {f.name: f"INDEX({plant_names.column(title, f.name)},{found})" for f in fields}
    return {
        "data": {name: f"N(IFERROR({cell},0))" for name, cell in cells.items()},
        "word": {name: f'IFERROR({cell}&"","")' for name, cell in cells.items()},
    }


def blank_default(table: str, field: str) -> str:
    """What a blank cell of the network stands for, as a constant of a formula."""
    (section,) = (section for section in NETWORK.sections if section.title == table)
    default = next(f.default for f in section.records.fields if f.name == field)
    return f"{default:g}"
