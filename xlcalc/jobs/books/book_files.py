"""Which workbooks a run over files and folders means, and where each result goes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from xlcalc.core.errors import InputError

SUFFIXES: Final = (".xlsx", ".xlsm")


@dataclass(frozen=True)
class BookFile:
    """A workbook and the file that takes its values; they are the same in place."""

    source: Path
    target: Path


def find_books(given: Sequence[Path], output: Path | None) -> tuple[BookFile, ...]:
    """Workbooks of files and folders, each once, in the order given and by name inside a folder.

    Parameters
    ----------
    given : sequence of Path
        Files, and folders that are searched with all folders below them. Hidden files, and the marks that
        spreadsheet programs leave beside an open file, are passed over.
    output : Path or None
        Folder for the results, with the same folders below it; None writes in place.

    Raises
    ------
    InputError
        A path does not exist, a folder has no workbooks, the output is no folder, or two results would have
        one name.
    """
    if output is not None and (
        output.suffix.lower() in SUFFIXES or (output.exists() and not output.is_dir())
    ):
        raise InputError("-o", str(output), "a folder, because there are several workbooks")
    found: dict[Path, BookFile] = {}
    for path in given:
        for source, relative in _below(path, output):
            target = source if output is None else output / relative
            found.setdefault(source.resolve(), BookFile(source, target))
    books = tuple(found.values())
    targets: dict[Path, Path] = {}
    for book in books:
        other = targets.setdefault(book.target.resolve(), book.source)
        if other != book.source:
            raise InputError(
                "-o", str(book.target), f"one result per name: {other} and {book.source} share it"
            )
    return books


def _below(path: Path, output: Path | None) -> list[tuple[Path, Path]]:
    if not path.is_dir():
        if not path.exists():
            raise InputError("BOOK.xlsx", str(path), "a workbook or a folder that exists")
        return [(path, Path(path.name))]
    books = [
        (source, source.relative_to(path))
        for source in _workbooks(path)
        if not _is_result(source, path, output)
    ]
    if not books:
        raise InputError("BOOK.xlsx", str(path), "a folder with workbooks (.xlsx, .xlsm) in it")
    return books


def passed_over(given: Sequence[Path], output: Path | None) -> int:
    """Number of workbooks in the folders given that lie in the output folder and count as earlier results."""
    return sum(
        _is_result(source, path, output) for path in given if path.is_dir() for source in _workbooks(path)
    )


def _workbooks(folder: Path) -> Iterator[Path]:
    for source in sorted(folder.rglob("*")):
        hidden = any(part.startswith((".", "~$")) for part in source.relative_to(folder).parts)
        if source.suffix.lower() in SUFFIXES and source.is_file() and not hidden:
            yield source


def _is_result(source: Path, folder: Path, output: Path | None) -> bool:
    if output is None or output.resolve() == folder.resolve():
        return False
    return output.resolve() in source.resolve().parents
