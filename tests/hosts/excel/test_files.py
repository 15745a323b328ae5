"""The files that are written for Excel, and what the check says about them."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from xlcalc import __version__, resources
from xlcalc.errors import InputError
from xlcalc.hosts.excel.add_in import ADD_IN_SHEET
from xlcalc.hosts.excel.check import check
from xlcalc.hosts.excel.install import install, install_add_in, next_steps, remove
from xlcalc.hosts.excel.macro_book import MACRO_TYPE, VBA_PART, read_configuration, vba_project
from xlcalc.hosts.excel.vba import PYTHON_MODULE
from xlcalc.hosts.headless.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

PYTHON = r"C:\python\python.exe"
CHANGED = {"[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/worksheets/sheet1.xml"}


@pytest.fixture
def template():
    return resources.template("drive_study")


@pytest.fixture
def written(tmp_path, template):
    pytest.importorskip("xlwings", reason="xlwings is not installed")
    return install(tmp_path, template, FUNCTIONS)


def members(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_every_other_part_of_the_template_is_untouched(written, template):
    before, after = members(template), members(written.book)
    assert {name for name in before if before[name] != after[name]} == CHANGED
    assert after[VBA_PART] == vba_project()
    assert MACRO_TYPE.encode() in after["[Content_Types].xml"]


def test_the_copy_opens_with_its_macros_and_configuration(written):
    book = openpyxl.load_workbook(written.book, keep_vba=True)
    assert book.sheetnames[-1] == "xlwings.conf"
    settings = read_configuration(written.book)
    assert settings is not None
    assert settings["UDF Modules"] == PYTHON_MODULE
    assert settings["Interpreter_Win"] == (sys.executable if sys.platform == "win32" else "")


def test_the_copy_is_recalculated_headlessly_like_the_template(written, template, tmp_path):
    reports = [recalculate(b, tmp_path / f"out{b.suffix}", FUNCTIONS) for b in (written.book, template)]
    assert reports[0].evaluated == reports[1].evaluated
    assert len(reports[0].issues) == len(reports[1].issues)


def test_libreoffice_opens_the_copy(office, written, tmp_path):
    shown = openpyxl.load_workbook(office.convert(written.book, tmp_path))
    assert shown.sheetnames[-1] == "xlwings.conf"


def test_a_workbook_is_never_overwritten(written, template):
    with pytest.raises(InputError, match="folder without"):
        install(written.book.parent, template, FUNCTIONS)


def test_remove_deletes_the_module_and_keeps_the_workbook(written):
    assert remove(written.book.parent) == [written.module]
    assert written.book.exists()
    assert remove(written.book.parent) == []


def test_check_names_what_is_missing(written):
    steps = {step.what: step for step in check(written.book.parent, FUNCTIONS)}
    assert steps["this is Windows"].good == (sys.platform == "win32")
    imported = next(step for what, step in steps.items() if "holds the module" in what)
    assert not imported.good
    assert "Import File" in imported.advice
    written.module.write_text("old", encoding="cp1252")
    stale = next(s for s in check(written.book.parent, FUNCTIONS) if s.what.startswith(str(written.module)))
    assert not stale.good
    assert all(step.advice for step in steps.values() if not step.good)


def test_steps_name_the_files(written):
    text = " ".join(next_steps(written))
    assert written.book.name in text
    assert written.module.name in text


@pytest.fixture
def add_in(tmp_path):
    pytest.importorskip("xlwings", reason="xlwings is not installed")
    return install_add_in(tmp_path / "add_in", FUNCTIONS, PYTHON)


def test_add_in_is_the_one_xlwings_ships_but_for_configuration_and_names(add_in):
    import xlwings

    shipped = members(Path(xlwings.__file__).parent / "quickstart_addin.xlam")
    ours = members(add_in.book)
    assert list(ours) == list(shipped)
    assert {name for name in ours if ours[name] != shipped[name]} == {
        "xl/workbook.xml",
        "xl/worksheets/sheet1.xml",
        "docProps/core.xml",
    }
    assert b"<dc:title>xlcalc<" in ours["docProps/core.xml"]
    assert b"C:\\Users" not in ours["xl/workbook.xml"]
    assert b"addin.macroEnabled" in ours["[Content_Types].xml"]


def test_add_in_is_configured_under_the_name_its_code_looks_for(add_in):
    """The name of the project is a constant in the VBA code, which xlwings also ships as text."""
    import xlwings

    code = (Path(xlwings.__file__).parent / "xlwings_custom_addin.bas").read_text(encoding="utf-8")
    name = code.partition('PROJECT_NAME As String = "')[2].partition('"')[0]
    assert f"{name}.conf" == ADD_IN_SHEET
    settings = read_configuration(add_in.book, ADD_IN_SHEET)
    assert settings is not None
    assert settings["UDF Modules"] == PYTHON_MODULE
    assert settings["Interpreter_Win"] == PYTHON
    assert not settings["PYTHONPATH"]


@pytest.mark.skipif(sys.platform == "win32", reason="this Python is the one Excel starts")
def test_add_in_without_a_python_for_windows_is_refused(tmp_path):
    with pytest.raises(InputError, match="--python is missing"):
        install_add_in(tmp_path, FUNCTIONS)


def test_libreoffice_opens_the_add_in_file(office, add_in, tmp_path):
    """Under the kind of a workbook with macros: LibreOffice has no filter for add-ins of Excel."""
    copy = tmp_path / "copy.xlsm"
    with zipfile.ZipFile(copy, "w") as archive:
        for name, data in members(add_in.book).items():
            archive.writestr(name, data.replace(b"addin.macroEnabled", b"sheet.macroEnabled"))
    assert openpyxl.load_workbook(office.convert(copy, tmp_path)).sheetnames == [ADD_IN_SHEET]


def test_check_of_an_add_in_folder_asks_for_the_import_alone(add_in):
    steps = {step.what: step for step in check(add_in.book.parent, FUNCTIONS)}
    assert steps[f"{add_in.module} is of version {__version__}"].good
    assert steps[f"xlcalc.xlam has a sheet {ADD_IN_SHEET} naming {PYTHON_MODULE}"].good
    imported = steps["xlcalc.xlam holds the module xlcalc_functions"]
    assert not imported.good
    assert add_in.module.name in imported.advice
    assert not [what for what in steps if ".xlsm" in what]


def test_steps_of_the_add_in_name_its_files_and_end_with_the_check(add_in):
    steps = next_steps(add_in, PYTHON)
    assert any(add_in.module.name in text for text in steps)
    assert any("Browse" in text and add_in.book.name in text for text in steps)
    assert "host check excel" in steps[-1]
    assert not any("xlwings.conf" in text for text in steps)


def test_remove_takes_the_add_in(add_in):
    assert sorted(remove(add_in.book.parent)) == sorted([add_in.book, add_in.module])


def test_folder_that_cannot_be_made_is_named(tmp_path, template):
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match=r"--folder is .*file: "):
        install(tmp_path / "file", template, FUNCTIONS)
    with pytest.raises(InputError, match="a folder that exists"):
        check(tmp_path / "nowhere", FUNCTIONS)
