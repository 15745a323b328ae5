"""A workbook package whose parts are edited one by one; parts that are not touched are copied as they are."""

from __future__ import annotations

import copy
import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

from lxml import etree

from xlcalc.core.errors import InputError
from xlcalc.files.writing import write_file
from xlcalc.recalc.xlsx.archive.xmlparts import parse_small
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.workbooks.kit.editing.sheet_xml import SheetXml, tag
from xlcalc.workbooks.kit.editing.table_rows import Stretch, TableElement

WORKBOOK = "xl/workbook.xml"
CALC_CHAIN = "calcChain.xml"
LISTS_OF_PARTS = ("[Content_Types].xml", "xl/_rels/workbook.xml.rels")


class BookParts:
    """The parts of a verified workbook; `sheet` and `table` give trees that are written back by `write`."""

    def __init__(self, package: WorkbookPackage) -> None:
        self.content = package.content
        self._archive = zipfile.ZipFile(io.BytesIO(package.content))
        self._sheet_parts = {s.name: s.entry.part for s in package.sheets if s.entry.kind == "worksheet"}
        self._sheets: dict[str, SheetXml] = {}
        self._tables: dict[str, tuple[str, TableElement]] = {}
        self._workbook = parse_small(self._archive.read(WORKBOOK))

    @classmethod
    def open(cls, path: Path) -> BookParts:
        """Read and verify a workbook.

        Raises
        ------
        WorkbookFileError
            The file is not a valid workbook.
        """
        return cls(WorkbookPackage.open(path))

    def sheet(self, name: str) -> SheetXml:
        """Tree of a worksheet."""
        if name not in self._sheets:
            self._sheets[name] = SheetXml(self._archive.read(self._sheet_parts[name]))
        return self._sheets[name]

    def table(self, name: str) -> TableElement:
        """Tree of a table.

        Raises
        ------
        InputError
            The workbook has no such table.
        """
        for part in self._archive.namelist():
            if part.startswith("xl/tables/") and part.endswith(".xml"):
                root = parse_small(self._archive.read(part))
                if root.get("displayName") == name:
                    self._tables[part] = (part, TableElement(root))
                    return self._tables[part][1]
        raise InputError("table", name, "a table of the workbook")

    def move_names(self, sheet: str, stretch: Stretch) -> None:
        """Let the names and the print area that end with the table follow it."""
        index = [s.get("name") for s in self._workbook.iter(tag("sheet"))].index(sheet)
        for defined in self._workbook.iter(tag("definedName")):
            text = defined.text or ""
            place, mark, area = text.rpartition("!")
            local = defined.get("localSheetId") == str(index) and defined.get("name") == "_xlnm.Print_Area"
            if mark and (local or place.strip("'") == sheet):
                defined.text = f"{place}!{stretch.areas(area)}"

    def drop_results(self) -> None:
        """Remove the values of all formulas of the workbook."""
        for name in self._sheet_parts:
            self.sheet(name).drop_results()

    def write(self, target: Path) -> None:
        """Write the workbook.

        Raises
        ------
        WorkbookFileError
            The target cannot be written.
        """
        write_file(target, self._pieces())

    def _pieces(self) -> Iterator[bytes]:
        edited = {self._sheet_parts[name]: sheet.to_bytes() for name, sheet in self._sheets.items()}
        edited |= {part: _bytes(table.root) for part, table in self._tables.values()}
        edited[WORKBOOK] = _bytes(self._workbook)
        result = io.BytesIO()
        with zipfile.ZipFile(result, "w", zipfile.ZIP_DEFLATED) as archive:
            for info in self._archive.infolist():
                if info.filename.endswith(CALC_CHAIN):
                    continue
                content = edited.get(info.filename) or self._archive.read(info.filename)
                if info.filename in LISTS_OF_PARTS:
                    content = _without_calc_chain(content)
                archive.writestr(copy.copy(info), content)
        yield result.getvalue()


def _without_calc_chain(content: bytes) -> bytes:
    """The list of parts without the order of calculation, which no longer holds; programs build it anew."""
    root = parse_small(content)
    listed = [
        element
        for element in root
        if (element.get("PartName") or element.get("Target") or "").endswith(CALC_CHAIN)
    ]
    for element in listed:
        root.remove(element)
    return _bytes(root) if listed else content


def _bytes(root: etree._Element) -> bytes:
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
