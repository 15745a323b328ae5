"""A sheet of a package: its bytes while they are wanted, and its formula cells."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from functools import cached_property

from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.xmlparts import to_utf8
from xlcalc.recalc.xlsx.cells import FormulaCell, scan_formulas
from xlcalc.recalc.xlsx.plaincells import looks_plain
from xlcalc.recalc.xlsx.sheetchecks import check_references
from xlcalc.recalc.xlsx.sheets import SheetEntry
from xlcalc.recalc.xlsx.sheetscan import SheetScan


class Sheet:
    """A sheet of the workbook; its bytes are unpacked when they are asked for.

    Parameters
    ----------
    entry : SheetEntry
        Name, part, state and kind.
    container : Container
    """

    def __init__(self, entry: SheetEntry, container: Container) -> None:
        self.entry = entry
        self._container = container
        self._read: tuple[bytes, str | None] | None = None

    @cached_property
    def looks_plain(self) -> bool:
        """Whether its cells may all be written plainly, see `plaincells.looks_plain`."""
        return self.encoding is None and looks_plain(self.data)

    @property
    def name(self) -> str:
        """Name on the tab."""
        return self.entry.name

    @property
    def formulas(self) -> list[FormulaCell]:
        """Its formula cells in the order of the file; empty for anything but a worksheet."""
        return self._scanned[0]

    @property
    def scan(self) -> SheetScan | None:
        """All of its cells where they are written in an unusual way."""
        return self._scanned[1]

    @property
    def data(self) -> bytes:
        """Its XML in UTF-8, references checked."""
        return self._content()[0]

    @property
    def encoding(self) -> str | None:
        """The encoding in the file where it is not UTF-8."""
        return self._content()[1]

    def _content(self) -> tuple[bytes, str | None]:
        if self._read is None:
            with self.acceptable():
                self._read = to_utf8(self._container.read(self.entry.part))
        return self._read

    def stream(self) -> Iterator[bytes]:
        """Its bytes in the file in pieces."""
        return self._container.stream(self.entry.part)

    def release(self) -> None:
        """Give the bytes back; they are unpacked again when somebody asks for them."""
        self._read = None

    @contextlib.contextmanager
    def acceptable(self) -> Iterator[None]:
        """Turn what makes the sheet unacceptable into the error to raise about the file."""
        try:
            yield
        except UnsafePartError as error:
            raise self._container.fail(f"the sheet {self.name!r} is not acceptable: {error}") from None

    def check(self, *, cells: bool = True) -> None:
        """Raise `WorkbookFileError` for what is not acceptable.

        Without `cells`, those of a plainly written sheet are left to the one who reads them.
        """
        if self.entry.kind == "worksheet":
            cells = cells or not self.looks_plain
            with self.acceptable():
                check_references(self.data, cells=cells)
            if cells:
                len(self.formulas)

    @cached_property
    def _scanned(self) -> tuple[list[FormulaCell], SheetScan | None]:
        if self.entry.kind != "worksheet":
            return [], None
        with self.acceptable():
            return scan_formulas(self.data)
