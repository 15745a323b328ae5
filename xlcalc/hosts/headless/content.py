"""What a workbook contains, as far as a calculation needs it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from xlcalc.hosts.headless.cellnames import CellRange
from xlcalc.hosts.headless.structured import Table
from xlcalc.worksheet.values import CellError

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


@dataclass
class SheetContent:
    """Constants and formulas of one sheet; `part` is its name in the package."""

    name: str
    part: str
    constants: list[tuple[int, int, Constant]] = field(default_factory=list)
    formulas: list[CellFormula] = field(default_factory=list)
    hidden_rows: bool = False


@dataclass(frozen=True)
class BookContent:
    """Everything that the formulas of a workbook can refer to.

    Parameters
    ----------
    names : mapping of (sheet or empty, folded name) to text
        Defined names; those of one sheet under that sheet's name.
    tables : mapping of folded name to Table
    """

    sheets: tuple[SheetContent, ...]
    names: Mapping[tuple[str, str], str]
    tables: Mapping[str, Table]
    date_1904: bool = False
