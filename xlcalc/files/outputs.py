"""What a command may write: every file is known before anything is computed, and none is lost by it.

A file that is there already is replaced only if this package wrote it and nobody changed it since, or if the
user says so with ``--overwrite``. An input of the command is never replaced.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.files.ownership import is_ours
from xlcalc.files.writing import check_target

LISTED = 3


def check_outputs(
    outputs: Iterable[Path],
    inputs: Iterable[Path] = (),
    *,
    overwrite: bool = False,
    option: str = "-o",
) -> None:
    """Refuse a run that would destroy something or could not write one of its files.

    Parameters
    ----------
    outputs : iterable of Path
        Every file that will be written, side tables and lists included.
    inputs : iterable of Path
        Every file that is read.
    overwrite : bool
        The user allows that files of others are replaced; inputs never are.
    option : str
        The argument that names the outputs.

    Raises
    ------
    InputError
        An output is an input, two are one file, or one is there already and is no unchanged result.
    WorkbookFileError
        A place cannot be written, or the file is open in a spreadsheet program.
    """
    written = list(outputs)
    read = [path for path in inputs if os.path.lexists(path)]
    taken: dict[str, Path] = {}
    others = []
    for path in written:
        same = next((given for given in read if _is_same(path, given)), None)
        if same is not None:
            what = f"{path}, which would replace the input {same}"
            raise InputError(option, what, "another file than those that are read")
        twin = taken.setdefault(os.path.normcase(path.resolve()), path)
        if twin is not path:
            raise InputError(option, f"{path}, which would be written twice", "a name of its own per file")
        check_target(path)
        if os.path.lexists(path) and not overwrite and not is_ours(path):
            others.append(path)
    if others:
        names = ", ".join(str(path) for path in others[:LISTED])
        more = f" and {len(others) - LISTED} more" if len(others) > LISTED else ""
        raise InputError(
            option,
            f"{names}{more}, there already and no unchanged result of xlcalc",
            "a name that is free, or --overwrite",
        )


def linked_notes(targets: Iterable[Path]) -> list[str]:
    """A sentence for each file that has other names, which keep its old contents."""
    notes = []
    for path in targets:
        try:
            links = path.stat().st_nlink
        except OSError:
            continue
        if links > 1:
            notes.append(f"{path} has another name (a hard link), under which the old contents stay")
    return notes


def _is_same(path: Path, other: Path) -> bool:
    if path.resolve() == other.resolve():
        return True
    try:
        return path.samefile(other)
    except OSError:
        return False
