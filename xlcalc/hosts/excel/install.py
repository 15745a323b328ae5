"""Files for Excel: a macro-enabled copy of a template, or an add-in, with the functions in it."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.files.writing import write_file, write_files
from xlcalc.hosts.excel.macro_book import add_in, macro_book
from xlcalc.hosts.excel.project import CODE_PAGE
from xlcalc.hosts.excel.vba import ADD_IN_FILE, INTERPRETER, MARK, vba_modules
from xlcalc.worksheet.registry import WorksheetFunction

MODULES_FOLDER = "xlcalc_modules"


def configuration(python: str | None = None) -> dict[str, str]:
    """Rows of the configuration sheet for a Python on Windows, or for this one.

    The interpreter stays empty where this is no Windows and none is given.
    """
    return {INTERPRETER: python or (sys.executable if sys.platform == "win32" else "")}


def install(
    folder: Path, template: Path, functions: Mapping[str, WorksheetFunction], python: str | None = None
) -> Path:
    """Write a workbook with the functions in it, for this Python or one on Windows.

    Raises
    ------
    InputError
        The workbook is there already, or the folder cannot be made.
    """
    book = folder / f"{template.stem}.xlsm"
    _check_free(book)
    write_file(book, [macro_book(template, configuration(python), vba_modules(functions))])
    return book


def install_add_in(
    folder: Path, functions: Mapping[str, WorksheetFunction], python: str | None = None
) -> Path:
    """Write the add-in into a folder, for this Python or one on Windows.

    Raises
    ------
    InputError
        The add-in is there already, the folder cannot be made, or this is no Windows and no Python is given:
        Excel shows no sheet of an add-in on which it could be entered later.
    """
    if not configuration(python)[INTERPRETER]:
        raise InputError("--python", None, "the path of python.exe on the Windows machine")
    target = folder / ADD_IN_FILE
    _check_free(target)
    write_file(target, [add_in(configuration(python), vba_modules(functions))])
    return target


def write_modules(folder: Path, functions: Mapping[str, WorksheetFunction]) -> Path:
    """Write the VBA modules as text, for a workbook into which they are imported by hand."""
    modules = folder / MODULES_FOLDER
    texts = {modules / f"{name}.bas": text for name, text in vba_modules(functions).items()}
    for path in texts:
        if os.path.lexists(path) and not _is_ours(path):
            raise InputError("--folder", str(folder), f"a folder without {MODULES_FOLDER}/{path.name}")
    _make(modules)
    write_files({path: [text.encode(CODE_PAGE)] for path, text in texts.items()})
    return modules


def _check_free(book: Path) -> None:
    if os.path.lexists(book):
        raise InputError("--folder", str(book.parent), f"a folder without {book.name}")
    _make(book.parent)


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise InputError("--folder", f"{folder}: {problem.strerror}", "a folder to write") from None


def next_steps(written: Path, python: str | None = None) -> list[str]:
    """What the user does in Excel, once."""
    steps = []
    if sys.platform != "win32":
        steps.append(
            f"On the Windows machine install xlcalc for {python}."
            if python
            else f"On the Windows machine install xlcalc, and enter its python.exe as {INTERPRETER} on the "
            "sheet xlcalc.conf, or begin again with --python."
        )
    steps.append("Where the file came from the internet or by mail: its properties in Explorer, Unblock.")
    if written.suffix == ".xlam":
        steps += [
            f"In Excel: File, Options, Add-ins, Go, Browse, and choose {written.name}. It stays loaded; the "
            "file must stay where it is.",
            "A workbook with the module xlcalc_functions uses its own copy: do not mix the two ways.",
        ]
    else:
        steps.append(f"Open {written.name} in Excel and enable macros.")
    return [
        *steps,
        "Press Ctrl+Alt+F9. The reason of an error: select its cell, press Alt+F8, type xlcalc_reason, Run.",
        f"Run: xlcalc host check excel in the folder of {written.name}.",
        "If Excel refuses the macros in the file: xlcalc host install excel --modules writes them as text "
        "for an import by hand.",
    ]


def import_steps(modules: Path) -> list[str]:
    """What the user does with the modules written as text."""
    return [
        "Save the workbook in Excel as .xlsm (or .xlam for an add-in).",
        f"Add a sheet named xlcalc.conf: A1 {INTERPRETER}, B1 the path of python.exe.",
        f"Press Alt+F11, then for each file in {modules}: File, Import File. Debug, Compile. Save.",
    ]


def remove(folder: Path) -> list[Path]:
    """Delete VBA modules and add-in from a folder; a workbook may hold a study and stays."""
    found = [path for path in sorted((folder / MODULES_FOLDER).glob("*.bas")) if _is_ours(path)]
    if (folder / ADD_IN_FILE).is_file():
        found.append(folder / ADD_IN_FILE)
    for path in found:
        path.unlink()
    if (folder / MODULES_FOLDER).is_dir() and not any((folder / MODULES_FOLDER).iterdir()):
        (folder / MODULES_FOLDER).rmdir()
    return found


def _is_ours(module: Path) -> bool:
    """Whether a VBA module was generated here."""
    return module.is_file() and MARK in module.read_text(encoding=CODE_PAGE, errors="replace")
