"""What a workbook contains, as far as a calculation needs it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.formula.structured import DeclaredTable
from xlcalc.recalc.xlsx.hiddenrows import HiddenRows
from xlcalc.schema.values import CellError

Constant = float | str | bool | CellError


class ArrayMark(StrEnum):
    """How the file marks a formula."""

    PLAIN = "plain"
    ARRAY = "array"
    DYNAMIC = "dynamic array"
    DATA_TABLE = "data table"


@dataclass(frozen=True, slots=True)
class CellFormula:
    """A formula without its equals sign; `area` is what an array formula covers in the file."""

    row: int
    col: int
    text: str
    mark: ArrayMark = ArrayMark.PLAIN
    area: CellRange | None = None


class PlainSource(Protocol):
    """The bytes of a sheet that looks plainly written, and how its cells are to be understood."""

    @property
    def data(self) -> bytes:
        """XML in UTF-8; read again from the package after `release`."""

    def release(self) -> None:
        """Give the memory back."""

    def constant(self, kind: str, text: str) -> Constant | None:
        """Constant from the type of a cell and the text of its value."""

    def inline(self, text: str) -> str:
        """Text written in the cell itself."""

    def fill(self, content: SheetContent) -> None:
        """Read every cell, whatever the spelling."""


@dataclass
class SheetContent:
    """Constants and formulas of one sheet; `part` is its name in the package.

    The lists are empty as long as `plain` stands for them.
    """

    name: str
    part: str
    constants: list[tuple[int, int, Constant]] = field(default_factory=list)
    formulas: list[CellFormula] = field(default_factory=list)
    hidden_rows: HiddenRows = field(default_factory=HiddenRows)
    plain: PlainSource | None = field(default=None, repr=False)

    def every_constant(self) -> list[tuple[int, int, Constant]]:
        """The constants, whichever way they are held."""
        return self.filled().constants

    def filled(self) -> SheetContent:
        """The sheet with its lists; a copy where `plain` stands for them."""
        if self.plain is None:
            return self
        copy = SheetContent(self.name, self.part)
        self.plain.fill(copy)
        return copy

    def fill(self) -> None:
        """Put the cells into the lists."""
        if self.plain is not None:
            self.plain.fill(self)
            self.plain = None


@dataclass(frozen=True)
class BookContent:
    """Everything that the formulas of a workbook can refer to.

    Parameters
    ----------
    names : mapping of (sheet or empty, folded name) to text
        Defined names; those of one sheet under that sheet's name.
    tables : mapping of folded name to DeclaredTable
    tabs : tuple of str
        Names of all sheets in their order, chart sheets included; empty where that is not known.
    """

    sheets: tuple[SheetContent, ...]
    names: Mapping[tuple[str, str], str]
    tables: Mapping[str, DeclaredTable]
    date_1904: bool = False
    tabs: tuple[str, ...] = ()
