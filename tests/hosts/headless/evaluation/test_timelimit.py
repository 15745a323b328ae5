"""A workbook that takes too long is stopped and left as it was."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import xlsxwriter

from xlcalc.hosts.headless.recalc import recalculate
from xlcalc.hosts.headless.timelimit import TimeLimitError, within


class Slow:
    """A stand-in that takes its time."""

    name, min_args, max_args, volatile, shape = "X_SLOW", 1, 1, False, None

    def __call__(self, raw: list) -> float:
        time.sleep(0.05)
        return 1.0


def _book(path: Path, rows: int) -> Path:
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet()
        for row in range(rows):
            sheet.write_formula(row, 0, f"=X_SLOW({row})", None, 0)
    return path


def test_stopped_after_the_limit(tmp_path: Path) -> None:
    path = _book(tmp_path / "book.xlsx", 200)
    before = path.read_bytes()
    start = time.monotonic()
    with pytest.raises(TimeLimitError, match=r"0\.3 s"):
        recalculate(path, None, {"X_SLOW": Slow()}, progress=within(0.3))
    assert time.monotonic() - start < 8
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_quick_enough(tmp_path: Path) -> None:
    seen: list[int] = []
    path = _book(tmp_path / "book.xlsx", 4)
    report = recalculate(
        path, None, {"X_SLOW": Slow()}, progress=within(60, lambda done, expected: seen.append(expected))
    )
    assert report.clean
    assert set(seen) == {4}
