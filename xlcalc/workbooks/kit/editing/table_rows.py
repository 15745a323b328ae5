"""New rows for a table: its computed columns, validations, conditional formats and filter follow."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lxml import etree
from openpyxl.formula.translate import Translator
from openpyxl.utils.cell import column_index_from_string, get_column_letter

from xlcalc.core.errors import InputError
from xlcalc.files.books.names import bounds
from xlcalc.schema.tables import normalised
from xlcalc.schema.values import Scalar
from xlcalc.workbooks.kit.editing.sheet_xml import SheetXml, tag

_AREA = re.compile(
    r"(?<![A-Za-z0-9_.!'])(\$?)([A-Z]{1,3})(\$?)(\d+):(\$?)([A-Z]{1,3})(\$?)(\d+)(?![A-Za-z0-9_(])"
)


@dataclass(frozen=True)
class Stretch:
    """The old and new last row of a table.

    Parameters
    ----------
    columns : range
        Column numbers of the table.
    header_row, old_last, new_last : int
        Rows of the headings and of the last data row before and after.
    """

    columns: range
    header_row: int
    old_last: int
    new_last: int

    def areas(self, text: str) -> str:
        """The text with every area over the table's data rows moved to the new end.

        Examples
        --------
        >>> Stretch(range(1, 5), 3, 8, 40).areas("COUNTIF($A$4:$A$8,$A4)+SUM(F4:F8)")
        'COUNTIF($A$4:$A$40,$A4)+SUM(F4:F8)'
        """
        return _AREA.sub(self._moved, text)

    def _moved(self, match: re.Match[str]) -> str:
        first_row, last_row = int(match[4]), int(match[8])
        first_column, last_column = column_index_from_string(match[2]), column_index_from_string(match[6])
        inside = first_column in self.columns and last_column in self.columns
        if not (inside and first_row <= self.header_row + 1 and last_row == self.old_last):
            return match[0]
        return f"{match[1]}{match[2]}{match[3]}{match[4]}:{match[5]}{match[6]}{match[7]}{self.new_last}"


@dataclass(frozen=True)
class TableElement:
    """The tree of a table part and its place."""

    root: etree._Element

    @property
    def bounds(self) -> tuple[int, int, int, int]:
        """First column, heading row, last column, last row."""
        return bounds(self.root.get("ref", ""))

    @property
    def headings(self) -> list[str]:
        return [column.get("name", "") for column in self._columns]

    @property
    def formulas(self) -> list[str | None]:
        """Formula of each computed column, without equals sign."""
        return [column.findtext(tag("calculatedColumnFormula")) for column in self._columns]

    @property
    def has_totals(self) -> bool:
        return self.root.get("totalsRowCount", "0") != "0"

    @property
    def _columns(self) -> list[etree._Element]:
        return self.root.findall(f"{tag('tableColumns')}/{tag('tableColumn')}")


def replace_rows(
    sheet: SheetXml, table: TableElement, rows: Sequence[Mapping[str, Scalar]], *, spare: int | None = None
) -> Stretch:
    """Write the rows into the table and give it their number; returns how its end moved.

    Parameters
    ----------
    sheet, table : SheetXml, TablePart
        Changed in place.
    rows : sequence of mapping
        Value by heading, headings as `normalised`; blank where a heading is missing.
    spare : int, optional
        Rows beyond those given that the table keeps at most, with blank inputs; below them the inputs keep
        their look and the computed columns are taken away. Without it the rows end with those given.

    Raises
    ------
    InputError
        The table has a totals row, a computed column without structured references, or content below it; or a
        row has a heading that is no input column.
    """
    first_column, header_row, last_column, old_last = table.bounds
    columns = range(first_column, last_column + 1)
    end = header_row + len(rows)
    last = end if spare is None else max(end, min(old_last, end + spare))
    stretch = Stretch(columns, header_row, old_last, last)
    _check(sheet, table, rows, stretch)
    for row in range(old_last + 1, stretch.new_last + 1):
        sheet.clone_row(old_last, row, columns)
    layout = list(zip(columns, table.headings, table.formulas, strict=True))
    gone = [column for column, _, formula in layout if spare is None or formula is not None]
    for row in range(stretch.new_last + 1, old_last + 1):
        sheet.remove_cells(row, gone)
    for number in range(header_row + 1, stretch.new_last + 1):
        values = rows[number - header_row - 1] if number <= header_row + len(rows) else {}
        for column, heading, formula in layout:
            if formula is None:
                sheet.set_value(number, column, values.get(normalised(heading)))
            else:
                sheet.set_formula(number, column, formula)
    _move_end(sheet, table, stretch)
    return stretch


def _check(
    sheet: SheetXml, table: TableElement, rows: Sequence[Mapping[str, Scalar]], stretch: Stretch
) -> None:
    name = table.root.get("displayName", "")
    if table.has_totals:
        raise InputError(f"table {name}", "with a totals row", "a table without one")
    inputs = {normalised(h) for h, f in zip(table.headings, table.formulas, strict=True) if f is None}
    unknown = sorted({key for row in rows for key in row} - inputs)
    if unknown:
        raise InputError(f"heading for table {name}", unknown[0], f"one of {', '.join(sorted(inputs))}")
    for heading, formula in zip(table.headings, table.formulas, strict=True):
        if formula is not None and Translator(f"={formula}", "A1").translate_formula("A2") != f"={formula}":
            raise InputError(
                f"computed column {heading} of table {name}", formula, "a formula with structured references"
            )
    for row in range(stretch.old_last + 1, stretch.new_last + 1):
        if not sheet.is_empty(row, stretch.columns):
            raise InputError(
                f"row {row} below table {name}", "in use", f"free cells to row {stretch.new_last}"
            )


def _move_end(sheet: SheetXml, table: TableElement, stretch: Stretch) -> None:
    first_column, header_row, last_column, _ = table.bounds
    area = f"{get_column_letter(first_column)}{header_row}:{get_column_letter(last_column)}{stretch.new_last}"
    table.root.set("ref", area)
    filtered = table.root.find(tag("autoFilter"))
    if filtered is not None:
        filtered.set("ref", area)
    dimension = sheet.root.find(tag("dimension"))
    if dimension is not None:
        sheet.root.remove(dimension)
    for element in sheet.root.iter(tag("conditionalFormatting"), tag("dataValidation")):
        element.set("sqref", stretch.areas(element.get("sqref", "")))
        for formula in element.iter(tag("formula"), tag("formula1"), tag("formula2")):
            if formula.text:
                formula.text = stretch.areas(formula.text)
