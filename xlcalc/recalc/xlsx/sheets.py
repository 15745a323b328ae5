"""The workbook part: which sheets there are, where their parts lie, and the settings that touch values."""

from __future__ import annotations

import posixpath
from dataclasses import dataclass
from urllib.parse import unquote

from lxml import etree

from xlcalc.files.errors import UnsafePartError, WorkbookFileError
from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.xmlparts import local_name, parse_small, to_utf8
from xlcalc.recalc.xlsx.sheetscan import MAIN

RELATIONSHIPS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
CONTENT_TYPES_PART = "[Content_Types].xml"
_SIGNATURE_TYPE = "/digital-signature/"
_SHEET_KINDS = {
    "worksheet": "worksheet",
    "chartsheet": "chartsheet",
    "dialogsheet": "dialogsheet",
    "xlMacrosheet": "macrosheet",
    "xlIntlMacrosheet": "macrosheet",
}


@dataclass(frozen=True)
class Relationship:
    """One entry of a relationships part; ``target`` is a part name without a leading slash."""

    id: str
    kind: str
    target: str
    external: bool


@dataclass(frozen=True)
class SheetEntry:
    """One tab of the workbook.

    Parameters
    ----------
    name : str
        Name on the tab.
    part : str
        Name of its part in the package.
    state : str
        ``visible``, ``hidden`` or ``veryHidden``.
    kind : str
        ``worksheet``, ``chartsheet``, ``dialogsheet`` or ``macrosheet``; only worksheets are recalculated.
    """

    name: str
    part: str
    state: str
    kind: str


@dataclass(frozen=True)
class WorkbookPart:
    """Content of the workbook part.

    Parameters
    ----------
    part, rels_part : str
        Names of the workbook part and of its relationships part.
    sheets : tuple of SheetEntry
        In the order of the tabs.
    date1904 : bool
        Dates are counted from 1904.
    macro_enabled : bool
        The package may hold macros.
    iterative : bool
        Circular references are meant to be iterated.
    precision_as_displayed : bool
        Values are rounded to what the cell shows.
    relationships : tuple of Relationship
        All relationships of the workbook part.
    """

    part: str
    rels_part: str
    sheets: tuple[SheetEntry, ...]
    date1904: bool
    macro_enabled: bool
    iterative: bool
    precision_as_displayed: bool
    relationships: tuple[Relationship, ...]

    def related(self, kind: str) -> str | None:
        """Part name of the first inner relationship of a kind, such as ``sharedStrings``."""
        for relationship in self.relationships:
            if relationship.kind == kind and not relationship.external:
                return relationship.target
        return None


def relationships_part(part: str) -> str:
    """Name of the part that holds the relationships of a part.

    Examples
    --------
    >>> relationships_part("xl/workbook.xml")
    'xl/_rels/workbook.xml.rels'
    """
    folder, _, name = part.rpartition("/")
    return f"{folder}/_rels/{name}.rels" if folder else f"_rels/{name}.rels"


def read_workbook_part(container: Container) -> WorkbookPart:
    """Find the workbook part and its sheets.

    Raises
    ------
    WorkbookFileError
        For a package that is no workbook, is of a variant that cannot be patched, or carries a signature.
    """
    _refuse_signed(container)
    part, content_type = _workbook_part(container)
    root = _tree(container, part)
    namespace = etree.QName(root).namespace or ""
    if namespace != MAIN or local_name(root) != "workbook":
        raise container.fail("its main part is not that of a workbook")
    relationships = read_relationships(container, part)
    settings = {local_name(child): child for child in root}
    properties, calculation = settings.get("workbookPr"), settings.get("calcPr")
    return WorkbookPart(
        part=part,
        rels_part=container.find(relationships_part(part)) or relationships_part(part),
        sheets=_sheets(container, root, relationships),
        date1904=_flag(properties, "date1904"),
        macro_enabled="macroEnabled" in content_type,
        iterative=_flag(calculation, "iterate"),
        precision_as_displayed=not _flag(calculation, "fullPrecision", default=True),
        relationships=relationships,
    )


def read_relationships(container: Container, part: str) -> tuple[Relationship, ...]:
    """Relationships of a part (of the package itself for an empty name); none where it has no such part."""
    name = container.find(relationships_part(part)) if part else container.find("_rels/.rels")
    if name is None:
        return ()
    found = []
    for element in _tree(container, name):
        if local_name(element) != "Relationship":
            continue
        external = element.get("TargetMode") == "External"
        target = element.get("Target", "")
        found.append(
            Relationship(
                id=element.get("Id", ""),
                kind=element.get("Type", "").rpartition("/")[2],
                target=target if external else _resolve(container, part, target),
                external=external,
            )
        )
        if _SIGNATURE_TYPE in element.get("Type", ""):
            raise _signed(container)
    return tuple(found)


def _sheets(
    container: Container, root: etree._Element, relationships: tuple[Relationship, ...]
) -> tuple[SheetEntry, ...]:
    by_id = {relationship.id: relationship for relationship in relationships}
    entries: list[SheetEntry] = []
    for element in root.iterfind(f"{{{MAIN}}}sheets/{{{MAIN}}}sheet"):
        name = element.get("name", "")
        relationship = by_id.get(element.get(f"{{{RELATIONSHIPS}}}id", ""))
        if relationship is None or relationship.external:
            raise container.fail(f"the sheet {name!r} has no part in the package")
        part = container.find(relationship.target)
        if part is None:
            raise container.fail(f"the part of the sheet {name!r} is missing")
        kind = _SHEET_KINDS.get(relationship.kind)
        if kind is None:
            raise container.fail(f"the sheet {name!r} is of a kind that is not known")
        entries.append(SheetEntry(name, part, element.get("state", "visible"), kind))
    if not entries:
        raise container.fail("the workbook has no sheets")
    for attribute, words in (("name", "name"), ("part", "part")):
        if len({getattr(entry, attribute).casefold() for entry in entries}) != len(entries):
            raise container.fail(f"two of its sheets have the same {words}")
    return tuple(entries)


def _workbook_part(container: Container) -> tuple[str, str]:
    if container.find("mimetype") is not None:
        raise container.fail("this is an OpenDocument file; save it as .xlsx first")
    types_name = container.find(CONTENT_TYPES_PART)
    if types_name is None:
        raise container.fail("this is a zip file, but not a workbook (.xlsx or .xlsm)")
    documents = [
        item
        for item in read_relationships(container, "")
        if item.kind == "officeDocument" and not item.external
    ]
    part = container.find(documents[0].target) if documents else None
    if part is None:
        raise container.fail("the workbook part is missing")
    content_type = _content_type(container, types_name, part)
    if "binary" in content_type or part.casefold().endswith(".bin"):
        raise container.fail("this is a binary workbook (.xlsb); save it as .xlsx first")
    if "spreadsheetml" not in content_type and "ms-excel" not in content_type:
        raise container.fail("this is a document of another kind, not a workbook")
    return part, content_type


def _content_type(container: Container, types_name: str, part: str) -> str:
    default = ""
    extension = part.rpartition(".")[2].casefold()
    for element in _tree(container, types_name):
        kind = local_name(element)
        if kind == "Override" and element.get("PartName", "").lstrip("/").casefold() == part.casefold():
            return element.get("ContentType", "")
        if kind == "Default" and element.get("Extension", "").casefold() == extension:
            default = element.get("ContentType", "")
    return default


def _refuse_signed(container: Container) -> None:
    if any(member.filename.casefold().startswith("_xmlsignatures/") for member in container.members):
        raise _signed(container)


def _signed(container: Container) -> WorkbookFileError:
    return container.fail("the workbook carries a digital signature, which a recalculation would break")


def _resolve(container: Container, part: str, target: str) -> str:
    target = unquote(target.partition("#")[0])
    joined = target.lstrip("/") if target.startswith("/") else posixpath.join(posixpath.dirname(part), target)
    resolved = posixpath.normpath(joined)
    if resolved.startswith("..") or "\\" in resolved:
        raise container.fail(f"a relationship points outside the package ({target[:80]!a})")
    return resolved


def _tree(container: Container, name: str) -> etree._Element:
    try:
        return parse_small(to_utf8(container.read(name))[0])
    except UnsafePartError as error:
        raise container.fail(f"the part {name!a} is not acceptable: {error}") from None


def _flag(element: etree._Element | None, name: str, *, default: bool = False) -> bool:
    value = element.get(name) if element is not None else None
    return default if value is None else value.strip().lower() in ("1", "true", "on")
