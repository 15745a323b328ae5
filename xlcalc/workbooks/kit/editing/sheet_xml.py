"""Editing the XML of one worksheet: values of cells, and values that no longer hold."""

from __future__ import annotations

import copy
from collections.abc import Collection, Iterator

from lxml import etree
from openpyxl.utils.cell import column_index_from_string, coordinate_from_string, get_column_letter

from xlcalc.files.books.names import bounds
from xlcalc.recalc.xlsx.archive.xmlparts import parse_small
from xlcalc.schema.values import Scalar

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
XML_SPACE = "{http://www.w3.org/XML/1998/namespace}space"


def tag(name: str) -> str:
    """Qualified name of an element of a sheet."""
    return f"{{{MAIN}}}{name}"


class SheetXml:
    """The tree of a worksheet part."""

    def __init__(self, data: bytes) -> None:
        self.root = parse_small(data)
        found = self.root.find(tag("sheetData"))
        self._data = found if found is not None else etree.SubElement(self.root, tag("sheetData"))
        self._rows = {int(row.get("r", "0")): row for row in self._data}

    def to_bytes(self) -> bytes:
        return etree.tostring(self.root, xml_declaration=True, encoding="UTF-8", standalone=True)

    def cells(self, row: int) -> dict[int, etree._Element]:
        """Cells of a row by column number."""
        found = self._rows.get(row)
        return {} if found is None else {_column(cell): cell for cell in found}

    def set_value(self, row: int, column: int, value: Scalar) -> None:
        """Replace the content of a cell, formula included; its style stays."""
        cell = self._cell(row, column)
        clear(cell)
        if value is None:
            return
        if isinstance(value, bool):
            cell.set("t", "b")
            etree.SubElement(cell, tag("v")).text = str(int(value))
        elif isinstance(value, int | float):
            number = float(value)
            etree.SubElement(cell, tag("v")).text = str(int(number)) if number.is_integer() else repr(number)
        else:
            cell.set("t", "inlineStr")
            text = etree.SubElement(etree.SubElement(cell, tag("is")), tag("t"))
            text.text = str(value)
            text.set(XML_SPACE, "preserve")

    def set_formula(self, row: int, column: int, formula: str) -> None:
        """Replace the content of a cell by a formula without a value; its style stays."""
        cell = self._cell(row, column)
        clear(cell)
        etree.SubElement(cell, tag("f")).text = formula

    def clone_row(self, source: int, target: int, columns: range) -> None:
        """Give `target` the height and the cell styles of `source` in the columns, without contents."""
        origin = self._rows[source]
        row = self._row(target)
        for name, value in origin.attrib.items():
            if name not in ("r", "spans"):
                row.set(name, value)
        for column, cell in self.cells(source).items():
            if column in columns:
                fresh = copy.deepcopy(cell)
                clear(fresh)
                fresh.set("r", f"{get_column_letter(column)}{target}")
                existing = self.cells(target).get(column)
                if existing is not None:
                    row.remove(existing)
                self._insert(row, column, fresh)

    def show_columns(self, columns: Collection[int]) -> None:
        """Unfold columns; those of one element of the file must all be among them."""
        for element in self.root.iter(tag("col")):
            first, last = int(element.get("min", "0")), int(element.get("max", "0"))
            if all(number in columns for number in range(first, last + 1)):
                forget(element, "hidden", "outlineLevel", "collapsed")

    def remove_cells(self, row: int, columns: Collection[int]) -> None:
        """Take the cells out, and the row where nothing is left of it."""
        found = self._rows.get(row)
        if found is None:
            return
        for column, cell in self.cells(row).items():
            if column in columns:
                found.remove(cell)
        if not len(found):
            self._data.remove(found)
            del self._rows[row]

    def is_empty(self, row: int, columns: range) -> bool:
        """True where no cell in the columns has a content."""
        return all(not len(cell) for column, cell in self.cells(row).items() if column in columns)

    def drop_results(self) -> None:
        """Remove the values of formulas and of the cells that array formulas fill."""
        for cell in list(self._all_cells()):
            formula = cell.find(tag("f"))
            if formula is None:
                continue
            for value in (*cell.findall(tag("v")), *cell.findall(tag("is"))):
                cell.remove(value)
            forget(cell, "t")
            if formula.get("t") == "array" and formula.get("ref"):
                self._clear_members(formula.get("ref", ""))

    def _clear_members(self, area: str) -> None:
        first_column, first_row, last_column, last_row = bounds(area)
        for row in range(first_row, last_row + 1):
            for column, cell in self.cells(row).items():
                if first_column <= column <= last_column and cell.find(tag("f")) is None:
                    clear(cell)

    def _all_cells(self) -> Iterator[etree._Element]:
        for row in self._data:
            yield from row

    def _row(self, number: int) -> etree._Element:
        found = self._rows.get(number)
        if found is not None:
            forget(found, "spans")
            return found
        row = etree.Element(tag("row"), r=str(number))
        later = next((i for i, r in enumerate(self._data) if int(r.get("r", "0")) > number), len(self._data))
        self._data.insert(later, row)
        self._rows[number] = row
        return row

    def _cell(self, row: int, column: int) -> etree._Element:
        found = self.cells(row).get(column)
        if found is not None:
            return found
        cell = etree.Element(tag("c"), r=f"{get_column_letter(column)}{row}")
        self._insert(self._row(row), column, cell)
        return cell

    @staticmethod
    def _insert(row: etree._Element, column: int, cell: etree._Element) -> None:
        later = next((i for i, other in enumerate(row) if _column(other) > column), len(row))
        row.insert(later, cell)


def clear(cell: etree._Element) -> None:
    """Remove formula and value, keep the style."""
    for child in list(cell):
        cell.remove(child)
    forget(cell, "t", "cm", "vm")


def forget(element: etree._Element, *attributes: str) -> None:
    """Remove attributes that may be there."""
    for name in attributes:
        if name in element.attrib:
            del element.attrib[name]


def _column(cell: etree._Element) -> int:
    letters, _ = coordinate_from_string(cell.get("r", "A1"))
    return column_index_from_string(letters)
