"""What is missing before the functions work in Excel, step by step; Excel itself is not started."""

from __future__ import annotations

import sys
import zipfile
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path

from xlcalc import __version__
from xlcalc.errors import InputError
from xlcalc.hosts.excel.add_in import ADD_IN_FILE, ADD_IN_SHEET
from xlcalc.hosts.excel.install import ADD_IN_MODULE_FILE, MODULE_FILE
from xlcalc.hosts.excel.macro_book import CONFIGURATION_SHEET, VBA_PART, read_configuration
from xlcalc.hosts.excel.vba import MODULE_NAME, PYTHON_MODULE, vba_module
from xlcalc.hosts.steps import Step
from xlcalc.worksheet.registry import WorksheetFunction

XLWINGS_VERSION = "0.37."


def check(folder: Path, functions: Mapping[str, WorksheetFunction]) -> list[Step]:
    """Look at this Python, at Excel, and at the files in a folder.

    Raises
    ------
    InputError
        There is no such folder.
    """
    if not folder.is_dir():
        raise InputError("--folder", str(folder), "a folder that exists")
    return [*_python(), _excel(), *_modules(folder, functions), *_books(folder)]


def _python() -> list[Step]:
    try:
        found = version("xlwings")
    except PackageNotFoundError:
        found = ""
    steps = [
        Step("this is Windows", sys.platform == "win32", _advice(sys.platform == "win32", _OTHER_SYSTEM)),
        Step(
            f"xlwings {found or 'is not installed'}",
            found.startswith(XLWINGS_VERSION),
            _advice(found.startswith(XLWINGS_VERSION), "run: pip install 'xlwings>=0.37,<0.38'"),
        ),
    ]
    pywin32 = find_spec("pythoncom") is not None
    return [*steps, Step("pywin32 is installed", pywin32, _advice(pywin32, "run: pip install pywin32"))]


_OTHER_SYSTEM = "Excel runs the functions on Windows only; here use: xlcalc recalc BOOK.xlsx"


def _excel() -> Step:
    registered = False
    if sys.platform == "win32":
        import winreg

        try:
            winreg.CloseKey(winreg.OpenKey(winreg.HKEY_CLASSES_ROOT, "Excel.Application"))
            registered = True
        except OSError:
            registered = False
    return Step("Excel is installed", registered, _advice(registered, "install the desktop version of Excel"))


def _modules(folder: Path, functions: Mapping[str, WorksheetFunction]) -> list[Step]:
    """The modules that are there; the one for workbooks is missed unless the folder is that of an add-in."""
    steps = []
    for name, add_in in ((MODULE_FILE, False), (ADD_IN_MODULE_FILE, True)):
        module, option = folder / name, " --add-in" if add_in else ""
        if module.is_file():
            good = module.read_bytes().decode("cp1252", "replace") == vba_module(functions, add_in=add_in)
            what = f"{module} is of version {__version__}" if good else f"{module} is of another version"
            again = (
                f"run: xlcalc host install excel{option} in an empty folder, and import the new file again"
            )
            steps.append(Step(what, good, _advice(good, again)))
    return steps or [Step(f"{folder / MODULE_FILE} is not there", False, "run: xlcalc host install excel")]


def _books(folder: Path) -> list[Step]:
    books = sorted(path for path in folder.glob("*.xlsm") if not path.name.startswith("~$"))
    add_in = folder / ADD_IN_FILE
    steps = [step for book in books for step in _book(book, CONFIGURATION_SHEET, MODULE_FILE)]
    if add_in.is_file():
        steps += _book(add_in, ADD_IN_SHEET, ADD_IN_MODULE_FILE)
    advice = "run: xlcalc host install excel, with --add-in for an add-in, or give --folder"
    return steps or [Step(f"no .xlsm and no {ADD_IN_FILE} in {folder}", False, advice)]


def _book(book: Path, sheet: str, module: str) -> list[Step]:
    try:
        with zipfile.ZipFile(book) as archive:
            project = archive.read(VBA_PART) if VBA_PART in archive.namelist() else b""
    except (OSError, zipfile.BadZipFile) as problem:
        return [Step(f"{book.name} is a workbook", False, f"{problem}; close it in Excel and try again")]
    settings = read_configuration(book, sheet) or {}
    interpreter = settings.get("Interpreter_Win", "")
    exists = Path(interpreter).is_file() if interpreter else False
    imported = f"Module={MODULE_NAME}".encode() in project
    named = PYTHON_MODULE in settings.get("UDF Modules", "")
    doubled = b"Module=xlwings_udfs" in project and imported
    name = book.name
    steps = [
        Step(f"{name} has the VBA code of xlwings", bool(project), _advice(bool(project), _COPY)),
        Step(f"{name} has a sheet {sheet} naming {PYTHON_MODULE}", named, _advice(named, _COPY)),
        Step(
            f"{name} names a Python that exists: {interpreter or 'none'}",
            exists,
            _advice(exists, f"enter Interpreter_Win on the sheet {sheet}: {sys.executable}"),
        ),
        Step(
            f"{name} holds the module {MODULE_NAME}",
            imported,
            _advice(imported, f"Alt+F11, File, Import File, {module}, save"),
        ),
    ]
    if doubled:
        steps.append(Step(f"{name} holds every function twice", False, "Alt+F11, remove xlwings_udfs, save"))
    return steps


_COPY = "start from the file that xlcalc host install excel writes"


def _advice(good: bool, text: str) -> str:
    return "" if good else text
