"""The files that are written for Excel, and what the check says about them."""

from __future__ import annotations

import sys
import zipfile

import openpyxl
import pytest

from xlcalc import resources
from xlcalc.errors import InputError
from xlcalc.hosts.excel.check import check
from xlcalc.hosts.excel.install import install, next_steps, remove
from xlcalc.hosts.excel.macro_book import MACRO_TYPE, VBA_PART, read_configuration, vba_project
from xlcalc.hosts.excel.vba import PYTHON_MODULE
from xlcalc.hosts.headless.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

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
