"""Workbooks that many tests start from, computed once in a run by whichever worker asks first."""

from __future__ import annotations

import hashlib
import os
import pickle
import re
import shutil
import sys
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar, cast
from xml.sax.saxutils import escape

import pytest
from openpyxl import load_workbook

from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.workbooks.build import build_demo, build_plant_demo
from xlcalc.worksheet.catalogue import FUNCTIONS

Made = TypeVar("Made")
Typed = tuple[str, str, Any]
"""Sheet, cell and value."""
FILLED: dict[str, Callable[[Path], None]] = {"demo": build_demo, "plant demo": build_plant_demo}


@dataclass(frozen=True)
class Book:
    """A computed workbook that all tests of a run share: read it, or change a copy.

    Parameters
    ----------
    path : Path
    report : RecalculationReport
        Of the recalculation that gave it its values.
    """

    path: Path
    report: RecalculationReport

    def copy(self, target: Path) -> Path:
        return Path(shutil.copyfile(self.path, target))


class Shared:
    """What is made once in a run, in a folder that its workers share."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._known: dict[str, tuple[Path, Any]] = {}

    def made(self, name: str, make: Callable[[Path], Made]) -> tuple[Path, Made]:
        """A folder with the files that `make` wrote into it, and what `make` returned (it must pickle).

        Two things of one name are one, so it names everything that the result depends on.
        """
        if name not in self._known:
            folder = self._folder / hashlib.sha256(name.encode()).hexdigest()[:16]
            returned = folder.with_suffix(".returned")
            with _held(folder.with_suffix(".lock")):
                if not returned.exists():
                    shutil.rmtree(folder, ignore_errors=True)
                    folder.mkdir()
                    folder.with_suffix(".part").write_bytes(pickle.dumps(make(folder)))
                    folder.with_suffix(".part").replace(returned)
            self._known[name] = folder, pickle.loads(returned.read_bytes())
        return cast("tuple[Path, Made]", self._known[name])

    def recalculated(self, template: str, *cells: Typed) -> Book:
        """A shipped template, ``demo`` or ``plant demo``, with values typed into cells, recalculated."""

        def make(folder: Path) -> RecalculationReport:
            source, path = folder / "source.xlsx", folder / "book.xlsx"
            if template in FILLED:
                FILLED[template](source)
            else:
                shutil.copyfile(resources.template(template), source)
            report = recalculate(typed_in(source, path, *cells), None, FUNCTIONS)
            path.chmod(0o444)
            return report

        folder, report = self.made(f"{template} {cells!r}", make)
        return Book(folder / "book.xlsx", report)


def typed_in(source: Path, target: Path, *cells: Typed) -> Path:
    """A copy in which a program typed into cells without computing: every other value stays as it was."""
    book = load_workbook(source, read_only=True)
    parts = {f"xl/worksheets/sheet{number}.xml": name for number, name in enumerate(book.sheetnames, start=1)}
    book.close()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.namelist():
            text = old.read(entry)
            for sheet, cell, value in cells:
                if parts.get(entry) == sheet:
                    text = _typed(text.decode(), cell, value).encode()
            new.writestr(entry, text)
    return target


def _typed(xml: str, cell: str, value: Any) -> str:
    def element(match: re.Match[str]) -> str:
        start = re.sub(r' t="\w*"', "", f'<c r="{cell}"{match[1]}')
        if value is None:
            return f"{start}/>"
        if isinstance(value, bool):
            return f'{start} t="b"><v>{int(value)}</v></c>'
        if isinstance(value, str):
            return f'{start} t="inlineStr"><is><t xml:space="preserve">{escape(value)}</t></is></c>'
        return f"{start}><v>{value!r}</v></c>"

    changed, found = re.subn(rf'<c r="{cell}"((?:\s[^>]*?)?)(?:/>|>.*?</c>)', element, xml, count=1)
    assert found == 1, cell
    return changed


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        while True:
            try:
                return msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
            except OSError:  # after ten seconds
                continue

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX)


@contextmanager
def _held(path: Path) -> Iterator[None]:
    """The lock goes with the process, however it ends."""
    with path.open("w") as file:
        _lock(file.fileno())
        yield


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Shared:
    """What the tests of a run share, whichever worker runs them."""
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if os.environ.get("PYTEST_XDIST_WORKER") else own) / "shared"
    folder.mkdir(exist_ok=True)
    return Shared(folder)


@pytest.fixture(scope="session")
def recalculated(shared: Shared) -> Callable[..., Book]:
    """Gives a template, ``demo`` or ``plant demo`` with values typed into cells, recalculated once."""
    return shared.recalculated


@pytest.fixture(scope="session", name="typed_in")
def _typed_in() -> Callable[..., Path]:
    """Types into cells of a workbook file as a program does that computes nothing."""
    return typed_in
