"""What a run over many files or combinations has finished, line by line, so that it can go on after an end.

One JSON value per line: first what the run is, then one line per finished file or part. A line that was cut
off by a crash is passed over.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import xlcalc
from xlcalc.core.errors import InputError
from xlcalc.files.reading import read_bytes
from xlcalc.files.writing import write_file

NAME: Final = "xlcalc-recalc.journal"
LARGEST_BYTES: Final = 1 << 30
VALID: Final = "the same version, files, options and output; without --resume it begins anew"
Entry = Mapping[str, Any]


@dataclass(frozen=True)
class Mark:
    """Size and time of a file, to notice that it changed since."""

    size: int
    modified_ns: int

    @classmethod
    def of(cls, path: Path) -> Mark | None:
        """State of a file now; None where there is none."""
        try:
            status = path.stat()
        except OSError:
            return None
        return cls(status.st_size, status.st_mtime_ns)

    def as_list(self) -> list[int]:
        """For the journal."""
        return [self.size, self.modified_ns]


class Journal:
    """An open journal; each finished file is on disk before the next one is reported.

    Parameters
    ----------
    path : Path
        The journal file.
    options : mapping
        What makes two runs the same run; version of the package included.
    """

    def __init__(self, path: Path, options: Entry) -> None:
        self._path = path
        self._options = {"xlcalc": xlcalc.__version__, **options}
        self._handle: int | None = None

    @property
    def path(self) -> Path:
        """The journal file."""
        return self._path

    def resume(self) -> dict[str, Entry]:
        """Entries of the interrupted run by file.

        Raises
        ------
        InputError
            There is no journal, or it is of a run with other options.
        """
        try:
            lines = read_bytes(self._path, LARGEST_BYTES).decode("utf-8", "replace").splitlines()
        except InputError:
            raise InputError("--resume", str(self._path), "a run that was interrupted here") from None
        entries = [entry for line in lines if isinstance(entry := _parsed(line), dict)]
        if not entries or entries[0] != self._options:
            given = _difference(entries[0], self._options) if entries else "its first line is broken"
            raise InputError("--resume", f"the journal of another run ({given})", VALID)
        return {str(entry["file"]): entry for entry in entries[1:] if "file" in entry}

    def start(self, kept: Mapping[str, Entry]) -> None:
        """Open the journal anew with the entries that still hold.

        Raises
        ------
        InputError, WorkbookFileError
            The journal cannot be written.
        """
        lines = [self._options, *kept.values()]
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            write_file(self._path, ["".join(json.dumps(dict(line)) + "\n" for line in lines).encode()])
            self._handle = os.open(self._path, os.O_WRONLY | os.O_APPEND)
        except OSError as problem:
            raise InputError("journal", f"{self._path}: {problem.strerror}", "a place to write") from None

    def add(self, entry: Entry) -> None:
        """Note a finished file."""
        if self._handle is not None:
            os.write(self._handle, (json.dumps(dict(entry)) + "\n").encode())
            os.fsync(self._handle)

    def close(self, finished: bool) -> None:
        """Close the journal; a run that came to its end leaves none."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None
        if finished:
            self._path.unlink(missing_ok=True)


def _difference(then: Entry, now: Entry) -> str:
    """What differs between two runs, in words; a file by its name."""
    parts = []
    for name in (*now, *(name for name in then if name not in now)):
        old, new = then.get(name), now.get(name)
        if isinstance(old, Mapping) and isinstance(new, Mapping):
            changed = [key for key in (*new, *old) if old.get(key) != new.get(key)]
            parts += [f"{key} is not the same" for key in dict.fromkeys(changed)]
        elif old != new:
            parts.append(f"{name} was {old}, is {new}")
    return ", ".join(parts)


def _parsed(line: str) -> object:
    try:
        return json.loads(line)
    except (ValueError, RecursionError):
        return None
