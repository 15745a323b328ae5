"""`xlcalc host check excel`: green for a sound set-up, red for each fault that is planted in it."""

from __future__ import annotations

import shutil
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from xlcalc import __version__
from xlcalc.core.errors import InputError
from xlcalc.hosts.excel.check import check
from xlcalc.hosts.excel.install import install, install_add_in
from xlcalc.hosts.excel.machine import Machine, last_problem
from xlcalc.hosts.excel.macro_book import VBA_PART, macro_book
from xlcalc.hosts.excel.project import vba_project
from xlcalc.hosts.excel.vba import ADD_IN_FILE, XLWINGS_RELEASE, library, vba_modules
from xlcalc.worksheet.catalogue import FUNCTIONS

EXCEL = r"C:\Program Files\Microsoft Office\root\Office16\EXCEL.EXE"
STORE = r"C:\Program Files\WindowsApps\Microsoft.Office.Desktop.Excel_16051\Office16\EXCEL.EXE"
SOUND = f'{{"xlcalc": "{__version__}", "xlwings": "{XLWINGS_RELEASE}", "pywin32": true, "bits": 64}}'

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the Python of the test is a script")


class SetUp:
    """A folder with a workbook, a Python that answers what it is told, and a PC with Excel."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.machine = Machine(windows=True, excel=EXCEL)
        self.python = self.make_python("python")
        self.template = folder / "template" / "study.xlsx"
        self.template.parent.mkdir()
        openpyxl.Workbook().save(self.template)
        self.book = install(folder, self.template, FUNCTIONS, str(self.python))

    def make_python(self, place: str, answer: str = SOUND) -> Path:
        """A program that answers as the asked Python would; beside it the library of xlwings."""
        python = self.folder / place / "python.exe"
        python.parent.mkdir(exist_ok=True)
        python.write_text(f"#!/bin/sh\necho '{answer}'\n", encoding="utf-8")
        python.chmod(0o755)
        (python.parent / library(64)).touch()
        return python

    def red(self) -> str:
        steps = check(self.folder, FUNCTIONS, self.machine)
        assert all(bool(step.advice) != step.good for step in steps)
        return "\n".join(f"{step.what}: {step.advice}" for step in steps if not step.good)

    def new_book(self, python: str, modules: dict[str, str] | None = None) -> None:
        modules = modules or vba_modules(FUNCTIONS)
        self.book.write_bytes(macro_book(self.template, {"Interpreter_Win": python}, modules))


@pytest.fixture
def setup(tmp_path):
    return SetUp(tmp_path)


def test_sound_set_up_is_all_green(setup):
    assert setup.red() == ""


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (SOUND.replace("true", "false"), "pywin32 is not installed"),
        (SOUND.replace(XLWINGS_RELEASE, "0.37.7"), "xlwings 0.37.7"),
        (SOUND.replace(XLWINGS_RELEASE, ""), "xlwings is not installed"),
        (SOUND.replace(f'"{__version__}"', '"0.0.9"'), "xlcalc 0.0.9"),
        ("no answer", "does not run"),
    ],
)
def test_python_without_what_it_needs(setup, answer, said):
    setup.make_python("python", answer)
    assert said in setup.red()


def test_real_python_is_asked(setup):
    setup.new_book(sys.executable)
    red = setup.red()
    assert "pywin32 is not installed" in red
    assert "does not run" not in red


def test_library_of_another_release(setup):
    (setup.python.parent / library(64)).rename(setup.python.parent / "xlwings64-0.37.7.dll")
    assert "but xlwings64-0.37.7.dll" in setup.red()
    shutil.copy(setup.python.parent / "xlwings64-0.37.7.dll", setup.folder / library(64))
    assert setup.red() == ""  # the folder above, as in a virtual environment


def test_code_of_another_version_or_library(setup):
    modules = vba_modules(FUNCTIONS)
    other = {name: text.replace(XLWINGS_RELEASE, "0.37.1") for name, text in modules.items()}
    setup.new_book(str(setup.python), other)
    red = setup.red()
    assert "code of another version in xlcalc_calls" in red
    assert "['xlwings32-0.37.1.dll', 'xlwings64-0.37.1.dll']" in red
    setup.new_book(str(setup.python), {"xlcalc_functions": modules["xlcalc_functions"]})
    assert "holds the VBA modules xlcalc_macros, xlcalc_calls, xlcalc_texts" in setup.red()


def test_code_that_the_editor_has_spelled_anew_is_accepted(setup):
    """Excel keeps what is in its own case and spacing; attributes are not shown in the editor."""
    spelled = {name: text.replace("called As", "Called  As") for name, text in vba_modules(FUNCTIONS).items()}
    setup.new_book(str(setup.python), spelled)
    assert setup.red() == ""


def test_module_of_xlwings_beside_ours(setup):
    modules = vba_modules(FUNCTIONS)
    modules["xlwings_udfs"] = 'Attribute VB_Name = "xlwings_udfs"\r\n'
    setup.new_book(str(setup.python), modules)
    assert "every function twice" in setup.red()


def test_project_that_cannot_be_read(setup):
    with zipfile.ZipFile(setup.book) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for damaged in (b"", b"nothing", vba_project({}, [])[:3000]):
        with zipfile.ZipFile(setup.book, "w") as archive:
            for name, data in parts.items():
                archive.writestr(name, damaged if name == VBA_PART else data)
        assert setup.red()
    setup.book.write_bytes(b"no workbook")
    assert "is a workbook" in setup.red()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"windows": False}, "this is Windows"),
        ({"excel": ""}, "Excel is installed"),
        ({"excel": STORE}, "Microsoft Store"),
        ({"add_ins": (r"D:\gone\xlcalc.xlam",)}, "Excel looks for it: D:"),
        ({"last_start": "ImportError: no numpy"}, "ImportError: no numpy"),
    ],
)
def test_fault_of_the_pc(setup, changes, said):
    setup.machine = replace(setup.machine, **changes)
    assert said in setup.red()


def test_add_in_that_is_where_excel_looks_for_it(setup):
    add_in = install_add_in(setup.folder, FUNCTIONS, str(setup.python))
    setup.machine = replace(setup.machine, add_ins=(str(add_in),))
    assert setup.red() == ""
    add_in.rename(setup.folder / "moved.xlam")
    assert ADD_IN_FILE in setup.red()


@pytest.mark.parametrize(
    ("place", "code_page", "red"),
    [
        ("mit Leerzeichen", "cp1252", False),
        ("Müller", "cp1252", False),
        ("Müller", "cp1251", True),
        ("Łukasz", "cp1252", True),
        ("Łukasz", "cp1250", False),
        ("開発", "cp1252", True),
    ],
)
def test_path_that_the_code_page_cannot_spell(setup, place, code_page, red):
    setup.new_book(str(setup.make_python(place)))
    setup.machine = replace(setup.machine, code_page=code_page)
    assert ("cannot be written" in setup.red() or "not be written" in setup.red()) == red


def test_python_that_is_gone_or_from_the_store(setup):
    gone = r"C:\Users\x\AppData\Local\Microsoft\WindowsApps\python.exe"
    setup.new_book(gone)
    red = setup.red()
    assert f"the Python exists: {gone}" in red
    assert "python.org" in red
    setup.new_book("")
    assert "names a Python: none" in setup.red()


@pytest.mark.parametrize(("zone", "red"), [(3, True), (4, True), (1, False)])
def test_file_from_the_internet(setup, zone, red):
    """The mark that Windows keeps beside a file, a stream of NTFS; elsewhere a file of that name."""
    Path(f"{setup.book}:Zone.Identifier").write_text(f"[ZoneTransfer]\nZoneId={zone}\n", encoding="ascii")
    assert ("is blocked" in setup.red()) == red


def test_folder_without_a_book_or_that_is_none(tmp_path):
    assert not all(step.good for step in check(tmp_path, FUNCTIONS, Machine(windows=True, excel=EXCEL)))
    with pytest.raises(InputError, match="a folder that exists"):
        check(tmp_path / "nowhere", FUNCTIONS)


def test_log_of_a_start(tmp_path):
    log = tmp_path / "excel.log"
    assert last_problem(log) == ""
    log.write_text("xlwings server running, clsid=...\n", encoding="utf-8")
    assert last_problem(log) == ""
    log.write_text("Traceback (most recent call last):\n  ...\nImportError: no pywin32\n", encoding="utf-8")
    assert last_problem(log) == "ImportError: no pywin32"
