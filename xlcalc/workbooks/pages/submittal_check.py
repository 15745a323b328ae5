"""Whether a workbook and the pages of a submittal are what they were when the pages were made, and where not.

The pages are made again from the workbook and both packages compared in one plain form: whatever differs is
named, whether or not anybody thought of it. What the workbook held stands in the record of the pages.
"""

from __future__ import annotations

import math
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import xlcalc
from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.files.ownership import is_ours
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.recalc.xlsx.plainform import VALUE, Form, PartPlace, plain_form, same_parts
from xlcalc.workbooks.pages.submittal import pages_of
from xlcalc.workbooks.pages.submittal_digest import BookRecord, DigestLine, Part, read_record
from xlcalc.workbooks.pages.submittal_pages import PAPERS
from xlcalc.workbooks.pages.submittal_record import CELLS, Made, read_cells
from xlcalc.workbooks.pages.submittal_source import read_source

HEX: Final = re.compile(r"[0-9a-f]{64}")
GONE: Final = "(nothing)"
CHECKSUM: Final = "the checksum at its end is not its own: the file was changed or saved again"
NOW: Final = "now"
AGAIN: Final = "made again"
ROUNDING: Final = 1e-12
SHOWN: Final = 60


@dataclass(frozen=True)
class Difference:
    """One cell, name or other thing that differs.

    Parameters
    ----------
    place, part : str
        Where, and what of it.
    then, now : str
        In the submittal, and in the workbook or in the pages made again from it.
    against : str
        Which of these.
    """

    place: str
    part: str
    then: str
    now: str
    against: str = NOW

    @property
    def text(self) -> str:
        if self.part == CHECKSUM:
            return f"{self.place}  {self.part}"
        if self.part == Part.REST:
            change = {self.then: "added", self.now: "gone"}.get(GONE, "not as they were")
            return f"{self.place}  {self.part}: {change}"
        then, now = _shown(self.then, self.now)
        return f"{self.place}  {self.part}: {then} in the submittal, {now} {self.against}"


@dataclass(frozen=True, kw_only=True)
class Check:
    """Outcome of a check.

    Parameters
    ----------
    inputs_same, results_same, rest_same : bool or None
        None where it was not asked.
    differences : tuple of Difference
        In the workbook, against the record of the submittal.
    pages : tuple of Difference
        In the pages of the submittal, against those made again from the workbook.
    not_made : str
        Why no pages could be made again from the workbook; blank where they were, or were not asked for.
    notes : tuple of str
        What else there is to know.
    stamp : str or None
        Stamp of the last calculation of the workbook.
    record : BookRecord
        Of the workbook as it is now.
    """

    inputs_same: bool
    results_same: bool | None = None
    rest_same: bool | None = None
    differences: tuple[Difference, ...] = ()
    pages: tuple[Difference, ...] = ()
    not_made: str = ""
    notes: tuple[str, ...] = ()
    stamp: str | None
    record: BookRecord

    @property
    def unaltered(self) -> bool:
        same = (self.inputs_same, self.results_same, self.rest_same)
        return False not in same and not self.pages and not self.not_made


@dataclass(frozen=True)
class Again:
    """What a workbook holds, and the pages made again from it or why there are none."""

    record: BookRecord
    pages: WorkbookPackage | None
    why: str


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
        The other file is no submittal, or its record is not whole.
    WorkbookFileError
        A file is not a valid workbook.
    """
    wanted = against.strip().casefold()
    if HEX.fullmatch(wanted):
        now = read_record(book)
        same = wanted in (now.inputs_digest, now.results_digest)
        return Check(inputs_same=same, stamp=now.stamp, record=now)
    submittal = Path(against)
    arrived = WorkbookPackage.open(submittal)
    made, then = read_cells(arrived)
    again = make_again(book, made)
    now = again.record
    found = differences(then, now)
    pages = [] if again.pages is None else list(_altered(arrived, again.pages, recorded=bool(found)))
    if not is_ours(submittal):
        pages.append(Difference(submittal.name, CHECKSUM, "", ""))
    return Check(
        inputs_same=then.inputs_digest == now.inputs_digest,
        results_same=not any(difference.part == Part.RESULT for difference in found),
        rest_same=not any(difference.part == Part.REST for difference in found),
        differences=found,
        pages=tuple(pages),
        not_made=again.why,
        notes=tuple(_notes(made)),
        stamp=now.stamp,
        record=now,
    )


def make_again(book: Path, made: Made) -> Again:
    """Make the pages of a submittal again from the workbook, in the way that they were made."""
    try:
        source = replace(read_source(book, made.proof), name=made.workbook)
    except WorkbookFileError as problem:
        return Again(read_record(book), None, problem.reason)
    except InputError as problem:
        return Again(read_record(book), None, str(problem))
    paper = made.paper if made.paper in PAPERS else next(iter(PAPERS))
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "pages.xlsx"
        path.write_bytes(b"".join(pages_of(source, paper)))
        return Again(source.record, WorkbookPackage.open(path), "")


def differences(then: BookRecord, now: BookRecord) -> tuple[Difference, ...]:
    """Every cell or name that is not the same in both: first what was entered, then results and the rest."""
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
    last = (Part.RESULT, Part.REST)
    return tuple(sorted(found, key=lambda d: last.index(Part(d.part)) + 1 if d.part in last else 0))


def _altered(arrived: WorkbookPackage, again: WorkbookPackage, *, recorded: bool) -> Iterator[Difference]:
    """What differs between the pages that arrived and those made again.

    Where the record is known to differ its cells are not named once more.
    """
    if arrived.stamp != again.stamp:
        yield Difference("file", "stamp", arrived.stamp or GONE, again.stamp or GONE, AGAIN)
    same = same_parts(arrived, again)
    mine, expected = plain_form(arrived, same), plain_form(again, same)
    for place in _differing(mine, expected):
        if not (recorded and place.sheet == CELLS and place.what == VALUE):
            yield from _sides(place, mine.get(place, GONE), expected.get(place, GONE))


def _differing(first: Form, second: Form) -> Iterator[PartPlace]:
    for place in [*first, *(place for place in second if place not in first)]:
        one, other = first.get(place), second.get(place)
        if one != other and not (place.what == VALUE and _same_number(one, other)):
            yield place


def _sides(place: PartPlace, then: str, now: str) -> Iterator[Difference]:
    """A format side by side: its number format, font and so on; anything else as one."""
    where = f"page {PartPlace(place.sheet, place.cells, '').text}".strip()
    old, new = _lines(then), _lines(now)
    if not old or not new:
        yield Difference(where, place.what, then, now, AGAIN)
        return
    for side in dict.fromkeys([*old, *new]):
        if old.get(side) != new.get(side):
            yield Difference(where, side, old.get(side, GONE), new.get(side, GONE), AGAIN)


def _lines(text: str) -> dict[str, str]:
    parts = [line.partition(": ") for line in text.split("\n")]
    return {side: value for side, _, value in parts} if len(parts) > 1 and all(p[1] for p in parts) else {}


def _notes(made: Made) -> Iterator[str]:
    if made.version != xlcalc.__version__:
        yield (
            f"The pages were made by xlcalc {made.version}; this is {xlcalc.__version__}, which may compute "
            "or print something another way"
        )
    if not made.proof:
        yield (
            "The results were taken as they stood (--as-stored), then and now; xlcalc recalc shows whether "
            "they follow from the inputs"
        )


def _same(line: DigestLine, text: str) -> bool:
    """The same text; results are also the same number where only the last digits were lost in saving."""
    return line.text == text or (line.part is Part.RESULT and _same_number(line.text, text))


def _same_number(one: str | None, other: str | None) -> bool:
    try:
        return math.isclose(float(one or ""), float(other or ""), rel_tol=ROUNDING, abs_tol=0.0)
    except ValueError:
        return False


def _shown(then: str, now: str) -> tuple[str, str]:
    """Both texts, cut to where they differ."""
    start = 0
    if max(len(then), len(now)) > SHOWN:
        pairs = enumerate(zip(f"{then}\n", f"{now}\n", strict=False))
        start = max(0, next(i for i, (one, other) in pairs if one != other) - SHOWN // 3)
    return _cut(then, start), _cut(now, start)


def _cut(text: str, start: int) -> str:
    short = "..." * (start > 0) + text[start : start + SHOWN] + "..." * (len(text) > start + SHOWN)
    return short.replace("\n", " ") if short else "blank"
