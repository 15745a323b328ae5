"""Many workbooks recalculated at once; one that fails does not stop the rest."""

from __future__ import annotations

import atexit
import contextlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.files.writing import claim, part_path
from xlcalc.hosts.libreoffice.programs.calculator import Calculator
from xlcalc.jobs.books.book_files import BookFile
from xlcalc.jobs.books.timed import recalculate_timed
from xlcalc.jobs.journal import Journal, Mark
from xlcalc.jobs.pools import Lost, Pool

CLEAN, WITH_ERRORS, FAILED = "clean", "errors", "failed"


@dataclass(frozen=True)
class BookResult:
    """What became of one workbook.

    Parameters
    ----------
    file, target : str
        Read and written.
    outcome : str
        ``clean``; ``errors`` where cells show an error value or kept their old one; ``failed`` where nothing
        was written.
    formulas, errors, refused, own_calls : int
        Formula cells, those with an error value, those that kept their old value, and calls of our functions.
    reason : str
        Why it failed.
    issues : tuple of str
        One line per error or refusal.
    seconds : mapping of stage to float
        Where the time went; ``solve`` is the part spent inside our functions.
    verdict : str
        The verdict of the workbook with its reason, in one line; empty where it has none.
    notes : tuple of str
        What was changed beyond values, and why.
    """

    file: str
    target: str
    outcome: str
    formulas: int = 0
    errors: int = 0
    refused: int = 0
    own_calls: int = 0
    reason: str = ""
    issues: tuple[str, ...] = ()
    seconds: Mapping[str, float] = field(default_factory=dict)
    verdict: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class BookTask:
    """One workbook to recalculate.

    Parameters
    ----------
    book : BookFile
        Paths as they were given.
    reasons : bool
        Add a sheet with the reason of every error.
    verify : bool
        Let another program compute a copy, and refuse what differs.
    folder : Path
        Where relative paths start, for a worker that was started elsewhere.
    """

    book: BookFile
    reasons: bool
    verify: bool
    folder: Path


def recalculate_one(task: BookTask) -> BookResult:
    """One workbook; what goes wrong is in the result, never raised."""
    book = task.book
    names = (str(book.source), str(book.target))
    source, target = task.folder / book.source, task.folder / book.target
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        in_place = book.target == book.source
        report, seconds = recalculate_timed(
            source,
            None if in_place else target,
            reasons_sheet=task.reasons,
            witness=witness_of_process() if task.verify else None,
        )
    except (InputError, NoSolutionError, WorkbookFileError, OSError, MemoryError, RecursionError) as problem:
        text = str(problem) or type(problem).__name__
        text = text.replace(str(source), names[0]).replace(str(target), names[1])
        return BookResult(*names, FAILED, reason=text if names[0] in text else f"{names[0]}: {text}")
    except Exception as problem:
        return BookResult(
            *names, FAILED, reason=f"{book.source}: unexpected {type(problem).__name__}: {problem}"
        )
    return BookResult(
        *names,
        CLEAN if report.clean else WITH_ERRORS,
        formulas=report.formulas,
        errors=report.errors,
        refused=report.refused,
        own_calls=report.own_calls,
        issues=(*report.lines(), *(report.verification.lines() if report.verification else ())),
        seconds=seconds,
        verdict=report.verdict_line().partition(": ")[2],
        notes=report.notes,
    )


def recalculate_many(
    books: Sequence[BookFile],
    pool: Pool,
    journal: Journal,
    *,
    reasons: bool = False,
    verify: bool = False,
    resume: bool = False,
    finished: Callable[[BookResult, int, int], None] | None = None,
) -> list[BookResult]:
    """Recalculate workbooks; the journal makes an interrupted run resumable.

    Parameters
    ----------
    books : sequence of BookFile
        In the order of the results.
    pool : Pool
        Where the work is done.
    journal : Journal
        Takes every finished workbook; it is gone when all are done.
    reasons : bool
        Add a sheet with the reason of every error.
    verify : bool
        Let LibreOffice compute copies, one running instance in each process, and refuse what differs.
    resume : bool
        Pass over workbooks that the interrupted run finished and that nobody changed since. Those that failed
        are tried again.
    finished : callable, optional
        Called with each result, how many are done and how many there are.

    Raises
    ------
    InputError
        There is nothing to resume, or the journal cannot be written.
    """
    entries = journal.resume() if resume else {}
    known = {file: result for file, entry in entries.items() if (result := _finished(entry)) is not None}
    results: dict[int, BookResult] = {}
    open_ones = []
    kept = {}
    for number, book in enumerate(books):
        stored = known.get(str(book.source))
        if stored is None or (stored.file, stored.target) != (str(book.source), str(book.target)):
            open_ones.append(number)
        else:
            kept[str(book.source)] = entries[str(book.source)]
            results[number] = stored
    journal.start(kept)
    complete = False
    try:
        for number, result in results.items():
            if finished is not None:
                finished(result, number, len(books))
        here = Path.cwd()
        tasks = [BookTask(books[number], reasons, verify, here) for number in open_ones]
        for place, outcome in pool.run(recalculate_one, tasks):
            number = open_ones[place]
            book = books[number]
            if isinstance(outcome, Lost):
                _tidy(book.target)
                outcome = BookResult(
                    str(book.source), str(book.target), FAILED, reason=f"{book.source}: {outcome.reason}"
                )
            results[number] = outcome
            journal.add(_entry(outcome))
            if finished is not None:
                finished(outcome, len(results), len(books))
        complete = True
    finally:
        journal.close(finished=complete)
    return [results[number] for number in range(len(books))]


def _tidy(target: Path) -> None:
    """Take away what a process that was ended left beside a target; the target itself is as it was."""
    with contextlib.suppress(WorkbookFileError), claim(target):
        part_path(target).unlink(missing_ok=True)


def _entry(result: BookResult) -> dict[str, Any]:
    marks = {name: mark.as_list() for name in (result.file, result.target) if (mark := Mark.of(Path(name)))}
    return {"file": result.file, "marks": marks, "result": asdict(result)}


def _finished(entry: Mapping[str, Any]) -> BookResult | None:
    """The result of a workbook that was finished, if neither it nor its result changed since."""
    try:
        stored, marks = entry["result"], entry["marks"]
        listed = {name: tuple(stored[name]) for name in ("issues", "notes")}
        result = BookResult(**{**stored, **listed})
        same = all(
            marks[name] is not None and _mark(name) == marks[name] for name in (result.file, result.target)
        )
        numbers = tuple(result.seconds.values())
    except (KeyError, TypeError, ValueError, AttributeError, OSError):
        return None
    texts = (result.outcome, result.reason, result.verdict, *result.issues, *result.notes)
    counts = (result.formulas, result.errors, result.refused, result.own_calls, *numbers)
    sound = all(isinstance(t, str) for t in texts) and all(isinstance(n, int | float) for n in counts)
    return result if sound and same and result.outcome in (CLEAN, WITH_ERRORS) else None


def _mark(name: str) -> list[int] | None:
    mark = Mark.of(Path(name))
    return mark.as_list() if mark else None


@contextmanager
def witness_if(wanted: bool) -> Iterator[Calculator | None]:
    """LibreOffice for as long as it is needed, where it is wanted.

    Raises
    ------
    InputError
        It is not installed, or cannot be used.
    """
    if not wanted:
        yield None
        return
    with Calculator() as calculator:
        yield calculator


@cache
def witness_of_process() -> Calculator:
    """The LibreOffice of this process, which ends with it."""
    calculator = Calculator()
    atexit.register(calculator.stop)
    return calculator


def check_verifying() -> None:
    """Raise `InputError` where there is no LibreOffice that can be used."""
    with Calculator():
        pass
