"""The ways in which the file side of the headless host says no."""

from __future__ import annotations

from xlcalc.files.errors import WorkbookFileError

__all__ = ["UnsafePartError", "WorkbookFileError"]


class UnsafePartError(Exception):
    """A part of the package is not what a workbook may hold; turned into `WorkbookFileError` at the door."""
