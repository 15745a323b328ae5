"""The files that are written for Excel: untouched where they should be, and the same functions in them."""

from __future__ import annotations

import sys
import zipfile

import openpyxl
import pytest
from lxml import etree

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.hosts.excel.install import (
    import_steps,
    install,
    install_add_in,
    next_steps,
    remove,
    write_modules,
)
from xlcalc.hosts.excel.macro_book import ADD_IN_TYPE, MACRO_BOOK_TYPE, VBA_PART, read_configuration
from xlcalc.hosts.excel.vba import CONFIGURATION_SHEET, vba_modules
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

PYTHON = r"C:\python\python.exe"
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
CHANGED = {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels"}


@pytest.fixture(scope="module")
def template():
    return resources.template("drive_study")


@pytest.fixture(scope="module")
def written(tmp_path_factory, template):
    return install(tmp_path_factory.mktemp("book"), template, FUNCTIONS)


@pytest.fixture(scope="module")
def add_in(tmp_path_factory):
    return install_add_in(tmp_path_factory.mktemp("add_in") / "new", FUNCTIONS, PYTHON)


def members(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def without_code_names(data):
    root = etree.fromstring(data)
    for properties in root.iter(f"{MAIN}sheetPr"):
        properties.attrib.pop("codeName", None)
        if not properties.attrib and not len(properties):
            root.remove(properties)
    return etree.tostring(root, method="c14n")


def test_every_other_part_of_the_template_is_untouched(written, template):
    before, after = members(template), members(written)
    different = {name for name in before if before[name] != after[name]}
    sheets = {name for name in different if name.startswith("xl/worksheets/")}
    assert different == CHANGED | sheets
    assert all(without_code_names(before[name]) == without_code_names(after[name]) for name in sheets)
    assert MACRO_BOOK_TYPE.encode() in after["[Content_Types].xml"]


def test_every_sheet_has_a_module_of_its_code_name(written):
    """Excel pairs them by code name (ECMA-376 part 1, 18.3.1.82 and 18.2.28)."""
    import io

    import olefile

    parts = members(written)
    names = [
        properties.get("codeName")
        for name, data in parts.items()
        if name.startswith("xl/worksheets/") and name.endswith(".xml")
        for properties in etree.fromstring(data).iter(f"{MAIN}sheetPr")
    ]
    project = olefile.OleFileIO(io.BytesIO(parts[VBA_PART])).openstream("PROJECT").read().decode("cp1252")
    documents = [line[9:].split("/")[0] for line in project.splitlines() if line.startswith("Document=")]
    assert len(names) == len(openpyxl.load_workbook(written, read_only=True).sheetnames)
    assert sorted(documents) == sorted(["ThisWorkbook", *names])
    assert b'codeName="ThisWorkbook"' in parts["xl/workbook.xml"]


def test_the_copy_opens_with_its_macros_and_configuration(written):
    book = openpyxl.load_workbook(written, keep_vba=True)
    assert book.sheetnames[-1] == CONFIGURATION_SHEET
    assert read_configuration(written) == {
        "Interpreter_Win": sys.executable if sys.platform == "win32" else ""
    }


def test_the_copy_is_recalculated_headlessly_like_the_template(written, template, tmp_path):
    reports = [recalculate(b, tmp_path / f"out{b.suffix}", FUNCTIONS) for b in (written, template)]
    assert reports[0].evaluated == reports[1].evaluated
    assert len(reports[0].issues) == len(reports[1].issues)
    assert members(tmp_path / "out.xlsm")[VBA_PART] == members(written)[VBA_PART]


def test_libreoffice_finds_the_modules_in_the_copy(calc, written):
    """The editor's view of them: LibreOffice leaves the attributes out."""
    calc.open(str(written), True, False)
    try:
        found = calc.modules()
    finally:
        calc.close()
    for name, text in vba_modules(FUNCTIONS).items():
        lines = [line for line in text.split("\r\n") if not line.startswith("Attribute ")]
        assert "\n".join(lines).strip() in found[name].replace("\r\n", "\n")


def test_a_workbook_is_never_overwritten(written, template):
    with pytest.raises(InputError, match="folder without"):
        install(written.parent, template, FUNCTIONS)


def test_remove_deletes_the_modules_and_keeps_the_workbook(tmp_path, template):
    book = install(tmp_path, template, FUNCTIONS)
    modules = write_modules(tmp_path, FUNCTIONS)
    assert sorted(path.stem for path in modules.iterdir()) == sorted(vba_modules(FUNCTIONS))
    assert len(remove(tmp_path)) == len(vba_modules(FUNCTIONS))
    assert list(tmp_path.iterdir()) == [book]
    assert remove(tmp_path) == []


def test_modules_of_somebody_else_are_not_overwritten(tmp_path):
    (tmp_path / "xlcalc_modules").mkdir()
    (tmp_path / "xlcalc_modules" / "xlcalc_calls.bas").write_text("mine", encoding="ascii")
    with pytest.raises(InputError, match="folder without xlcalc_modules"):
        write_modules(tmp_path, FUNCTIONS)
    assert remove(tmp_path) == []


def test_steps_name_the_files(written, add_in, tmp_path):
    assert written.name in " ".join(next_steps(written))
    steps = next_steps(add_in, PYTHON)
    assert any("Browse" in text and add_in.name in text for text in steps)
    assert not any(CONFIGURATION_SHEET in text for text in steps)
    assert str(tmp_path) in " ".join(import_steps(tmp_path))


def test_add_in_is_a_hidden_workbook_with_its_python(add_in):
    parts = members(add_in)
    assert ADD_IN_TYPE.encode() in parts["[Content_Types].xml"]
    assert read_configuration(add_in) == {"Interpreter_Win": PYTHON}
    assert b">xlcalc</dc:title>" in parts["docProps/core.xml"]


@pytest.mark.skipif(sys.platform == "win32", reason="this Python is the one Excel starts")
def test_add_in_without_a_python_for_windows_is_refused(tmp_path):
    with pytest.raises(InputError, match="--python is missing"):
        install_add_in(tmp_path, FUNCTIONS)


def test_remove_takes_the_add_in(tmp_path):
    add_in = install_add_in(tmp_path, FUNCTIONS, PYTHON)
    assert remove(tmp_path) == [add_in]


def test_folder_that_cannot_be_made_is_named(tmp_path, template):
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match=r"--folder is .*file: "):
        install(tmp_path / "file", template, FUNCTIONS)
