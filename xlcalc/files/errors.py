"""Exceptions raised for files."""

from __future__ import annotations

from pathlib import Path


class WorkbookFileError(Exception):
    """A workbook or another file cannot be read or written; the message gives the reason.

    Parameters
    ----------
    path : Path or str
        The file as the caller named it.
    reason : str
        One sentence that a user of the workbook understands.

    Examples
    --------
    >>> print(WorkbookFileError("site.xlsx", "the file is empty"))
    site.xlsx: the file is empty
    """

    def __init__(self, path: Path | str, reason: str) -> None:
        self.path = Path(path)
        self.reason = reason
        super().__init__(f"{path}: {reason}")

    def __reduce__(self) -> tuple[type[WorkbookFileError], tuple[Path, str]]:
        """A process can hand it to another one."""
        return type(self), (self.path, self.reason)


class UnsafePartError(Exception):
    """A part of the package is not what a workbook may hold; turned into `WorkbookFileError` at the door."""
