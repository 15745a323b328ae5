"""Options, prices and residual spectra from files: tables of all kinds in one, or those of the template."""

from __future__ import annotations

from collections.abc import Container, Mapping
from pathlib import Path
from typing import Any, Final

from openpyxl.utils import get_column_letter

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.io.lists.files import WORKBOOK_SUFFIXES, read_tables
from xlcalc.io.lists.numerals import decimal_of, is_blank
from xlcalc.io.lists.rawtable import RawCell, RawTable, plain_grid
from xlcalc.io.lists.xlsx_table import read_named_ranges
from xlcalc.io.plants.site import value_of
from xlcalc.mitigation.offer.banks import OptionTable
from xlcalc.schema.assembly.options import OptionRow, flat_columns, options_of, options_of_sheet
from xlcalc.schema.fields import REQUIRED, Field
from xlcalc.schema.inputs.options import COLUMNS, KIND, KINDS, OPTIONS, PRICES, SPECTRA
from xlcalc.schema.kinds import Number, one_of
from xlcalc.schema.tables import normalised

OPTIONS_RANGE: Final = "choice_options"
SHEETS: Final = {"options": "", "prices": PRICES, "residuals": SPECTRA}
"""Sheets of a workbook, and the tables that they hold."""
SHIPPED: Final = ("mitigation_options.csv", "mitigation_residuals.csv")
SEARCHED_ROWS: Final = 30
FEWEST_KNOWN: Final = 2
FLAT: Final[Mapping[str, Field]] = {
    "kind": KIND,
    **{heading: field for title in KINDS.values() for heading, field in flat_columns(title).items()},
}


def read_options(
    options: Path | None = None, prices: Path | None = None, residuals: Path | None = None
) -> OptionTable:
    """Options from files; without any the shipped ones, whose prices are invented.

    Parameters
    ----------
    options : Path, optional
        A table with a row for each option and the column ``kind``, in any file that `read_tables` takes; a
        workbook with sheets Options, Prices and Residuals; or one made from the template choice_study.
    prices, residuals : Path, optional
        Tables of their own.

    Raises
    ------
    InputError
        As `options_of`; or a heading that means nothing, comes twice or is missing, or a cell of the wrong
        kind, outside its range, or of another kind of option.
    WorkbookFileError
        A file is not a valid workbook.
    """
    if options is None:
        options, residuals = (resources.folder("demo") / name for name in SHIPPED)
    if options.suffix.lower() in WORKBOOK_SUFFIXES:
        named = read_named_ranges(options, [OPTIONS_RANGE], {section.title for section in OPTIONS.sections})
        if named:
            tables: Any = OPTIONS.convert(plain_grid(named[OPTIONS_RANGE].rows), "sheet Options")
            return options_of_sheet(tables, "sheet Options")
    found = _tables(options)
    for path, title in ((prices, PRICES), (residuals, SPECTRA)):
        if path is not None:
            found[title] = _single(path, COLUMNS[title].fields)
    rows = _flat_rows(found.pop(""))
    rows |= {title: _rows(table, _by_heading(COLUMNS[title].fields)) for title, table in found.items()}
    return options_of(rows, options.name)


def _tables(path: Path) -> dict[str, RawTable]:
    """The table of options, under an empty title, and those that stand beside it."""
    tables = read_tables(path, "--options", known=lambda text: normalised(text) in FLAT)
    if len(tables) == 1:
        return {"": tables[0]}
    by_sheet = {table.name.rpartition(", sheet ")[2].casefold(): table for table in tables}
    found = {title: by_sheet[sheet] for sheet, title in SHEETS.items() if sheet in by_sheet}
    if "" not in found:
        raise InputError("--options", path.name, "a workbook with a sheet Options")
    return found


def _single(path: Path, fields: tuple[Field, ...]) -> RawTable:
    known = {normalised(field.name) for field in fields}
    tables = read_tables(path, path.name, known=lambda text: normalised(text) in known)
    with_headings = [table for table in tables if _heading_row(table, known) is not None]
    if len(tables) > 1 and len(with_headings) != 1:
        raise InputError(path.name, f"{len(with_headings)} sheets with its headings", "one sheet")
    return with_headings[0] if with_headings else tables[0]


def _by_heading(fields: tuple[Field, ...]) -> dict[str, Field]:
    return {field.name: field for field in fields}


def _flat_rows(table: RawTable) -> dict[str, list[OptionRow]]:
    """Rows of all kinds of options by the title of their table."""
    found: dict[str, list[OptionRow]] = {}
    for raw in _raw_rows(table, FLAT, ("option", "kind")):
        kind = KIND.convert(raw.values.get("kind"), raw.where("kind"))
        title = KINDS[str(kind)]
        columns = flat_columns(title)
        foreign = next((name for name in raw.values if name != "kind" and name not in columns), None)
        if foreign is not None:
            value = raw.values[foreign]
            raise InputError(raw.where(foreign), value, f"blank, because its kind is {kind}")
        row = _checked(raw, columns)
        own = {field.name: row.values[field.name] for field in columns.values()} | {"kind": kind}
        cells = {field.name: raw.cells.get(heading, "") for heading, field in columns.items()}
        found.setdefault(title, []).append(OptionRow(own, raw.place, cells))
    return found


def _rows(table: RawTable, columns: Mapping[str, Field]) -> list[OptionRow]:
    needed = tuple(name for name, field in columns.items() if field.default is REQUIRED)
    return [_checked(raw, columns) for raw in _raw_rows(table, columns, needed)]


def _checked(raw: OptionRow, columns: Mapping[str, Field]) -> OptionRow:
    values = {
        field.name: field.convert(raw.values.get(heading), raw.where(heading))
        for heading, field in columns.items()
    }
    return OptionRow(values, raw.place, raw.cells)


def _raw_rows(table: RawTable, columns: Mapping[str, Field], needed: tuple[str, ...]) -> list[OptionRow]:
    """Rows below the headings as they are, by heading; blank cells and rows are left out."""
    known = {normalised(name): name for name in columns}
    top = _heading_row(table, known)
    if top is None:
        raise InputError(table.name, "without headings", f"a row with {', '.join(needed)} and others")
    headings = [_heading(cell, known, columns) for cell in table.rows[top]]
    for heading, cell in zip(headings, table.rows[top], strict=True):
        if heading is None and not _is_empty(cell):
            raise InputError(f"heading in {table.name}", str(cell), one_of(list(columns), str(cell)))
        if heading is not None and headings.count(heading) > 1:
            raise InputError(f"heading in {table.name}", f"{heading} twice", "each heading once")
    for name in needed:
        if name not in headings:
            raise InputError(f"heading {name} in {table.name}", None, "a column of this name")
    rows = [
        (n, row) for n, row in enumerate(table.rows[top + 1 :], start=top + 2) if not all(map(is_blank, row))
    ]
    if not rows:
        raise InputError(table.name, "without rows", "a row of headings and one row per entry")
    sign = decimal_of({cell for _, row in rows for cell in _numbers(row, headings, columns)})
    file, _, sheet = table.name.partition(", sheet ")
    where = f"sheet {sheet}" if sheet else file
    found = []
    for number, row in rows:
        cells = {h: f"cell {get_column_letter(k)}{number} of {where}" for k, h in enumerate(headings, 1) if h}
        values: dict[str, Any] = {}
        for column, cell in enumerate(row):
            heading = headings[column] if column < len(headings) else None
            number_cell = heading is not None and isinstance(columns[heading].kind, Number)
            if is_blank(cell) if number_cell else _is_empty(cell):
                continue
            if heading is None:
                letter = get_column_letter(column + 1)
                valid = "blank, because its column has no heading"
                raise InputError(f"cell {letter}{number} of {table.name}", str(cell), valid)
            values[heading] = value_of(cell, columns[heading].kind, sign)
        found.append(OptionRow(values, f"row {number} of {table.name}", cells))
    return found


def _numbers(row: list[RawCell], headings: list[str | None], columns: Mapping[str, Field]) -> list[str]:
    return [
        cell
        for cell, heading in zip(row, headings, strict=False)
        if isinstance(cell, str) and heading is not None and isinstance(columns[heading].kind, Number)
    ]


def _heading_row(table: RawTable, known: Container[str]) -> int | None:
    """The first row with two known headings; titles and notes may stand above it."""
    for number, row in enumerate(table.rows[:SEARCHED_ROWS]):
        names = [normalised(cell) for cell in row if isinstance(cell, str)]
        if sum(name in known for name in names) >= FEWEST_KNOWN:
            return number
    return None


def _heading(cell: RawCell, known: Mapping[str, str], columns: Mapping[str, Field]) -> str | None:
    """The column that a heading means; its unit may stand behind it."""
    if not isinstance(cell, str):
        return None
    text = normalised(cell)
    if text in known:
        return known[text]
    name, _, unit = text.rpartition(" ")
    kind = columns[known[name]].kind if name in known else None
    return known[name] if isinstance(kind, Number) and kind.unit and unit == normalised(kind.unit) else None


def _is_empty(cell: RawCell) -> bool:
    """Whether a cell holds nothing: an option may be called none."""
    return cell is None or (isinstance(cell, str) and not cell.strip())
