"""The extension package: one folder, or one .oxt file of the same content."""

from __future__ import annotations

import sys
import sysconfig
import zipfile
from collections.abc import Mapping
from pathlib import Path

import xlcalc
from xlcalc.hosts.libreoffice import declarations
from xlcalc.hosts.libreoffice.component_text import component_text
from xlcalc.worksheet.registry import WorksheetFunction

PACKAGE_NAME = "xlcalc.oxt"


def import_folders() -> list[str]:
    """Folders of this Python that hold xlcalc and its dependencies, without the standard library."""
    own = str(Path(xlcalc.__file__).resolve().parent.parent)
    standard = {Path(sysconfig.get_path(name)).resolve() for name in ("stdlib", "platstdlib")}
    standard |= {folder / "lib-dynload" for folder in set(standard)}
    listed = [str(Path(entry).resolve()) for entry in sys.path if entry and Path(entry).is_dir()]
    kept = [entry for entry in listed if Path(entry) not in standard and "packages" in Path(entry).name]
    return list(dict.fromkeys([own, *kept]))


def package_files(functions: Mapping[str, WorksheetFunction], folders: list[str]) -> dict[str, str]:
    """Text of every file of the extension by its path."""
    return {
        "META-INF/manifest.xml": declarations.manifest(),
        "description.xml": declarations.description(),
        declarations.TYPES_FILE: declarations.interface(functions),
        declarations.FUNCTIONS_FILE: declarations.function_list(functions),
        declarations.JOBS_FILE: declarations.jobs(),
        declarations.MENU_FILE: declarations.menu(),
        declarations.COMPONENTS_FILE: declarations.components(),
        declarations.COMPONENT_FILE: component_text(functions, folders),
    }


def write_folder(folder: Path, functions: Mapping[str, WorksheetFunction]) -> None:
    """Write the extension as a folder."""
    for name, text in package_files(functions, import_folders()).items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")


def write_package(target: Path, functions: Mapping[str, WorksheetFunction]) -> None:
    """Write the extension as one file."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in package_files(functions, import_folders()).items():
            archive.writestr(name, text)
