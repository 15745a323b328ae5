"""The LibreOffice of this machine: where its programs are and how to run it without a window."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from xlcalc.core.errors import InputError

_PLACES = (
    "/usr/lib/libreoffice/program",
    "/usr/lib64/libreoffice/program",
    "/opt/libreoffice/program",
    "/Applications/LibreOffice.app/Contents/MacOS",
    r"C:\Program Files\LibreOffice\program",
    r"C:\Program Files (x86)\LibreOffice\program",
)
_ON_WINDOWS = sys.platform == "win32"
_SECONDS = 300
_OF_PYTHON = frozenset({"VIRTUAL_ENV", "PYTHONHOME", "PYTHONPATH", "CONDA_PREFIX", "__PYVENV_LAUNCHER__"})


@dataclass(frozen=True)
class Office:
    """A LibreOffice installation.

    Parameters
    ----------
    program : Path
        Folder of its programs.
    profile : Path, optional
        Folder of user data; the user's own unless given.
    extensions : Path, optional
        Folder whose folders are loaded as extensions for all users; the installation's own unless given.
    """

    program: Path
    profile: Path | None = None
    extensions: Path | None = None

    @property
    def soffice(self) -> Path:
        return self.program / ("soffice.com" if _ON_WINDOWS else "soffice")

    @property
    def unopkg(self) -> Path:
        return self.program / ("unopkg.com" if _ON_WINDOWS else "unopkg")

    @property
    def shared_extensions(self) -> Path:
        """Folder whose folders are loaded as extensions for all users."""
        if self.extensions is not None:
            return self.extensions
        contents = self.program.parent
        resources = contents / "Resources"
        return (resources if resources.is_dir() else contents / "share") / "extensions"

    @property
    def lock(self) -> Path:
        """File that is there while LibreOffice runs with this profile."""
        if self.profile is not None:
            return self.profile / ".lock"
        home = Path.home()
        if _ON_WINDOWS:
            settings = Path(os.environ.get("APPDATA", home)) / "LibreOffice"
        elif sys.platform == "darwin":
            settings = home / "Library" / "Application Support" / "LibreOffice"
        else:
            settings = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config") / "libreoffice"
        return settings / "4" / ".lock"

    @property
    def arguments(self) -> list[str]:
        """Arguments that select profile and extensions."""
        given = (("UserInstallation", self.profile), ("BUNDLED_EXTENSIONS", self.extensions))
        return [f"-env:{name}={path.resolve().as_uri()}" for name, path in given if path is not None]

    def convert(self, source: Path, folder: Path) -> Path:
        """Open a workbook without a window, let it calculate, and save it as .xlsx in `folder`.

        Raises
        ------
        InputError
            LibreOffice is open, and would do this in place of its user and end; or it wrote nothing: says
            what it printed.
        """
        if self.lock.is_file():
            raise InputError("LibreOffice", "open", f"closed first; if it is, delete {self.lock}")
        command = [str(self.soffice), "--headless", "--norestore", *self.arguments]
        command += ["--convert-to", "xlsx", "--outdir", str(folder), str(source)]
        done = run_office(command)
        target = folder / f"{source.stem}.xlsx"
        if not target.is_file():
            said = (done.stderr or done.stdout).strip() or "nothing"
            raise InputError("LibreOffice", f"silent about {source.name} and printed: {said}", "a conversion")
        return target


def clean_environment() -> dict[str, str]:
    """The environment without what an active Python environment adds to it.

    LibreOffice starts a Python of its own for extensions, and would be given the libraries of the other.
    """
    kept = {name: value for name, value in os.environ.items() if name not in _OF_PYTHON}
    folders = os.environ.get("PATH", os.defpath).split(os.pathsep)
    kept["PATH"] = os.pathsep.join(folder for folder in folders if not _holds_environment(Path(folder)))
    return kept


def _holds_environment(folder: Path) -> bool:
    """Whether a folder of the PATH is that of a Python environment."""
    return any((folder.parent / mark).exists() for mark in ("pyvenv.cfg", "conda-meta"))


def run_office(command: list[str], seconds: float = _SECONDS) -> subprocess.CompletedProcess[str]:
    """Run a program of LibreOffice to its end.

    Raises
    ------
    InputError
        It cannot be started, or does not end in time.
    """
    try:
        return subprocess.run(
            command,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=seconds,
            check=False,
            env=clean_environment(),
        )
    except subprocess.TimeoutExpired:
        raise InputError("LibreOffice", f"silent for {seconds:g} s", "a program that answers") from None
    except OSError as problem:
        raise InputError(
            "LibreOffice", f"{command[0]}: {problem.strerror}", "a program that starts"
        ) from None


def find_office(program: Path | None = None) -> Office:
    """The installation in `program`, or the first one found.

    Raises
    ------
    InputError
        There is none.
    """
    if program is None:
        on_path = shutil.which("soffice") or shutil.which("libreoffice")
        candidates = [Path(os.path.realpath(on_path)).parent] if on_path else []
        candidates += [Path(place) for place in _PLACES]
    else:
        candidates = [program if program.is_dir() else program.parent]
    for folder in candidates:
        office = Office(folder)
        if office.soffice.is_file():
            return office
    raise InputError(
        "LibreOffice",
        None if program is None else str(program),
        "installed, with soffice on the PATH or its program folder given by --office",
    )
