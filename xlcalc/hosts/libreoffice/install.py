"""Installing the add-in: for the user through the extension manager, for everybody where the user is root."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.identifiers import EXTENSION
from xlcalc.hosts.libreoffice.package import PACKAGE_NAME, write_folder, write_package
from xlcalc.hosts.libreoffice.programs.office import Office, run_office
from xlcalc.worksheet.registry import WorksheetFunction

FOLDER_NAME = "xlcalc"
_NOT_THERE = "no such extension"


def for_everybody(office: Office) -> bool:
    """True where the add-in goes to a shared folder: given by the caller, or the user is root.

    The extension manager refuses to run as root.
    """
    return office.extensions is not None or (hasattr(os, "geteuid") and os.geteuid() == 0)


def install(office: Office, functions: Mapping[str, WorksheetFunction]) -> str:
    """Install or replace the add-in; returns its place.

    Raises
    ------
    InputError
        The extension manager refused; says what it printed.
    """
    if for_everybody(office):
        folder = office.shared_extensions / FOLDER_NAME
        try:
            shutil.rmtree(folder, ignore_errors=True)
            write_folder(folder, functions)
        except OSError as problem:
            raise InputError("add-in folder", f"{folder}: {problem.strerror}", "a folder to write") from None
        return f"for all users of this LibreOffice, in {folder}"
    with tempfile.TemporaryDirectory() as temporary:
        package = Path(temporary) / PACKAGE_NAME
        write_package(package, functions)
        _manage(office, "add", "-f", "-s", str(package))
    return "for this user, under Tools, Extension Manager"


def remove(office: Office) -> str:
    """Remove the add-in; returns the place that it had.

    Raises
    ------
    InputError
        It is not installed.
    """
    if for_everybody(office):
        folder = office.shared_extensions / FOLDER_NAME
        if not folder.is_dir():
            raise InputError("add-in", f"not in {folder.parent}", "an installed add-in")
        shutil.rmtree(folder)
        return f"from {folder.parent}"
    _manage(office, "remove", EXTENSION)
    return "from the extensions of this user"


def _manage(office: Office, *arguments: str) -> None:
    command = [str(office.unopkg), arguments[0], *office.arguments, *arguments[1:]]
    done = run_office(command)
    if done.returncode:
        said = (done.stderr or done.stdout).strip().splitlines()
        if any(_NOT_THERE in line for line in said):
            raise InputError("add-in", "not among the extensions of this user", "an installed add-in")
        raise InputError("add-in", f"refused by the extension manager: {' '.join(said[-3:])}", "an extension")
