"""Every part of a package in one plain form, by sheet and cell, so that two packages can be compared.

Spelling that changes nothing is left out: order and compression of the members, prefixes of namespaces,
order of attributes, where a text is kept, the numbers of formats, the extent that a sheet states of itself,
and the time of saving. Everything else counts, known or not: an element or a part without a rule of its own
stands under its name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Final

from lxml import etree

from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.xmlparts import parse_small, to_utf8
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.recalc.xlsx.sheet import Sheet
from xlcalc.recalc.xlsx.sheets import read_relationships, relationships_part
from xlcalc.recalc.xlsx.sheetscan import MAIN

VALUE: Final = "value"
FORMULA: Final = "formula"
FORMAT: Final = "format"
NAME: Final = "name "
WORKBOOK: Final = "workbook"
WORDS: Final = {
    "calcPr": "settings of the calculation",
    "cols": "columns",
    "conditionalFormatting": "conditional format",
    "dataValidation": "data validation",
    "drawing": "drawing",
    "headerFooter": "header and footer",
    "hyperlink": "hyperlink",
    "legacyDrawing": "comments or controls",
    "mergeCells": "merged cells",
    "oleObjects": "embedded objects",
    "pageSetup": "page",
    "picture": "background picture",
    "rowBreaks": "page breaks",
    "sheetProtection": "protection",
    "sheetViews": "view",
    "tableParts": "tables",
    "customWorkbookViews": "custom views",
    "customSheetViews": "custom views",
    "externalReferences": "external links",
}
_RESOLVED: Final = {"fonts", "fills", "borders", "numFmts", "cellXfs", "cellStyleXfs", "dxfs"}
_SIDES: Final = (
    ("font", "fontId", "fonts"),
    ("fill", "fillId", "fills"),
    ("border", "borderId", "borders"),
)
_GROUPS: Final = {"dataValidations", "hyperlinks"}


@dataclass(frozen=True, slots=True)
class PartPlace:
    """Where something stands in a package.

    Parameters
    ----------
    sheet : str
        Name of the sheet; blank for what belongs to none.
    cells : str
        A cell or row of it as ``D14`` or ``14:14``; blank for what belongs to none.
    what : str
        ``value``, ``formula``, ``format``, or what else it is.
    """

    sheet: str
    cells: str
    what: str

    @property
    def text(self) -> str:
        where = f"{self.sheet}!{self.cells}" if self.cells else self.sheet
        return f"{where}  {self.what}" if where else self.what


Form = dict[PartPlace, str]


def plain_form(package: WorkbookPackage, without: Collection[str] = ()) -> Form:
    """Everything in a package by place.

    Parameters
    ----------
    package : WorkbookPackage
    without : collection of str
        Parts to leave out.

    Raises
    ------
    WorkbookFileError
        A part cannot be read.
    """
    return _Forms(package).all(without)


def same_parts(first: WorkbookPackage, second: WorkbookPackage) -> set[str]:
    """Parts that are equal byte by byte, where all that they refer to by number is equal too."""
    mine, others = first.container, second.container
    names = {member.filename for member in mine.members} & {member.filename for member in others.members}
    same = {name for name in names if mine.read(name) == others.read(name)}
    if [sheet.entry.part for sheet in first.sheets] != [sheet.entry.part for sheet in second.sheets]:
        return set()
    shared = (first.workbook.related("styles"), first.workbook.related("sharedStrings"))
    return same if all(name is None or name in same for name in shared) else set()


def plain_xml(element: etree._Element) -> str:
    """An element with everything in it, without prefixes, remarks and blanks between elements.

    Examples
    --------
    >>> plain_xml(etree.fromstring('<a y="2" x="1"> <b>text</b><!-- no --> </a>'))
    "{}a[x='1',y='2']({}b('text'))"
    """
    children = [child for child in element if isinstance(child.tag, str)]
    text = element.text or ""
    inside = [repr(text)] if text.strip() or (text and not children) else []
    for child in children:
        inside.append(plain_xml(child))
        if child.tail and child.tail.strip():
            inside.append(repr(child.tail))
    return _tag(element) + _attributes(element) + (f"({''.join(inside)})" if inside else "")


def _tag(element: etree._Element) -> str:
    """Its name in the vocabulary of spreadsheets; with the namespace where it is from another."""
    name = etree.QName(element)
    return name.localname if name.namespace == MAIN else f"{{{name.namespace or ''}}}{name.localname}"


def _attributes(element: etree._Element, without: Collection[str] = ()) -> str:
    found = sorted((str(name), str(value)) for name, value in element.attrib.items() if name not in without)
    return f"[{','.join(f'{name}={value!r}' for name, value in found)}]" if found else ""


def _elements(parent: etree._Element) -> list[etree._Element]:
    return [child for child in parent if isinstance(child.tag, str)]


class _Forms:
    def __init__(self, package: WorkbookPackage) -> None:
        self.package = package
        self.container: Container = package.container
        self.found: Form = {}
        self.seen: set[tuple[str, str]] = set()
        self.styles = _Styles(self._related("styles"))
        strings = self._related("sharedStrings")
        self.strings = [] if strings is None else [_string(item) for item in _elements(strings)]

    def all(self, without: Collection[str]) -> Form:
        parts = {sheet.entry.part: sheet for sheet in self.package.sheets}
        owners = self._owners()
        strings = self.package.workbook.related("sharedStrings")
        for member in self.container.members:
            name = member.filename
            if name in without or name == strings:
                continue
            if name in parts and parts[name].entry.kind == "worksheet":
                self._sheet(parts[name])
            elif name == self.package.workbook.part:
                self._workbook()
            elif name == self.package.workbook.related("styles"):
                self._style_part()
            else:
                self._other(name, owners.get(name, ""))
        return self.found

    def _add(self, sheet: str, cells: str, what: str, text: str) -> None:
        place = PartPlace(sheet, cells, what)
        self.found[place] = f"{self.found[place]} {text}" if place in self.found else text

    def _tree(self, name: str) -> etree._Element:
        try:
            return parse_small(to_utf8(self.container.read(name))[0])
        except UnsafePartError as error:
            raise self.container.fail(f"the part {name!a} is not acceptable: {error}") from None

    def _related(self, kind: str) -> etree._Element | None:
        name = self.package.workbook.related(kind)
        found = self.container.find(name) if name else None
        return None if found is None else self._tree(found)

    def _owners(self) -> dict[str, str]:
        """The sheet to which a part belongs."""
        owners: dict[str, str] = {}
        for sheet in self.package.sheets:
            waiting = [sheet.entry.part]
            while waiting:
                part = waiting.pop()
                owners.setdefault(relationships_part(part), sheet.name)
                for relationship in read_relationships(self.container, part):
                    target = None if relationship.external else self.container.find(relationship.target)
                    if target is not None and target not in owners:
                        owners[target] = sheet.name
                        waiting.append(target)
        return owners

    def _sheet(self, sheet: Sheet) -> None:
        root = self._tree(sheet.entry.part)
        self._add(sheet.name, "", "sheet", _attributes(root))
        for element in _elements(root):
            tag = _tag(element)
            if tag == "sheetData":
                for row in _elements(element):
                    self._row(sheet.name, row)
            elif tag == "cols":
                for column in _elements(element):
                    what = f"columns {column.get('min')} to {column.get('max')}"
                    self._add(sheet.name, "", what, self._styled(column, "style"))
            elif tag in _GROUPS:
                for item in _elements(element):
                    what = WORDS.get(_tag(item), _tag(item))
                    self._add(sheet.name, item.get("sqref", item.get("ref", "")), what, plain_xml(item))
            elif tag == "conditionalFormatting":
                self._add(sheet.name, element.get("sqref", ""), WORDS[tag], self._rules(element))
            elif tag != "dimension":
                self._add(sheet.name, "", WORDS.get(tag, tag), plain_xml(element))

    def _row(self, sheet: str, row: etree._Element) -> None:
        number = row.get("r", "")
        if _tag(row) != "row":
            self._add(sheet, "", "rows", plain_xml(row))
            return
        style = row.get("s") if row.get("customFormat") in ("1", "true") else None
        text = _attributes(row, ("r", "s", "spans", "customFormat"))
        if style is not None:
            text += f"\n{self.styles.text(style)}"
        if text:
            self._add(sheet, f"{number}:{number}", "height, visibility or format", text)
        for cell in _elements(row):
            if _tag(cell) == "c":
                self._cell(sheet, cell, number)
            else:
                self._add(sheet, f"{number}:{number}", "extension", plain_xml(cell))

    def _cell(self, sheet: str, cell: etree._Element, row: str) -> None:
        at, kind, style = cell.get("r", ""), cell.get("t", "n"), cell.get("s", "0")
        rest = [_attributes(cell, ("r", "s", "t")), "once more" if (sheet, at) in self.seen else ""]
        if at.lstrip(ascii_uppercase) != row:
            rest.append(f"in row {row}")
        self.seen.add((sheet, at))
        for child in _elements(cell):
            tag = _tag(child)
            if tag == "f":
                self._add(sheet, at, FORMULA, child.text or "")
                rest.append(_attributes(child))
            elif tag in ("v", "is"):
                self._add(sheet, at, VALUE, self._value(kind, child))
            else:
                rest.append(plain_xml(child))
        if style != "0":
            self._add(sheet, at, FORMAT, self.styles.text(style))
        if any(rest):
            self._add(sheet, at, "extension", " ".join(rest))

    def _value(self, kind: str, element: etree._Element) -> str:
        text = element.text or ""
        if _tag(element) == "is":
            return _string(element)
        if kind == "s":
            return _nth(self.strings, text.strip())
        if kind in ("str", "inlineStr"):
            return f'"{text}"'
        if kind == "b":
            return {"0": "FALSE", "1": "TRUE"}.get(text, text)
        return text if kind in ("n", "e") else f"{kind} {text}"

    def _styled(self, element: etree._Element, name: str) -> str:
        style = element.get(name)
        return _attributes(element, (name,)) + (f"\n{self.styles.text(style)}" if style else "")

    def _rules(self, element: etree._Element) -> str:
        texts = [_attributes(element, ("sqref",))]
        for rule in _elements(element):
            number = rule.get("dxfId")
            texts.append(plain_xml(rule) + (f" {self.styles.differential(number)}" if number else ""))
        return " ".join(texts)

    def _workbook(self) -> None:
        root = self._tree(self.package.workbook.part)
        self._add(WORKBOOK, "", "workbook", _attributes(root))
        for element in _elements(root):
            tag = _tag(element)
            if tag == "sheets":
                names = [item.get("name", "") for item in _elements(element)]
                self._add(WORKBOOK, "", "order of the sheets", ", ".join(names))
                for item, name in zip(_elements(element), names, strict=True):
                    self._add(name, "", "visibility of the sheet", item.get("state", "visible"))
            elif tag == "definedNames":
                for item in _elements(element):
                    self._name(item)
            else:
                self._add(WORKBOOK, "", WORDS.get(tag, tag), plain_xml(element))

    def _name(self, item: etree._Element) -> None:
        number = item.get("localSheetId")
        owner = WORKBOOK if number is None else _nth([sheet.name for sheet in self.package.sheets], number)
        what = f"{NAME}{item.get('name')}"
        self._add(owner, "", what, item.text or "")
        rest = _attributes(item, ("name", "localSheetId"))
        if rest:
            self._add(owner, "", f"settings of {what}", rest)

    def _style_part(self) -> None:
        self._add(WORKBOOK, "", "standard format", self.styles.text("0"))
        root = self._related("styles")
        for element in [] if root is None else _elements(root):
            tag = _tag(element)
            if tag == "cellStyles":
                for item in _elements(element):
                    text = self.styles.base(item.get("xfId", "0"))
                    self._add(WORKBOOK, "", f"named format {item.get('name')}", text)
            elif tag not in _RESOLVED:
                self._add(WORKBOOK, "", f"formats, {tag}", plain_xml(element))

    def _other(self, name: str, owner: str) -> None:
        folded = name.casefold()
        if not folded.endswith((".xml", ".rels")):
            digest = hashlib.sha256(self.container.read(name)).hexdigest()
            self._add(owner, "", f"part {name}", f"SHA-256 {digest}")
            return
        root = self._tree(name)
        for child in root.findall("{http://purl.org/dc/terms/}modified"):
            root.remove(child)
        if folded.endswith(".rels") or folded == "[content_types].xml":
            root[:] = sorted(root, key=plain_xml)
        self._add(owner, "", f"part {name}", plain_xml(root))


class _Styles:
    """What the numbers of formats stand for."""

    def __init__(self, root: etree._Element | None) -> None:
        kept = {} if root is None else {_tag(element): _elements(element) for element in _elements(root)}
        self._codes = {item.get("numFmtId"): item.get("formatCode", "") for item in kept.get("numFmts", [])}
        self._texts = {
            name: [plain_xml(item) for item in kept.get(name, [])]
            for name in ("fonts", "fills", "borders", "dxfs")
        }
        self._base = [self._described(item) for item in kept.get("cellStyleXfs", [])]
        self._formats = [
            f"{self._described(item)}\nnamed format: {self.base(item.get('xfId', '0'))}"
            for item in kept.get("cellXfs", [])
        ]

    def text(self, number: str) -> str:
        """A format of cells, one line for each of its sides."""
        return _nth(self._formats, number)

    def base(self, number: str) -> str:
        """The format behind a named one."""
        return _nth(self._base, number).replace("\n", "; ")

    def differential(self, number: str) -> str:
        """What a conditional format changes."""
        return _nth(self._texts["dxfs"], number)

    def _described(self, item: etree._Element) -> str:
        number = item.get("numFmtId", "0")
        lines = [f"number format: {self._codes.get(number, f'built-in {number}')}"]
        for side, name, kept in _SIDES:
            lines.append(f"{side}: {_nth(self._texts[kept], item.get(name, '0'))}")
        lines += [f"{_tag(child)}: {plain_xml(child)}" for child in _elements(item)]
        known = ("numFmtId", "xfId", *(name for _, name, _ in _SIDES))
        return "\n".join([*lines, f"applied: {_attributes(item, known)}"])


def _string(item: etree._Element) -> str:
    """A text; one with parts of different formats as all of its elements."""
    children = _elements(item)
    if len(children) == 1 and _tag(children[0]) == "t":
        return f'"{children[0].text or ""}"'
    return plain_xml(item)


def _nth(texts: list[str], number: str) -> str:
    whole = number.isascii() and number.isdigit() and len(number) < 10
    return texts[int(number)] if whole and int(number) < len(texts) else f"number {number}"
