"""What all commands print with: the two channels, exit codes, the progress bar."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from xlcalc.bulk.stopwatch import as_text

if TYPE_CHECKING:
    from rich.console import Console

DONE, HAS_ERRORS, UNUSABLE, INTERRUPTED = 0, 1, 2, 130

FILE = click.Path(path_type=Path)
"""Type of an argument that names a file or folder."""


class Channel:
    """Standard output or standard error.

    Text goes there as it is; rich, which takes a while to load, prints what is more than text.
    """

    def __init__(self, *, error: bool) -> None:
        self._error = error

    @property
    def stream(self) -> TextIO:
        return sys.stderr if self._error else sys.stdout

    @cached_property
    def console(self) -> Console:
        from rich.console import Console

        return Console(stderr=self._error, highlight=False, soft_wrap=True)

    def print(self, text: str = "") -> None:
        """Print a line."""
        print(text, file=self.stream)


out = Channel(error=False)
err = Channel(error=True)


@contextmanager
def progress_bar(title: str) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on a terminal; yields the function that moves it."""
    if not err.stream.isatty():
        yield lambda done, total: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=err.console, transient=True) as progress:
        task = progress.add_task(title, total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)


def print_timings(wanted: bool, seconds: Mapping[str, float]) -> None:
    """Where the time went, if that was asked for."""
    if wanted:
        out.print(f"Time: {as_text(seconds)}")
