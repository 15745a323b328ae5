"""An interrupt or a failing progress display stops the run at once and leaves every file as it was."""

from __future__ import annotations

import itertools
import signal
import threading
import time
from pathlib import Path

import openpyxl
import pytest

from xlcalc.recalc.recalc import recalculate


@pytest.fixture
def slow(functions):
    def body(*raw: object) -> float:
        time.sleep(0.02)
        return 1.0

    functions["X_TOTAL"].body = body
    return functions


def _book(path: Path, rows: int) -> Path:
    book = openpyxl.Workbook()
    for row in range(1, rows + 1):
        book.worksheets[0][f"A{row}"] = f"=X_TOTAL({row})" if row == 1 else f"=X_TOTAL(A{row - 1},{row})"
    book.save(path)
    return path


def test_ctrl_c(slow, tmp_path: Path) -> None:
    path = _book(tmp_path / "book.xlsx", 400)
    before = path.read_bytes()
    timer = threading.Timer(0.3, lambda: signal.raise_signal(signal.SIGINT))
    start = time.perf_counter()
    timer.start()
    with pytest.raises(KeyboardInterrupt):
        recalculate(path, None, slow)
    assert time.perf_counter() - start < 4
    assert path.read_bytes() == before
    assert [item.name for item in tmp_path.iterdir()] == ["book.xlsx"]


def test_progress_is_told_and_may_stop(slow, tmp_path: Path) -> None:
    path = _book(tmp_path / "book.xlsx", 60)
    seen: list[tuple[int, int]] = []
    recalculate(path, tmp_path / "out.xlsx", slow, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (60, 60)
    assert all(first <= second for first, second in itertools.pairwise(seen))
    assert len(seen) > 5

    def stop(done: int, total: int) -> None:
        raise RuntimeError("stop")

    with pytest.raises(RuntimeError, match="stop"):
        recalculate(path, tmp_path / "never.xlsx", slow, progress=stop)
    assert not (tmp_path / "never.xlsx").exists()


def test_in_place(functions, tmp_path: Path) -> None:
    path = _book(tmp_path / "book.xlsx", 3)
    report = recalculate(path, None, functions, stamp="test stamp")
    assert report.target == path
    assert openpyxl.load_workbook(path, data_only=True).worksheets[0]["A3"].value == 6
