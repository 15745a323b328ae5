"""What is missing before the functions work in Excel, step by step; Excel itself is not started."""

from __future__ import annotations

import io
import json
import re
import struct
import subprocess
import sys
import zipfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from xlcalc import __version__
from xlcalc.core.errors import InputError
from xlcalc.hosts.excel.compression import decompressed
from xlcalc.hosts.excel.machine import Machine
from xlcalc.hosts.excel.macro_book import VBA_PART, read_configuration
from xlcalc.hosts.excel.project import CODE_PAGE
from xlcalc.hosts.excel.vba import (
    ADD_IN_FILE,
    CONFIGURATION_SHEET,
    INTERPRETER,
    XLWINGS_RELEASE,
    library,
    vba_modules,
)
from xlcalc.hosts.steps import Step
from xlcalc.worksheet.registry import WorksheetFunction

PROBE_SECONDS = 60
_VERSION, _STREAM_NAME, _SOURCE_OFFSET = 0x09, 0x32, 0x31
_PROBE = """
import importlib.metadata, importlib.util, json, sys
found = {}
for name in ("xlcalc", "xlwings"):
    try:
        found[name] = importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        found[name] = ""
found["pywin32"] = importlib.util.find_spec("pythoncom") is not None
found["bits"] = 64 if sys.maxsize > 2**32 else 32
print(json.dumps(found))
"""
_AGAIN = "begin again with the file that xlcalc host install excel writes"
_OTHER_SYSTEM = "Excel runs the functions on Windows only; here use: xlcalc recalc BOOK.xlsx"


def check(
    folder: Path, functions: Mapping[str, WorksheetFunction], machine: Machine | None = None
) -> list[Step]:
    """Look at Excel, at the files in a folder, and at the Python that they name.

    Parameters
    ----------
    folder : Path
        Where the workbook with macros or the add-in lies.
    functions : mapping of str to WorksheetFunction
        What the files should offer.
    machine : Machine, optional
        What is known about the PC; by default it is looked up.

    Raises
    ------
    InputError
        There is no such folder.
    """
    if not folder.is_dir():
        raise InputError("--folder", str(folder), "a folder that exists")
    machine = machine or Machine.this()
    books = sorted(path for path in folder.glob("*.xlsm") if not path.name.startswith("~$"))
    books += [folder / ADD_IN_FILE] if (folder / ADD_IN_FILE).is_file() else []
    steps = [*_excel(machine), *_add_in_places(machine)]
    interpreters = dict.fromkeys(i for book in books if (i := _interpreter(book)))
    steps += [step for book in books for step in _book(book, functions)]
    steps += [step for interpreter in interpreters for step in _python(interpreter, machine)]
    if not books:
        advice = "run: xlcalc host install excel, with --add-in for an add-in, or give --folder"
        steps.append(Step(f"no .xlsm and no {ADD_IN_FILE} in {folder}", False, advice))
    if machine.last_start:
        what = f"the last start of Python by Excel failed: {machine.last_start}"
        steps.append(Step(what, False, "mend it, then run the macro xlcalc_restart in Excel"))
    return steps


def _step(what: str, good: bool, advice: str) -> Step:
    return Step(what, good, "" if good else advice)


def _excel(machine: Machine) -> Iterator[Step]:
    yield _step("this is Windows", machine.windows, _OTHER_SYSTEM)
    where = f": {machine.excel}" if machine.excel else ""
    yield _step(f"Excel is installed{where}", bool(machine.excel), "install the desktop version of Excel")
    if machine.excel:
        store = "windowsapps" in machine.excel.lower()
        what = (
            "Excel comes from the Microsoft Store" if store else "Excel is not the one of the Microsoft Store"
        )
        advice = "it cannot start Python: install Office from the Office setup in place of the Store version"
        yield _step(what, not store, advice)


def _add_in_places(machine: Machine) -> Iterator[Step]:
    """Where Excel looks for the add-in that was chosen in its options."""
    for place in machine.add_ins:
        there = Path(place).is_file()
        advice = f"put {ADD_IN_FILE} back, or choose its new place in File, Options, Add-ins, Go, Browse"
        yield _step(f"the add-in is where Excel looks for it: {place}", there, advice)


def _interpreter(book: Path) -> str:
    try:
        return (read_configuration(book) or {}).get(INTERPRETER, "")
    except (OSError, zipfile.BadZipFile, KeyError, ValueError):
        return ""


def _book(book: Path, functions: Mapping[str, WorksheetFunction]) -> Iterator[Step]:
    name = book.name
    try:
        with zipfile.ZipFile(book) as archive:
            project = archive.read(VBA_PART) if VBA_PART in archive.namelist() else b""
    except (OSError, zipfile.BadZipFile) as problem:
        yield Step(f"{name} is a workbook", False, f"{problem}; close it in Excel and try again")
        return
    blocked = _blocked(book)
    what = f"{name} is blocked, for it came from the internet" if blocked else f"{name} is not blocked"
    yield _step(what, not blocked, "Explorer, Properties of the file, Unblock; or put it in a trusted place")
    interpreter = _interpreter(book)
    yield _step(
        f"{name} has a sheet {CONFIGURATION_SHEET} that names a Python: {interpreter or 'none'}",
        bool(interpreter),
        f"enter {INTERPRETER} on the sheet {CONFIGURATION_SHEET}: {sys.executable}",
    )
    try:
        found = _modules(project)
    except ValueError as problem:
        yield Step(f"{name} has VBA code that can be read", False, f"{problem}; {_AGAIN}")
        return
    yield from _code(name, found, functions)


def _code(name: str, found: Mapping[str, str], functions: Mapping[str, WorksheetFunction]) -> Iterator[Step]:
    """Whether the VBA code of a book is that of this version, but for how Excel spells it."""
    wanted = vba_modules(functions)
    missing = [module for module in wanted if module not in found]
    what = f"{name} holds the VBA modules {', '.join(missing or wanted)}"
    yield _step(what, not missing, _AGAIN)
    if missing:
        return
    other = [module for module in wanted if _plain(found[module]) != _plain(wanted[module])]
    what = f"its code is that of version {__version__}"
    yield _step(
        what if not other else f"{name} has code of another version in {', '.join(other)}", not other, _AGAIN
    )
    if "xlwings_udfs" in found:
        yield Step(f"{name} holds every function twice", False, "Alt+F11, remove xlwings_udfs, save")
    named = set(re.findall(r"xlwings\d\d-[\w.]+?\.dll", "".join(found.values())))
    good = named == {library(64), library(32)}
    what = (
        f"{name} names the library of xlwings {XLWINGS_RELEASE}" if good else f"{name} names {sorted(named)}"
    )
    yield _step(what, good, _AGAIN)


def _plain(text: str) -> str:
    """Code as the editor of Excel may write it again: without attributes, in other case and spacing."""
    lines = (line for line in text.splitlines() if not line.startswith("Attribute "))
    return re.sub(r"\s+", "", "".join(lines)).lower()


def _modules(project: bytes) -> dict[str, str]:
    """Source of the modules in a VBA project, also after Excel has saved it.

    Raises
    ------
    ValueError
        It cannot be read.
    """
    if not project:
        return {}
    try:
        import olefile
    except ImportError:
        raise ValueError("the package olefile is missing: pip install olefile") from None
    try:
        with olefile.OleFileIO(io.BytesIO(project)) as streams:
            directory = decompressed(streams.openstream("VBA/dir").read())
            found, stream = {}, ""
            for identity, data in _records(directory):
                if identity == _STREAM_NAME:
                    stream = data.decode("utf-16-le")
                elif identity == _SOURCE_OFFSET:
                    source = streams.openstream(f"VBA/{stream}").read()[int.from_bytes(data, "little") :]
                    found[stream] = decompressed(source).decode(CODE_PAGE, "replace")
    except OSError as problem:
        raise ValueError(str(problem)) from None
    return found


def _records(directory: bytes) -> Iterator[tuple[int, bytes]]:
    """Records of the directory of a VBA project, MS-OVBA 2.3.4.2."""
    place = 0
    while place + 6 <= len(directory):
        identity, size = struct.unpack_from("<HI", directory, place)
        size += 2 if identity == _VERSION else 0
        yield identity, directory[place + 6 : place + 6 + size]
        place += 6 + size


def _blocked(book: Path) -> bool:
    """Whether Windows keeps with the file that it came from the internet."""
    try:
        mark = Path(f"{book}:Zone.Identifier").read_text(encoding="ascii", errors="replace")
    except OSError:
        return False
    zone = re.search(r"ZoneId=(\d)", mark)
    return zone is not None and int(zone[1]) >= 3


def _python(interpreter: str, machine: Machine) -> Iterator[Step]:
    """The Python that a workbook names, and what is installed for it."""
    exists = Path(interpreter).is_file()
    yield _step(f"the Python exists: {interpreter}", exists, f"enter {INTERPRETER}: {sys.executable}")
    try:
        interpreter.encode(machine.code_page)
        spelled = True
    except UnicodeEncodeError:
        spelled = False
    what = "" if spelled else "not "
    advice = "install Python and xlcalc in a folder whose name has plain letters only, such as C:\\python"
    yield _step(f"its path can {what}be written in {machine.code_page}", spelled, advice)
    store = "windowsapps" in interpreter.lower()
    advice = "install Python from python.org: Excel finds no library beside the one of the Microsoft Store"
    yield _step(f"it is {'' if store else 'not '}the Python of the Microsoft Store", not store, advice)
    if exists:
        yield from _packages(interpreter)
        yield _library(interpreter)


def _packages(interpreter: str) -> Iterator[Step]:
    try:
        asked = subprocess.run(
            [interpreter, "-P", "-c", _PROBE],
            capture_output=True,
            text=True,
            timeout=PROBE_SECONDS,
            check=True,
            cwd=Path(interpreter).parent,
        )
        found = json.loads(asked.stdout)
    except (OSError, subprocess.SubprocessError, ValueError) as problem:
        said = getattr(problem, "stderr", None) or problem
        yield Step(f"it does not run: {str(said).strip()}", False, "install Python 3.11 or newer")
        return
    pip = f'run: "{interpreter}" -m pip install'
    yield _step(
        f"xlcalc {found['xlcalc'] or 'is not installed'} there",
        found["xlcalc"] == __version__,
        pip + " xlcalc",
    )
    good = found["xlwings"] == XLWINGS_RELEASE
    yield _step(
        f"xlwings {found['xlwings'] or 'is not installed'} there", good, f"{pip} xlwings=={XLWINGS_RELEASE}"
    )
    yield _step(
        f"pywin32 is {'' if found['pywin32'] else 'not '}installed there", found["pywin32"], pip + " pywin32"
    )


def _library(interpreter: str) -> Step:
    """The file through which VBA starts Python, for an Excel of 64 bits or of 32."""
    folder = Path(interpreter).parent
    names = (library(64), library(32))
    there = [place / name for place in (folder, folder.parent) for name in names if (place / name).is_file()]
    others = [
        p.name for place in (folder, folder.parent) for p in place.glob("xlwings*.dll") if p not in there
    ]
    what = f"{there[0]} is there" if there else f"{names[0]} is neither in {folder} nor in {folder.parent}"
    if others and not there:
        what += f", but {', '.join(sorted(others))}"
    advice = f'run: "{interpreter}" -m pip install --force-reinstall xlwings=={XLWINGS_RELEASE}'
    return _step(what, bool(there), advice)
