"""What all commands print with: the two channels, exit codes, the progress bar."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from xlcalc.core.progress import as_text
from xlcalc.io.lists.numerals import Decimal

if TYPE_CHECKING:
    from rich.console import Console

DONE, HAS_ERRORS, UNUSABLE, INTERRUPTED = 0, 1, 2, 130

OVERWRITE = click.option("--overwrite", is_flag=True, help="Replace files that are there already.")

SHEET = click.option("--sheet", help="Sheet that holds the drives.")
DECIMAL = click.option(
    "--decimal", type=click.Choice([sign.value for sign in Decimal]), help="Decimal sign: point or comma."
)
ENCODING = click.option("--encoding", help="Encoding of a CSV file, such as cp1252.")

FILE = click.Path(path_type=Path)
"""Type of an argument that names a file or folder."""

PLOTS = click.option(
    "--plots", metavar="DIR", type=FILE, help="Also write the pictures there, as SVG and PNG."
)


class OutputChannel:
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


out = OutputChannel(error=False)
err = OutputChannel(error=True)


@dataclass(frozen=True)
class Bar:
    """A progress bar; called with what is done and the whole, None where the whole is unknown."""

    show: Callable[[str, int, int | None], None]
    title: str

    def __call__(self, done: int, total: int | None) -> None:
        self.show(self.title, done, total)

    def titled(self, title: str) -> Bar:
        """The same bar for another stage of the work."""
        return Bar(self.show, title)


@contextmanager
def progress_bar(title: str) -> Iterator[Bar]:
    """A progress bar on a terminal; yields the function that moves it."""
    if not err.stream.isatty():
        yield Bar(lambda title, done, total: None, title)
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=err.console, transient=True) as progress:
        tasks = {title: progress.add_task(title, total=None)}

        def show(title: str, done: int, total: int | None) -> None:
            is_new = title not in tasks
            if is_new:
                progress.remove_task(tasks.popitem()[1])
                tasks[title] = progress.add_task(title, total=None)
            progress.update(tasks[title], completed=done, total=total, refresh=is_new)

        yield Bar(show, title)


def print_timings(wanted: bool, seconds: Mapping[str, float]) -> None:
    """Where the time went, if that was asked for."""
    if wanted:
        out.print(f"Time: {as_text(seconds)}")
