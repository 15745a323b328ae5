"""Stand-in worksheet functions, and a way to recalculate a small workbook in one line."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from xlcalc.recalc.recalc import RecalculationReport, recalculate
from xlcalc.schema.values import CellError, ErrorCode, Value


@dataclass
class StandIn:
    """A worksheet function as the host sees it; remembers what it was called with."""

    name: str
    body: Callable[..., Value]
    shape: object | None = None
    volatile: bool = False
    min_args: int = 0
    max_args: int | None = None
    calls: list[list[Value]] = field(default_factory=list)

    def __call__(self, raw: Sequence[Value]) -> Value:
        self.calls.append(list(raw))
        return self.body(*raw)


def _first_error(raw: Sequence[Value]) -> CellError | None:
    for item in raw:
        for row in item if isinstance(item, list) else [[item]]:
            for cell in row:
                if isinstance(cell, CellError):
                    return cell
    return None


def _total(*raw: Value) -> Value:
    error = _first_error(raw)
    if error is not None:
        return error
    total = 0.0
    for item in raw:
        for row in item if isinstance(item, list) else [[item]]:
            for cell in row:
                if isinstance(cell, str):
                    return CellError(ErrorCode.VALUE, f"X_TOTAL: {cell!r} is no number")
                total += cell or 0.0  # type: ignore[operator]
    return total


def _shape(*raw: Value) -> Value:
    return " ".join(f"{len(r)}x{len(r[0])}" if isinstance(r, list) else type(r).__name__ for r in raw)


def _grid(rows: Value = 5.0, columns: Value = 3.0) -> Value:
    assert isinstance(rows, float)
    assert isinstance(columns, float)
    return [[10.0 * row + column for column in range(int(columns))] for row in range(int(rows))]


def _limit(value: Value = None) -> Value:
    if isinstance(value, float) and value > 10:
        return CellError(ErrorCode.NUM, f"X_LIMIT: value is {value:g}; valid: up to 10")
    return value


def _fails(*raw: Value) -> Value:
    raise ZeroDivisionError("inside the function")


@pytest.fixture
def functions() -> dict[str, StandIn]:
    listed = [
        StandIn("X_TOTAL", _total),
        StandIn("X_SHAPE", _shape),
        StandIn("X_GRID", _grid, shape="grid"),
        StandIn("X_LIMIT", _limit),
        StandIn("X_FAILS", _fails),
        StandIn("X_NAN", lambda *raw: float("nan")),
        StandIn(
            "X_MIXED",
            lambda *raw: [[1.0, None, "x"], [True, CellError(ErrorCode.NA, "not there"), 2.0]],
            "grid",
        ),
        StandIn("X_COUNTER", lambda *raw: float(len(raw)), volatile=True),
    ]
    return {item.name: item for item in listed}


@dataclass
class Recalculated:
    """What the written file shows."""

    report: RecalculationReport
    path: Path
    source: Path

    def __getitem__(self, address: str) -> Any:
        sheet, _, cell = address.rpartition("!")
        book = openpyxl.load_workbook(self.path, data_only=True)
        found = (book[sheet] if sheet else book.worksheets[0])[cell]
        if isinstance(found, tuple):
            return [[item.value for item in row] for row in found]
        return found.value

    def reason(self, address: str) -> str:
        return next((i.reason for i in self.report.issues if i.address == address or i.cell == address), "")

    @property
    def refused(self) -> set[str]:
        return {issue.address for issue in self.report.issues if issue.refused}


Recalculate = Callable[..., Recalculated]


@pytest.fixture
def recalculated(tmp_path: Path, functions: Mapping[str, StandIn]) -> Recalculate:
    """Recalculate an openpyxl workbook, a file, or a mapping of cell to content on a sheet named S."""

    def run(source: openpyxl.Workbook | Path | Mapping[str, object], **options: Any) -> Recalculated:
        path = tmp_path / "book.xlsx"
        if isinstance(source, Path):
            path = source
        else:
            book = source
            if not isinstance(book, openpyxl.Workbook):
                book = openpyxl.Workbook()
                sheet = book.worksheets[0]
                sheet.title = "S"
                for address, content in source.items():
                    sheet[address] = content
            book.save(path)
        target = tmp_path / "out.xlsx"
        return Recalculated(recalculate(path, target, functions, **options), target, path)

    return run
