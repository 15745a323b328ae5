"""Files for Excel: a macro-enabled copy of a template or an add-in, and the VBA module with the functions."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import xlcalc
from xlcalc.errors import InputError
from xlcalc.files.writing import write_file
from xlcalc.hosts.excel.add_in import ADD_IN_FILE, write_add_in
from xlcalc.hosts.excel.macro_book import write_macro_book
from xlcalc.hosts.excel.vba import MARK, MODULE_NAME, PYTHON_MODULE, vba_module
from xlcalc.worksheet.registry import WorksheetFunction

MODULE_FILE = f"{MODULE_NAME}.bas"
ADD_IN_MODULE_FILE = "xlcalc_add_in.bas"


@dataclass(frozen=True)
class Written:
    """Files that were written."""

    book: Path
    module: Path


def configuration(python: str | None = None) -> dict[str, str]:
    """Rows of the configuration sheet for a Python on Windows, or for this one.

    The interpreter stays empty where this is no Windows and none is given.
    """
    root = Path(xlcalc.__file__).resolve().parent.parent
    here = sys.executable if sys.platform == "win32" else ""
    return {
        "Interpreter_Win": python or here,
        "Interpreter_Mac": sys.executable if sys.platform == "darwin" else "",
        "PYTHONPATH": "" if python or root.name == "site-packages" else str(root),
        "UDF Modules": PYTHON_MODULE,
        "Debug UDFs": "False",
        "Show Console": "False",
    }


def install(
    folder: Path, template: Path, functions: Mapping[str, WorksheetFunction], python: str | None = None
) -> Written:
    """Write the workbook and the VBA module into a folder, for this Python or one on Windows.

    Raises
    ------
    InputError
        The workbook is there already, or xlwings is missing.
    """
    written = Written(folder / f"{template.stem}.xlsm", folder / MODULE_FILE)
    _check_free(written)
    write_macro_book(template, written.book, configuration(python))
    write_file(written.module, [vba_module(functions).encode("cp1252")])
    return written


def install_add_in(
    folder: Path, functions: Mapping[str, WorksheetFunction], python: str | None = None
) -> Written:
    """Write the add-in and its VBA module into a folder, for this Python or one on Windows.

    Raises
    ------
    InputError
        The add-in is there already, xlwings is missing, or this is no Windows and no Python is given: Excel
        shows no sheet of an add-in on which it could be entered later.
    """
    if not configuration(python)["Interpreter_Win"]:
        raise InputError("--python", None, "the path of python.exe on the Windows machine")
    written = Written(folder / ADD_IN_FILE, folder / ADD_IN_MODULE_FILE)
    _check_free(written)
    write_add_in(written.book, configuration(python))
    write_file(written.module, [vba_module(functions, add_in=True).encode("cp1252")])
    return written


def _check_free(written: Written) -> None:
    book, module = written.book, written.module
    if os.path.lexists(module) and not _is_ours(module):
        raise InputError("--folder", str(module.parent), f"a folder without {module.name}")
    if os.path.lexists(book):
        raise InputError("--folder", str(book.parent), f"a folder without {book.name}")
    try:
        book.parent.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise InputError("--folder", f"{book.parent}: {problem.strerror}", "a folder to write") from None


def next_steps(written: Written, python: str | None = None) -> list[str]:
    """What the user does in Excel, once."""
    steps = []
    if sys.platform != "win32":
        steps.append(
            f"On the Windows machine install xlcalc for {python}."
            if python
            else "On the Windows machine install xlcalc, and enter its python.exe as Interpreter_Win on the "
            "sheet xlwings.conf (and clear PYTHONPATH there), or begin again with --python."
        )
    if written.book.suffix == ".xlam":
        return [*steps, *_add_in_steps(written)]
    return [
        *steps,
        f"Open {written.book.name} in Excel, enable macros (where Windows blocks it: properties, Unblock).",
        f"Press Alt+F11, then File, Import File, and choose {written.module.name}. Save.",
        "Press Ctrl+Alt+F9. The reason of an error: select its cell, press Alt+F8 and run xlcalc_reason.",
        "Do not press Import Functions of xlwings here: every function would exist twice and none works.",
        "Run: xlcalc host check excel in the folder of the workbook.",
    ]


def _add_in_steps(written: Written) -> list[str]:
    return [
        f"Open {written.book.name} in Excel and enable macros; no sheet appears (where Windows blocks it: "
        "properties, Unblock).",
        f"Press Alt+F11, choose {written.book.name} on the left, then File, Import File, and choose "
        f"{written.module.name}. Save with Ctrl+S and close Excel.",
        f"In Excel: File, Options, Add-ins, Go, Browse, and choose {written.book.name}. It stays loaded.",
        "Open any .xlsx and press Ctrl+Alt+F9. The reason of an error: select its cell, press Alt+F8, type "
        "xlcalc_reason, Run.",
        "A workbook that also holds the module xlcalc_functions uses its own copy: do not mix the two ways.",
        "Run: xlcalc host check excel in the folder of the add-in.",
    ]


def remove(folder: Path) -> list[Path]:
    """Delete VBA modules and add-in from a folder; a workbook may hold a study and stays."""
    modules = [folder / name for name in (MODULE_FILE, ADD_IN_MODULE_FILE)]
    found = [path for path in modules if _is_ours(path)]
    add_in = folder / ADD_IN_FILE
    if add_in.is_file():
        found.append(add_in)
    for path in found:
        path.unlink()
    return found


def _is_ours(module: Path) -> bool:
    """Whether a VBA module was generated here."""
    return module.is_file() and MARK in module.read_text(encoding="cp1252", errors="replace")
