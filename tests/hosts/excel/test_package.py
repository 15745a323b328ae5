"""Packages with macros are held to the order and the names of the standard; faults planted in them are found.

Order of elements: ECMA-376 part 1, CT_Workbook (18.2.27) and CT_Worksheet (18.3.1.99), from memory.
Content types and relationships: ECMA-376 part 2. Names of sheets: what Excel refuses, from memory.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile

import olefile
import pytest
from lxml import etree

from xlcalc.core import resources
from xlcalc.hosts.excel.macro_book import add_in, macro_book
from xlcalc.hosts.excel.vba import vba_modules
from xlcalc.worksheet.catalogue import FUNCTIONS

WORKBOOK_ORDER = (
    "fileVersion fileSharing workbookPr workbookProtection bookViews sheets functionGroups "
    "externalReferences definedNames calcPr oleSize customWorkbookViews pivotCaches smartTagPr "
    "smartTagTypes webPublishing fileRecoveryPr webPublishObjects extLst"
).split()
WORKSHEET_ORDER = (
    "sheetPr dimension sheetViews sheetFormatPr cols sheetData sheetCalcPr sheetProtection "
    "protectedRanges scenarios autoFilter sortState dataConsolidate customSheetViews mergeCells "
    "phoneticPr conditionalFormatting dataValidations hyperlinks printOptions pageMargins pageSetup "
    "headerFooter rowBreaks colBreaks customProperties cellWatches ignoredErrors smartTags drawing "
    "legacyDrawing legacyDrawingHF picture oleObjects controls webPublishItems tableParts extLst"
).split()
MACRO_KINDS = ("sheet.macroEnabled.main+xml", "addin.macroEnabled.main+xml")


def faults(parts: dict[str, bytes]) -> list[str]:
    """What the standard does not allow."""
    trees = {n: etree.fromstring(d) for n, d in parts.items() if n.endswith((".xml", ".rels"))}
    return [*_types(parts, trees), *_relationships(parts, trees), *_orders(trees), *_names(parts, trees)]


def _types(parts, trees):
    listed = {
        e.get("PartName"): e.get("ContentType") for e in trees["[Content_Types].xml"] if e.get("PartName")
    }
    defaults = {e.get("Extension") for e in trees["[Content_Types].xml"] if e.get("Extension")}
    for part in parts:
        if (
            part != "[Content_Types].xml"
            and f"/{part}" not in listed
            and part.rpartition(".")[2] not in defaults
        ):
            yield f"{part} has no content type"
    yield from (f"{part} does not exist" for part in listed if part[1:] not in parts)
    if not listed.get("/xl/workbook.xml", "").endswith(MACRO_KINDS):
        yield "the workbook is not of a kind with macros"
    if listed.get("/xl/vbaProject.bin") != "application/vnd.ms-office.vbaProject":
        yield "the macros have no content type"


def _relationships(parts, trees):
    for name, tree in trees.items():
        if not name.endswith(".rels"):
            continue
        folder = posixpath.dirname(posixpath.dirname(name))
        identities = [e.get("Id") for e in tree]
        if len(set(identities)) != len(identities):
            yield f"{name} has an identifier twice"
        for entry in tree:
            target = entry.get("Target")
            found = (
                target[1:] if target.startswith("/") else posixpath.normpath(posixpath.join(folder, target))
            )
            if entry.get("TargetMode") != "External" and found not in parts:
                yield f"{name} names {target}, which does not exist"


def _orders(trees):
    for name, tree in trees.items():
        local = etree.QName(tree).localname
        order = {"workbook": WORKBOOK_ORDER, "worksheet": WORKSHEET_ORDER}.get(local)
        if order:
            children = [etree.QName(child).localname for child in tree if isinstance(child.tag, str)]
            known = [child for child in children if child in order]
            if known != sorted(known, key=order.index):
                yield f"{name} has its elements out of order: {children}"


def _names(parts, trees):
    sheets = [e.get("name") for e in trees["xl/workbook.xml"].iter("{*}sheet")]
    if len({name.casefold() for name in sheets}) != len(sheets):
        yield "two sheets have the same name"
    yield from (f"sheet name {n!r}" for n in sheets if len(n) > 31 or re.search(r"[\[\]:*?/\\]", n))
    codes = [e.get("codeName") for n, t in trees.items() if "/worksheets/" in n for e in t.iter("{*}sheetPr")]
    with olefile.OleFileIO(io.BytesIO(parts["xl/vbaProject.bin"])) as project:
        text = project.openstream("PROJECT").read().decode("cp1252")
        modules = {name for folder, *name in project.listdir() if folder == "VBA" for name in name}
    documents = re.findall(r"^Document=(\w+)/", text, re.M)
    if sorted(documents) != sorted(["ThisWorkbook", *map(str, codes)]):
        yield f"code names {codes} are not the modules {documents}"
    named = re.findall(r"^(?:Document|Module)=(\w+)", text, re.M)
    if set(named) != modules - {"dir", "_VBA_PROJECT"}:
        yield "the modules listed are not those that are there"


@pytest.fixture(scope="module")
def packages():
    settings, modules = {"Interpreter_Win": r"C:\python\python.exe"}, vba_modules(FUNCTIONS)
    books = {
        name: macro_book(resources.template(name), settings, modules) for name in resources.template_names()
    }
    books["add-in"] = add_in(settings, modules)
    found = {}
    for name, data in books.items():
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            found[name] = {part: archive.read(part) for part in archive.namelist()}
    return found


@pytest.mark.parametrize("name", [*resources.template_names(), "add-in"])
def test_package_follows_the_standard(packages, name):
    assert faults(packages[name]) == []


@pytest.mark.parametrize(
    ("part", "found", "planted", "said"),
    [
        ("xl/workbook.xml", rb"(<workbookPr[^>]*>)(.*)(</workbook>)", rb"\2\1\3", "out of order"),
        ("xl/workbook.xml", rb'name="xlcalc.conf"', b'name="xlcalc/conf"', "sheet name"),
        (
            "xl/workbook.xml",
            rb'name="Notes"',
            b'name="SITE"',
            "same name",
        ),
        (
            "xl/worksheets/sheet1.xml",
            rb"(<sheetPr.*?</sheetPr>)(.*)(</worksheet>)",
            rb"\2\1\3",
            "out of order",
        ),
        ("xl/worksheets/sheet1.xml", rb'codeName="Sheet1"', b'codeName="Sheet77"', "code names"),
        ("[Content_Types].xml", rb"addin|sheet\.macroEnabled", b"sheet", "kind with macros"),
        ("[Content_Types].xml", rb"<Override[^>]*vbaProject[^>]*>", b"", "no content type"),
        ("xl/_rels/workbook.xml.rels", rb"vbaProject\.bin", b"vbaproject.bin", "does not exist"),
        ("xl/_rels/workbook.xml.rels", rb'Id="rId2"', b'Id="rId1"', "twice"),
    ],
)
def test_planted_fault_is_found(packages, part, found, planted, said):
    parts = dict(packages["drive_study"])
    parts[part], count = re.subn(found, planted, parts[part], count=1, flags=re.S)
    assert count
    assert any(said in fault for fault in faults(parts))
