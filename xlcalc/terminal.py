"""What all commands print with: the two consoles, exit codes, the progress bar."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from rich.console import Console

from xlcalc.bulk.stopwatch import as_text

DONE, HAS_ERRORS, UNUSABLE, INTERRUPTED = 0, 1, 2, 130

out = Console(highlight=False, soft_wrap=True)
err = Console(stderr=True, highlight=False, soft_wrap=True)


@contextmanager
def progress_bar(title: str) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on the terminal; yields the function that moves it."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=err, transient=True) as progress:
        task = progress.add_task(title, total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)


def print_timings(wanted: bool, seconds: Mapping[str, float]) -> None:
    """Where the time went, if that was asked for."""
    if wanted:
        out.print(f"Time: {as_text(seconds)}")
