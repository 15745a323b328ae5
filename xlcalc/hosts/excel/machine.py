"""What is known about a PC before Excel is started: where Excel is, its add-ins, how the last start ended."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path, PureWindowsPath

from xlcalc.hosts.excel.serve import log_file
from xlcalc.hosts.excel.vba import ADD_IN_FILE

_APPLICATION = r"SOFTWARE\Microsoft\Windows\CurrentVersion\App Paths\excel.exe"
_OPTIONS = r"Software\Microsoft\Office\{}\Excel\Options"
_VERSIONS = ("16.0", "15.0", "14.0")


@dataclass(frozen=True, kw_only=True)
class Machine:
    """A PC on which the functions are to work in Excel.

    Parameters
    ----------
    windows : bool
        Whether it is one with Windows.
    code_page : str
        In what programs of the kind of Excel's VBA write paths.
    excel : str
        Path of Excel, empty where there is none.
    add_ins : tuple of str
        Where Excel looks for our add-in, as its options say.
    last_start : str
        The last line that a start of Python by Excel left; empty where it went well.
    """

    windows: bool
    code_page: str = "cp1252"
    excel: str = ""
    add_ins: tuple[str, ...] = ()
    last_start: str = ""

    @classmethod
    def this(cls) -> Machine:
        """The PC on which this runs."""
        if sys.platform != "win32":
            return cls(windows=False, last_start=last_problem(log_file()))
        import ctypes

        return cls(
            windows=True,
            code_page=f"cp{ctypes.windll.kernel32.GetACP()}",
            excel=_excel(),
            add_ins=_add_ins(),
            last_start=last_problem(log_file()),
        )


def last_problem(log: Path) -> str:
    """The last line of a start that failed, empty for one that went well or for none."""
    try:
        lines = log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
    except OSError:
        return ""
    failed = any(line.startswith(("Traceback", "The start took")) for line in lines)
    return lines[-1] if failed else ""


def add_in_of(option: str) -> str:
    r"""Path of our add-in in an entry of Excel's options, empty for other entries.

    Examples
    --------
    >>> add_in_of(r'/R "C:\add ins\xlcalc.xlam"'), add_in_of("/A AnalysisToolPak")
    ('C:\\add ins\\xlcalc.xlam', '')
    """
    path = option.removeprefix("/R").strip().strip('"')
    return path if PureWindowsPath(path).name.lower() == ADD_IN_FILE else ""


def _excel() -> str:
    if sys.platform == "win32":
        import winreg

        for root in (winreg.HKEY_CURRENT_USER, winreg.HKEY_LOCAL_MACHINE):
            try:
                return str(winreg.QueryValue(root, _APPLICATION))
            except OSError:
                continue
    return ""


def _add_ins() -> tuple[str, ...]:
    found: list[str] = []
    if sys.platform == "win32":
        import winreg

        for version in _VERSIONS:
            try:
                with winreg.OpenKey(winreg.HKEY_CURRENT_USER, _OPTIONS.format(version)) as key:
                    count = winreg.QueryInfoKey(key)[1]
                    values = [winreg.EnumValue(key, n) for n in range(count)]
            except OSError:
                continue
            opened = (str(value) for name, value, _ in values if name.startswith("OPEN"))
            found += [path for option in opened if (path := add_in_of(option))]
    return tuple(found)
