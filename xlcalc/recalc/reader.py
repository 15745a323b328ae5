"""Reads what a workbook contains: constants, formulas with their array marks, names, tables.

Values are read as stored, so that a date is its serial number, exactly.
"""

from __future__ import annotations

import math
import re
import zipfile
from collections.abc import Iterator, Mapping
from io import BytesIO

from lxml import etree

from xlcalc.files.errors import UnsafePartError, WorkbookFileError
from xlcalc.files.writing import Snapshot
from xlcalc.recalc.cellnames import AreaIndex, CellRange, column_number, parse_cell, parse_range
from xlcalc.recalc.evaluation.content import (
    ArrayMark,
    BookContent,
    CellFormula,
    Constant,
    SheetContent,
)
from xlcalc.recalc.evaluation.formula.pattern import shift
from xlcalc.recalc.evaluation.formula.structured import DeclaredTable
from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.xmlparts import SAFE, parse_small, to_utf8
from xlcalc.recalc.xlsx.cachedvalues import decode
from xlcalc.recalc.xlsx.hiddenrows import hidden_rows
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.recalc.xlsx.plaincells import PlainCell, attributes, plain_cells, plain_text
from xlcalc.recalc.xlsx.sheets import SheetEntry, WorkbookPart, read_relationships
from xlcalc.recalc.xlsx.sheetscan import MAIN
from xlcalc.schema.values import CellError, ErrorCode

_ROW, _CELL, _VALUE, _FORMULA, _INLINE, _TEXT, _RUN, _ITEM = (
    f"{{{MAIN}}}{tag}" for tag in ("row", "c", "v", "f", "is", "t", "r", "si")
)
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


def read_book(package: WorkbookPackage, *, plain: bool = False) -> BookContent:
    """Everything that the formulas of a workbook can refer to.

    Parameters
    ----------
    package : WorkbookPackage
    plain : bool
        Leave the cells of plainly written sheets to a reader that needs no object for each of them.

    Raises
    ------
    WorkbookFileError
        For parts that cannot be read.
    """
    with zipfile.ZipFile(BytesIO(package.content)) as archive:
        container = Container(package.path, package.content, Snapshot(0, 0, 0), archive)
        return _read(container, package.workbook, package if plain else None)


def _read(container: Container, workbook: WorkbookPart, package: WorkbookPackage | None) -> BookContent:
    strings = _shared_strings(container, workbook)
    worksheets = [entry for entry in workbook.sheets if entry.kind == "worksheet"]
    sheets = []
    tables: dict[str, DeclaredTable] = {}
    for entry in worksheets:
        try:
            listed = list(_tables(container, entry))
            filters = [table.filtered for table in listed if table.filtered is not None]
            sheets.append(_sheet(container, entry, strings, workbook.date1904, package, filters))
            tables.update((table.name.casefold(), table) for table in listed)
        except (UnsafePartError, etree.XMLSyntaxError, ValueError) as problem:
            raise container.fail(f"the sheet {entry.name!r} cannot be read: {problem}") from None
    tabs = tuple(entry.name for entry in workbook.sheets)
    return BookContent(tuple(sheets), _names(container, workbook), tables, workbook.date1904, tabs)


def _tree(container: Container, part: str) -> etree._Element:
    try:
        return parse_small(to_utf8(container.read(part))[0])
    except UnsafePartError as problem:
        raise container.fail(f"the part {part!r} cannot be read: {problem}") from None


def _names(container: Container, workbook: WorkbookPart) -> dict[tuple[str, str], str]:
    found: dict[tuple[str, str], str] = {}
    for element in _tree(container, workbook.part).iterfind(f"{{{MAIN}}}definedNames/{{{MAIN}}}definedName"):
        scope = element.get("localSheetId")
        scopes = {str(number): sheet.name for number, sheet in enumerate(workbook.sheets)}
        if scope is not None and scope not in scopes:
            continue
        sheet = scopes[scope] if scope is not None else ""
        found[sheet, element.get("name", "").casefold()] = (element.text or "").strip()
    return found


def _shared_strings(container: Container, workbook: WorkbookPart) -> list[str]:
    target = workbook.related("sharedStrings")
    part = container.find(target) if target else None
    if part is None:
        return []
    strings = []
    for _, item in etree.iterparse(BytesIO(container.read(part)), tag=_ITEM, **SAFE):
        strings.append(_rich_text(item))
        item.clear()
    return strings


def _rich_text(item: etree._Element) -> str:
    """Text of a string item, phonetic hints left out."""
    pieces = [child.text or "" for child in item.iterchildren(_TEXT)]
    for run in item.iterchildren(_RUN):
        pieces += [child.text or "" for child in run.iterchildren(_TEXT)]
    text = "".join(pieces)
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text


def _tables(container: Container, entry: SheetEntry) -> Iterator[DeclaredTable]:
    for relationship in read_relationships(container, entry.part):
        if relationship.kind != "table" or relationship.external:
            continue
        part = container.find(relationship.target)
        if part is None:
            raise UnsafePartError(f"its table part {relationship.target!r} is missing")
        root = _tree(container, part)
        area = parse_range(root.get("ref", ""))
        if area is None:
            raise UnsafePartError(f"a table covers {root.get('ref')!r}")
        columns = root.iterfind(f"{{{MAIN}}}tableColumns/{{{MAIN}}}tableColumn")
        yield DeclaredTable(
            name=root.get("displayName") or root.get("name") or "",
            sheet=entry.name,
            area=area,
            columns=tuple(_unescape(column.get("name", "")) for column in columns),
            header_rows=int(root.get("headerRowCount", "1")),
            totals_rows=int(root.get("totalsRowCount", "0")),
            filtered=_filtered(root),
        )


def _filtered(table: etree._Element) -> CellRange | None:
    """The area of a table's filter, where it has conditions."""
    found = table.find(f"{{{MAIN}}}autoFilter")
    if found is None or found.find(f"{{{MAIN}}}filterColumn") is None:
        return None
    return parse_range(found.get("ref", ""))


def _unescape(text: str) -> str:
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)


def _sheet(
    container: Container,
    entry: SheetEntry,
    strings: list[str],
    date_1904: bool,
    package: WorkbookPackage | None,
    filters: list[CellRange],
) -> SheetContent:
    data = package.sheet(entry.name).data if package else to_utf8(container.read(entry.part))[0]
    content = SheetContent(entry.name, entry.part, hidden_rows=hidden_rows(data, filters))
    values = _Values(strings, date_1904)
    if package is not None and package.sheet(entry.name).looks_plain:
        content.plain = _Plain(package, entry, values)
    else:
        _fill(content, data, values)
        if package is not None:
            package.sheet(entry.name).release()
    return content


class _Plain:
    """Source of a plainly written sheet."""

    def __init__(self, package: WorkbookPackage, entry: SheetEntry, values: _Values) -> None:
        self._path = package.path
        self._sheet = package.sheet(entry.name)
        self._values = values

    @property
    def data(self) -> bytes:
        return self._sheet.data

    def release(self) -> None:
        self._sheet.release()

    def constant(self, kind: str, text: str) -> Constant | None:
        try:
            return self._values.constant(kind, text)
        except ValueError as problem:
            raise self._failure(problem) from None

    def inline(self, text: str) -> str:
        return _unescape(text)

    def fill(self, content: SheetContent) -> None:
        self._sheet.check()
        try:
            _fill(content, self.data, self._values)
        except (UnsafePartError, etree.XMLSyntaxError, ValueError) as problem:
            raise self._failure(problem) from None

    def _failure(self, problem: Exception) -> WorkbookFileError:
        return WorkbookFileError(self._path, f"the sheet {self._sheet.name!r} cannot be read: {problem}")


def stored_values(package: WorkbookPackage) -> Iterator[tuple[str, dict[tuple[int, int], Constant]]]:
    """Each worksheet with the values that its cells hold in the file, those of formulas too.

    Raises
    ------
    WorkbookFileError
        For parts that cannot be read.
    """
    with zipfile.ZipFile(BytesIO(package.content)) as archive:
        container = Container(package.path, package.content, Snapshot(0, 0, 0), archive)
        values = _Values(_shared_strings(container, package.workbook), package.workbook.date1904)
    for sheet in package.sheets:
        if sheet.entry.kind != "worksheet":
            continue
        found: dict[tuple[int, int], Constant] = {}
        for row, col, cell, _, _, text in _every_cell(sheet.data):
            value = values.constant(cell.get("t", "n"), text)
            if value is not None:
                found[row, col] = value
        sheet.release()
        yield sheet.name, found


def _fill(content: SheetContent, data: bytes, values: _Values) -> None:
    shared: dict[str, tuple[int, int, str]] = {}
    covered: list[CellRange] = []
    for row, col, cell, formula, written, value in _every_cell(data):
        if formula is None:
            constant = values.constant(cell.get("t", "n"), value)
            if constant is not None:
                content.constants.append((row, col, constant))
            continue
        found = _formula((row, col), cell, formula, written or "", shared)
        content.formulas.append(found)
        if found.area is not None:
            covered.append(found.area)
    if covered:
        content.constants = _uncovered(content.constants, covered)
        index = AreaIndex(covered)
        content.formulas = [cell for cell in content.formulas if not _marks_member(cell, index)]


def _marks_member(cell: CellFormula, covered: AreaIndex) -> bool:
    """Whether a formula is the empty mark that Excel writes into the cells of a volatile array."""
    return not cell.text and cell.mark is ArrayMark.PLAIN and covered.covers(cell.row, cell.col)


Cell = tuple[int, int, Mapping[str, str], Mapping[str, str] | None, str | None, str | None]
"""Row, column, attributes, attributes of the formula, its text, text of the value."""

_NONE: Mapping[str, str] = {}


def _every_cell(data: bytes) -> Iterator[Cell]:
    text = data.decode()
    plain = plain_cells(text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text)
    return _from_plain(plain) if plain is not None else _from_tree(data)


def _from_plain(cells: list[PlainCell]) -> Iterator[Cell]:
    for letters, digits, cell, formula, text, value, inline in cells:
        yield (
            int(digits),
            column_number(letters),
            attributes(cell) if cell else _NONE,
            None if formula is None else attributes(formula),
            text and plain_text(text),
            _unescape(plain_text(inline)) if inline is not None else value and plain_text(value),
        )


def _from_tree(data: bytes) -> Iterator[Cell]:
    row_number = 0
    for _, row in etree.iterparse(BytesIO(data), tag=_ROW, **SAFE):
        row_number = int(row.get("r", row_number + 1))
        column = 0
        for cell in row.iterchildren(_CELL):
            _, column = parse_cell(cell.get("r", "")) or (row_number, column + 1)
            formula = cell.find(_FORMULA)
            inline, value = cell.find(_INLINE), cell.find(_VALUE)
            text = _rich_text(inline) if inline is not None else None if value is None else value.text or ""
            yield (
                row_number,
                column,
                cell.attrib,
                None if formula is None else formula.attrib,
                None if formula is None else formula.text,
                text,
            )
        row.clear()


def _uncovered(
    constants: list[tuple[int, int, Constant]], areas: list[CellRange]
) -> list[tuple[int, int, Constant]]:
    """Constants without the old results of array formulas."""
    inside = {
        (row, col)
        for area in areas
        if area.area <= len(constants)
        for row in range(area.first_row, area.last_row + 1)
        for col in range(area.first_col, area.last_col + 1)
    }
    large = [area for area in areas if area.area > len(constants)]
    return [
        cell
        for cell in constants
        if cell[:2] not in inside and not any(area.contains(cell[0], cell[1]) for area in large)
    ]


def _formula(
    position: tuple[int, int],
    cell: Mapping[str, str],
    formula: Mapping[str, str],
    text: str,
    shared: dict[str, tuple[int, int, str]],
) -> CellFormula:
    kind = formula.get("t", "")
    if kind in ("array", "dataTable"):
        area = parse_range(formula.get("ref", "")) or CellRange(*position, *position)
        if kind == "dataTable":
            return CellFormula(*position, text, ArrayMark.DATA_TABLE, area)
        dynamic = cell.get("cm", "0") != "0"
        return CellFormula(*position, text, ArrayMark.DYNAMIC if dynamic else ArrayMark.ARRAY, area)
    if kind == "shared":
        index = formula.get("si", "")
        if text:
            shared[index] = (*position, text)
        elif index in shared:
            row, col, first = shared[index]
            text = shift(first, position[0] - row, position[1] - col)
    return CellFormula(*position, text)


class _Values:
    """Constants from the type and text of a cell."""

    def __init__(self, strings: list[str], date_1904: bool) -> None:
        self._strings = strings
        self._date_1904 = date_1904

    def constant(self, kind: str, text: str | None) -> Constant | None:
        if text is None:
            return None
        if kind == "n":
            return _number(text) if text else None
        if kind == "s":
            return self._string(int(text)) if text else None
        if kind == "inlineStr":
            return text
        if kind == "d":
            return _serial(text.strip().removesuffix("Z"), self._date_1904)
        if kind == "e":
            code = text.strip()
            return CellError(ErrorCode(code)) if code in _CODES else CellError(ErrorCode.VALUE, code)
        return decode(kind, text)

    def _string(self, index: int) -> str:
        if not 0 <= index < len(self._strings):
            raise ValueError(f"it refers to text number {index} of {len(self._strings)}")
        return self._strings[index]


def _serial(text: str, date_1904: bool) -> float:
    """Serial number of a date in ISO form."""
    from openpyxl.utils.datetime import MAC_EPOCH, WINDOWS_EPOCH, from_ISO8601, to_excel

    date = from_ISO8601(text)  # type: ignore[no-untyped-call]
    if date is None:
        raise ValueError(f"{text!r} is no date in ISO form")
    return float(to_excel(date, MAC_EPOCH if date_1904 else WINDOWS_EPOCH))  # type: ignore[no-untyped-call]


def _number(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"{text!r} is no number that a cell can hold")
    return number


_CODES = {code.value for code in ErrorCode}
