"""Whether a workbook still holds what a submittal was made from, and where not."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from xlcalc.errors import InputError
from xlcalc.hosts.headless.xlsx.package import WorkbookPackage
from xlcalc.workbooks.submittal_digest import Line, Part, Record, plain_text, read_record
from xlcalc.workbooks.submittal_pages import CELLS, COVER, INPUTS_ROW, RECORD, RESULTS_ROW

HEX: Final = re.compile(r"[0-9a-f]{64}")
GONE: Final = "(nothing)"
ROUNDING: Final = 1e-12


@dataclass(frozen=True)
class Difference:
    """One cell or name that differs."""

    place: str
    part: str
    then: str
    now: str

    @property
    def text(self) -> str:
        return f"{self.place}  {self.part}: {_shown(self.then)} in the submittal, {_shown(self.now)} now"


@dataclass(frozen=True)
class Check:
    """Outcome of a check.

    Parameters
    ----------
    inputs_same, results_same : bool or None
        None where it was not asked.
    differences : tuple of Difference
        In the workbook, against the submittal.
    pages : tuple of Difference
        In the pages of the submittal, against its own record.
    stamp : str or None
        Stamp of the last calculation of the workbook.
    record : Record
        Of the workbook as it is now.
    """

    inputs_same: bool | None
    results_same: bool | None
    differences: tuple[Difference, ...]
    pages: tuple[Difference, ...]
    stamp: str | None
    record: Record

    @property
    def unaltered(self) -> bool:
        return False not in (self.inputs_same, self.results_same) and not self.pages


def check(book: Path, against: str) -> Check:
    """Compare a workbook with a submittal, or with a digest from its pages.

    Parameters
    ----------
    book : Path
        The workbook.
    against : str
        Path of a submittal, or 64 hexadecimal digits.

    Raises
    ------
    InputError
        The other file is no submittal, or its record does not agree with its own digest.
    WorkbookFileError
        A file is no sound workbook.
    """
    now = read_record(book)
    wanted = against.strip().casefold()
    if HEX.fullmatch(wanted):
        inputs, results = now.inputs_digest == wanted, now.results_digest == wanted
        return Check(inputs or results, None, (), (), now.stamp, now)
    submittal = Path(against)
    WorkbookPackage.open(submittal)
    pages = load_workbook(submittal)
    then = stored_record(pages, submittal.name)
    found = differences(then, now)
    return Check(
        then.inputs_digest == now.inputs_digest,
        not any(difference.part == Part.RESULT for difference in found),
        found,
        _altered_pages(pages, then),
        now.stamp,
        now,
    )


def stored_record(pages: Workbook, name: str) -> Record:
    """The record that a submittal carries.

    Raises
    ------
    InputError
        There is none, or it does not agree with the digests on the cover.
    """
    if not {CELLS, COVER, RECORD} <= set(pages.sheetnames):
        raise InputError("--check", name, "a workbook that xlcalc submittal wrote, or a digest of 64 digits")
    rows = pages[CELLS].iter_rows(values_only=True)
    try:
        lines = tuple(
            Line(sheet, cell, Part(part), json.loads(text))
            for sheet, cell, part, text in ([str(value)[1:] for value in row[:4]] for row in rows)
        )
    except ValueError:
        raise InputError("--check", name, "a submittal whose record is whole", wrong_kind=True) from None
    record = Record(lines)
    printed = tuple(pages[COVER].cell(row, 2).value for row in (INPUTS_ROW, RESULTS_ROW))
    if printed != (record.inputs_digest, record.results_digest):
        raise InputError("--check", name, "a submittal whose cover shows the digests of its record: altered")
    return record


def differences(then: Record, now: Record) -> tuple[Difference, ...]:
    """Every cell or name that is not the same in both: what was entered first, then results."""
    old = {(line.sheet, line.cell, line.part): line for line in then.lines}
    new = {(line.sheet, line.cell, line.part): line for line in now.lines}
    found = []
    for key in [*old, *(key for key in new if key not in old)]:
        before, after = old.get(key), new.get(key)
        if before is None or after is None or not _same(before, after.text):
            line = before or after
            assert line is not None
            found.append(
                Difference(
                    line.place,
                    line.part.value,
                    before.text if before else GONE,
                    after.text if after else GONE,
                )
            )
    return tuple(sorted(found, key=lambda difference: difference.part == Part.RESULT))


def _altered_pages(pages: Workbook, record: Record) -> tuple[Difference, ...]:
    """Cells of the pages that do not show what the record holds."""
    found = []
    for line in record.lines:
        if line.part in (Part.FORMULA, Part.NAME) or line.sheet not in pages.sheetnames:
            continue
        shown = plain_text(pages[line.sheet][line.cell].value)
        if not _same(line, shown):
            found.append(Difference(f"page {line.place}", line.part.value, line.text, shown))
    return tuple(found)


def _same(line: Line, text: str) -> bool:
    """The same text; results are also the same number where only the last digits were lost in saving."""
    if line.text == text or line.part is not Part.RESULT:
        return line.text == text
    try:
        return math.isclose(float(line.text), float(text), rel_tol=ROUNDING, abs_tol=0.0)
    except ValueError:
        return False


def _shown(text: str) -> str:
    short = text if len(text) <= 60 else text[:57] + "..."
    return short if short else "blank"
