"""Workbooks changed at random, still XML: refused with a reason, or patched with only values changed."""

from __future__ import annotations

import copy
import os
import random
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from lxml import etree

from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.xlsx.package import SheetPatch, WorkbookPackage
from xlcalc.recalc.xlsx.sheet import Sheet

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
PER_BOOK = int(os.environ.get("XLCALC_MUTATIONS", "100")) // 5
_TEXTS = [
    "0",
    "-1",
    "A1",
    "B2:C3",
    "A1:XFD1048576",
    "s",
    "str",
    "array",
    "99999999999",
    "",
    "it's >",
    "XFE1",
    "dataTable",
]
_NAMES = ["r", "s", "t", "cm", "ref", "si", "spans"]
_TAGS = [f"{{{MAIN}}}c", f"{{{MAIN}}}f", f"{{{MAIN}}}row", "{urn:other}c", "c"]


def _mutate(root: etree._Element, source: random.Random) -> None:
    elements = [element for element in root.iter() if isinstance(element.tag, str)]
    element = source.choice(elements)
    parent = element.getparent()
    match source.randrange(7):
        case 0 if parent is not None:
            parent.remove(element)
        case 1 if parent is not None:
            parent.insert(source.randrange(len(parent) + 1), copy.deepcopy(element))
        case 2 if element.attrib:
            element.set(source.choice(list(element.attrib)), source.choice(_TEXTS))
        case 3:
            element.insert(0, source.choice([etree.Comment("<v>1</v>"), etree.PI("x", "<f>y</f>")]))
        case 4:
            element.text = source.choice(["&<>", "nan", "1e999", "_x000D_", " "])
        case 5:
            element.set(source.choice(_NAMES), source.choice(_TEXTS))
        case 6:
            element.tag = source.choice(_TAGS)


def _mutated_copy(original: Path, target: Path, source: random.Random) -> None:
    with zipfile.ZipFile(original) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        parts = [name for name in old.namelist() if name.endswith((".xml", ".rels"))]
        victim = source.choice(
            [name for name in parts if "sheet" in name or "workbook" in name or "Types" in name]
        )
        for name in old.namelist():
            content = old.read(name)
            if name == victim:
                root = etree.fromstring(content)
                for _ in range(source.choice((1, 1, 2, 5, 15))):
                    _mutate(root, source)
                encoding = source.choice(("UTF-8", "UTF-8", "UTF-16"))
                content = etree.tostring(root, xml_declaration=True, encoding=encoding)
            new.writestr(name, content)


def _new_values(sheet: Sheet, source: random.Random) -> SheetPatch:
    cells = {cell.position for cell in sheet.formulas if source.random() < 0.7}
    for cell in sheet.formulas:
        if cell.kind == "array" and cell.ref is not None and cell.ref.area < 100:
            area = cell.ref
            cells |= {
                (row, col)
                for row in range(area.first_row, area.last_row + 1)
                for col in range(area.first_col, area.last_col + 1)
            }
    return SheetPatch({cell: source.choice([1.5, "x & y", True, None, 3.0]) for cell in cells})


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_mutated_workbook_is_refused_or_patched_soundly(
    corpus_book: Path, tmp_path: Path, differences: Callable
) -> None:
    source = random.Random(corpus_book.name)
    mutant, target = tmp_path / f"mutant{corpus_book.suffix}", tmp_path / f"out{corpus_book.suffix}"
    saved = 0
    for _ in range(PER_BOOK):
        _mutated_copy(corpus_book, mutant, source)
        try:
            package = WorkbookPackage.open(mutant)
            patches = {sheet.name: _new_values(sheet, source) for sheet in package.sheets if sheet.formulas}
            package.save(target, patches, stamp="s", reasons=[] if source.random() < 0.3 else None)
        except (WorkbookFileError, InputError):
            continue
        saved += 1
        WorkbookPackage.open(target)
        with zipfile.ZipFile(mutant) as before, zipfile.ZipFile(target) as after:
            for sheet in package.sheets:
                if sheet.formulas and all(cell.kind != "array" for cell in sheet.formulas):
                    differences(before.read(sheet.entry.part), after.read(sheet.entry.part))
    assert saved > PER_BOOK // 10
