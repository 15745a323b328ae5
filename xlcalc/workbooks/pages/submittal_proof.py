"""Proof that the results in a workbook follow from its inputs: calculated again beside it, and compared."""

from __future__ import annotations

import math
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Final

from openpyxl import load_workbook

from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.pages.submittal_digest import BookRecord, Part, plain_text
from xlcalc.worksheet.catalogue import FUNCTIONS

RELATIVE: Final = 1e-7
ABSOLUTE: Final = 1e-9
LISTED: Final = 12


def prove(path: Path, record: BookRecord, moment: datetime) -> int:
    """Calculate a copy of the workbook and compare every result; gives their number.

    Parameters
    ----------
    path : Path
        The workbook; it is not changed.
    record : BookRecord
        What it holds.
    moment : datetime
        What NOW and TODAY are taken as: the time of its calculation.

    Raises
    ------
    WorkbookFileError
        A formula cannot be evaluated, or gives another result than the one that stands in the workbook; the
        cells are named.
    """
    results = [line for line in record.lines if line.part is Part.RESULT]
    if not results:
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / path.name
        report = recalculate(path, copy, FUNCTIONS, now=moment)
        again = load_workbook(copy, data_only=True)
    kept = [f"{issue.sheet}!{issue.cell}" for issue in report.issues if issue.refused]
    if kept:
        raise WorkbookFileError(
            path, f"these formulas cannot be evaluated and keep an old value: {listed(kept)}"
        )
    other = [
        line.place for line in results if not _same(line.text, plain_text(again[line.sheet][line.cell].value))
    ]
    if other:
        raise WorkbookFileError(
            path,
            f"these results do not follow from its inputs: {listed(other)}. It was changed after its "
            f"calculation, or calculated by another version; run xlcalc recalc {path.name}",
        )
    return len(results)


def _same(stored: str, computed: str) -> bool:
    if stored == computed:
        return True
    try:
        return math.isclose(float(stored), float(computed), rel_tol=RELATIVE, abs_tol=ABSOLUTE)
    except ValueError:
        return False


def listed(cells: list[str]) -> str:
    """The first cells, and how many more there are."""
    more = f" and {len(cells) - LISTED} more" if len(cells) > LISTED else ""
    return ", ".join(cells[:LISTED]) + more
