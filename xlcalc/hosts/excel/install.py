"""Files for Excel: a macro-enabled copy of a template and the VBA module with the functions."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import xlcalc
from xlcalc.errors import InputError
from xlcalc.hosts.excel.macro_book import write_macro_book
from xlcalc.hosts.excel.vba import MARK, MODULE_NAME, PYTHON_MODULE, vba_module
from xlcalc.worksheet.registry import WorksheetFunction

MODULE_FILE = f"{MODULE_NAME}.bas"


@dataclass(frozen=True)
class Written:
    """Files that were written."""

    book: Path
    module: Path


def configuration() -> dict[str, str]:
    """Rows of the configuration sheet for this Python; the interpreter stays empty outside Windows."""
    root = Path(xlcalc.__file__).resolve().parent.parent
    return {
        "Interpreter_Win": sys.executable if sys.platform == "win32" else "",
        "Interpreter_Mac": sys.executable if sys.platform == "darwin" else "",
        "PYTHONPATH": "" if root.name == "site-packages" else str(root),
        "UDF Modules": PYTHON_MODULE,
        "Debug UDFs": "False",
        "Show Console": "False",
    }


def install(folder: Path, template: Path, functions: Mapping[str, WorksheetFunction]) -> Written:
    """Write the workbook and the VBA module into a folder.

    Raises
    ------
    InputError
        The workbook is there already, or xlwings is missing.
    """
    written = Written(folder / f"{template.stem}.xlsm", folder / MODULE_FILE)
    if written.book.exists():
        raise InputError("--folder", str(folder), f"a folder without {written.book.name}")
    folder.mkdir(parents=True, exist_ok=True)
    write_macro_book(template, written.book, configuration())
    written.module.write_text(vba_module(functions), encoding="cp1252", newline="")
    return written


def next_steps(written: Written) -> list[str]:
    """What the user does in Excel, once."""
    steps = []
    if sys.platform != "win32":
        steps.append(
            "On the Windows machine install xlcalc, and enter its python.exe as Interpreter_Win on the sheet "
            "xlwings.conf (and clear PYTHONPATH there)."
        )
    return [
        *steps,
        f"Open {written.book.name} in Excel, enable macros (where Windows blocks it: properties, Unblock).",
        f"Press Alt+F11, then File, Import File, and choose {written.module.name}. Save.",
        "Press Ctrl+Alt+F9. The reason of an error: select its cell, press Alt+F8 and run xlcalc_reason.",
        "Do not press Import Functions of xlwings here: every function would exist twice and none works.",
        "Run: xlcalc host check excel in the folder of the workbook.",
    ]


def remove(folder: Path) -> list[Path]:
    """Delete the VBA module from a folder; a workbook may hold a study and stays."""
    module = folder / MODULE_FILE
    if not module.is_file() or MARK not in module.read_text(encoding="cp1252"):
        return []
    module.unlink()
    return [module]
