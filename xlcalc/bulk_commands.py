"""The commands for whole schedules, sweeps and many workbooks.

Exit codes: 0 done, 1 something is missing or has errors (listed), 2 unusable arguments or file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import pandas as pd
import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from xlcalc.bulk.book_files import find_books
from xlcalc.bulk.book_run import CLEAN, FAILED, WITH_ERRORS, BookResult, recalculate_many
from xlcalc.bulk.dask_pool import dask_pool
from xlcalc.bulk.headings import list_of_headings
from xlcalc.bulk.journal import NAME, Journal
from xlcalc.bulk.numerals import Decimal
from xlcalc.bulk.output import check_output, write_tables
from xlcalc.bulk.pools import Pool, default_workers, local_pool
from xlcalc.bulk.result_tables import ResultTables
from xlcalc.bulk.site_file import Site, read_site
from xlcalc.bulk.stopwatch import Stopwatch, as_text
from xlcalc.bulk.units import units_of
from xlcalc.errors import InputError
from xlcalc.worksheet.functions.plant_fields import DRIVES
from xlcalc.worksheet.reference import CAUTION

DONE, HAS_ERRORS, INTERRUPTED = 0, 1, 130

OTHER_COLUMNS = {
    "unit": "Unit of the rating, kW or hp; needed unless the heading or the cells of the rating say it",
    "site": "Name of the site file, without its ending; needed with several sites only",
    "description": "Any text, carried into the results",
    "volts": "Rated voltage, within 10 % of that of the bus; finds the bus where none is named",
}

bulk_app = typer.Typer(rich_markup_mode=None)
out = Console(highlight=False, soft_wrap=True)
err = Console(stderr=True, highlight=False, soft_wrap=True)

Drives = Annotated[Path, typer.Argument(metavar="DRIVES", help="Schedule: .csv, .xlsx or .xlsm.")]
SiteFiles = Annotated[
    list[Path],
    typer.Option("--site", help="Site: .toml, .csv, .xlsx, .xlsm; once per site."),
]
OneSite = Annotated[Path, typer.Option("--site", help="Site: .toml, .csv, .xlsx or .xlsm.")]
TableFile = Annotated[Path, typer.Option("-o", "--output", help="Result: .xlsx, .csv or .parquet.")]
Sheet = Annotated[str | None, typer.Option("--sheet", help="Sheet that holds the schedule.")]
DecimalSign = Annotated[Decimal | None, typer.Option("--decimal", help="Decimal sign: point or comma.")]
Encoding = Annotated[str | None, typer.Option("--encoding", help="Encoding of a CSV file, such as cp1252.")]
Workers = Annotated[
    int | None, typer.Option("--workers", help="Number of processes; one uses all processors already.")
]
Dask = Annotated[str | None, typer.Option("--dask", help="Address of a Dask scheduler, or: local.")]
Timings = Annotated[bool, typer.Option("--timings", help="Print where the time went.")]


@bulk_app.command()
def schedule(
    drives: Drives,
    site: SiteFiles,
    output: TableFile,
    sheet: Sheet = None,
    decimal: DecimalSign = None,
    encoding: Encoding = None,
    timings: Timings = False,
) -> None:
    """Solve a whole drive schedule: results per drive, bus and site, and every bad row by row and column."""
    from xlcalc.bulk.schedule_run import run_schedule

    check_output(output, [drives, *site])
    clock = Stopwatch()
    with clock.stage("read"):
        sites = _read_sites(site, decimal)
    with progress_bar("Solving kinds of drives") as step:
        read, tables = run_schedule(
            drives, sites, sheet=sheet, decimal=decimal, encoding=encoding, progress=step, clock=clock
        )
    with clock.stage("write"):
        written = write_tables(tables.named(), output)
    for problem in read.problems:
        err.print(str(problem), markup=False)
    for remark in read.remarks:
        out.print(f"Note: {remark}", markup=False)
    _print_sites(tables)
    out.print("Wrote " + ", ".join(str(path) for path in written), markup=False)
    out.print(CAUTION)
    print_timings(timings, clock.seconds)
    raise typer.Exit(DONE if tables.complete else HAS_ERRORS)


@bulk_app.command()
def headings() -> None:
    """Print the columns of a schedule with the headings and units that are understood."""
    fields = {field.name: field for field in DRIVES.fields}
    for name, known in list_of_headings().items():
        meaning = OTHER_COLUMNS[name] if name in OTHER_COLUMNS else fields[name].help
        out.print(f"{name}: {meaning}", markup=False)
        out.print(f"  headings: {', '.join(known)}", markup=False)
        units = units_of(name)
        if units:
            out.print(f"  units: {', '.join(units)}", markup=False)


@bulk_app.command()
def sweep(
    drives: Drives,
    site: OneSite,
    spec: Annotated[Path, typer.Option("--spec", help="What varies: a TOML file.")],
    output: TableFile,
    samples: Annotated[int | None, typer.Option("--samples", help="Number of combinations.")] = None,
    seed: Annotated[int | None, typer.Option("--seed", help="Seed of the Latin hypercube.")] = None,
    sheet: Sheet = None,
    decimal: DecimalSign = None,
    encoding: Encoding = None,
    workers: Workers = None,
    dask: Dask = None,
    timings: Timings = False,
) -> None:
    """Solve a schedule for many combinations of uncertain inputs: P50, P95, worst, and what matters most."""
    from xlcalc.bulk.sweep_job import SweepJob

    check_output(output, [drives, site, spec])
    job = SweepJob(drives, site, spec, samples, seed, sheet, decimal, encoding)
    job.read()
    for problem in job.schedule.problems:
        err.print(str(problem), markup=False)
    count = workers if workers is not None or dask is not None else 1
    with open_pool(count, dask, job.tasks) as pool, progress_bar("Solving combinations") as step:
        result = job.run(pool, step)
    written = job.write(result, output)
    for line in result.lines():
        out.print(line, markup=False)
    out.print("Wrote " + ", ".join(str(path) for path in written), markup=False)
    out.print(CAUTION)
    print_timings(timings, job.clock.seconds)
    raise typer.Exit(DONE if result.complete else HAS_ERRORS)


def recalc_many(
    given: Sequence[Path],
    output: Path | None,
    *,
    reasons: bool,
    resume: bool,
    workers: int | None,
    dask: str | None,
    summary: Path | None,
    timings: bool,
) -> int:
    """Recalculate files and folders; prints a line per workbook and gives the exit code."""
    books = find_books(given, output)
    if summary is not None:
        check_output(summary, [path for book in books for path in (book.source, book.target)])
    journal_file = (output or Path()) / NAME
    where = str(output.resolve()) if output else "in place"
    journal = Journal(journal_file, {"reasons": reasons, "output": where})
    try:
        with (
            open_pool(workers, dask, len(books)) as pool,
            progress_bar("Recalculating workbooks") as step,
        ):
            results = recalculate_many(
                books, pool, journal, reasons=reasons, resume=resume, finished=_reporter(step)
            )
    except KeyboardInterrupt:
        err.print(f"Interrupted. Go on with --resume; {journal_file} holds what is done.", markup=False)
        return INTERRUPTED
    _print_books(results)
    if summary is not None:
        write_tables({"workbooks": _book_table(results)}, summary)
        out.print(f"Wrote {summary}", markup=False)
    print_timings(timings, _added(results))
    return DONE if all(r.outcome == CLEAN for r in results) else HAS_ERRORS


def several(given: Sequence[Path]) -> bool:
    """True where the files given are not just one workbook."""
    return len(given) > 1 or given[0].is_dir()


@contextmanager
def open_pool(workers: int | None, dask: str | None, tasks: int) -> Iterator[Pool]:
    """Where the work is done: local processes, or Dask."""
    if workers is not None and workers < 1:
        raise InputError("--workers", workers, "1 or more")
    count = workers or default_workers()
    if dask is None:
        yield local_pool(count, tasks)
        return
    with dask_pool(dask, count) as pool:
        yield pool


@contextmanager
def progress_bar(title: str) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on the terminal; yields the function that moves it."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=err, transient=True) as progress:
        task = progress.add_task(title, total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)


def print_timings(wanted: bool, seconds: Mapping[str, float]) -> None:
    """Where the time went, if that was asked for."""
    if wanted:
        out.print(f"Time: {as_text(seconds)}")


def _read_sites(files: Sequence[Path], decimal: Decimal | None) -> list[Site]:
    sites = [read_site(path, decimal) for path in files]
    names = [site.name.casefold() for site in sites]
    twice = next((site.name for site in sites if names.count(site.name.casefold()) > 1), None)
    if twice is not None:
        raise InputError("--site", f"{twice} twice", "files of different names, which name the sites")
    return sites


def _print_sites(tables: ResultTables) -> None:
    for row in tables.sites.to_dict("records"):
        out.print(
            f"{row['site']}: {row['rows']} rows, {row['rows solved']} solved, "
            f"{row['rows rejected']} rejected, {row['rows without stable solution']} without stable solution",
            markup=False,
        )
        if row["what is missing"]:
            out.print(f"  Missing: {row['what is missing']}", markup=False)
        out.print(
            f"  TDD {_number(row['tdd pct'])} % (limit {_number(row['limit tdd pct'])} %), "
            f"voltage THD {_number(row['thdv pct'])} % (limit {_number(row['limit thdv pct'])} %), "
            f"Isc/IL {_number(row['isc/il'])}"
        )
        out.print(f"  Verdict: {row['verdict']}; binding: {row['binding']}", markup=False)


def _number(value: float) -> str:
    return "-" if pd.isna(value) else f"{value:.4g}"


def _reporter(step: Callable[[int, int], None]) -> Callable[[BookResult, int, int], None]:
    def report(result: BookResult, done: int, total: int) -> None:
        step(done, total)
        for issue in result.issues:
            err.print(f"{result.file}: {issue}", markup=False)
        if result.outcome == FAILED:
            err.print(f"failed: {result.reason}", markup=False)

    return report


def _print_books(results: Sequence[BookResult]) -> None:
    table = Table(box=None, pad_edge=False)
    for heading in ("Workbook", "Outcome", "Formulas", "Errors", "Kept", "Calls", "Seconds"):
        table.add_column(heading, justify="left" if heading in ("Workbook", "Outcome") else "right")
    for r in results:
        numbers = (r.formulas, r.errors, r.refused, r.own_calls)
        table.add_row(Text(r.file), r.outcome, *map(str, numbers), f"{sum(r.seconds.values()):.2f}")
    out.print(table)
    counts = {
        outcome: sum(r.outcome == outcome for r in results) for outcome in ("clean", WITH_ERRORS, FAILED)
    }
    out.print(
        f"{len(results)} workbooks: {counts[CLEAN]} clean, {counts[WITH_ERRORS]} with errors, "
        f"{counts[FAILED]} failed"
    )


def _book_table(results: Sequence[BookResult]) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "workbook": r.file,
                "written": r.target if r.outcome != FAILED else "",
                "outcome": r.outcome,
                "formulas": r.formulas,
                "errors": r.errors,
                "kept old value": r.refused,
                "calls of xlcalc functions": r.own_calls,
                "seconds": sum(r.seconds.values()),
                "reason": r.reason or " | ".join(r.issues),
            }
            for r in results
        ]
    )


def _added(results: Sequence[BookResult]) -> dict[str, float]:
    seconds: dict[str, float] = {}
    for result in results:
        for stage, value in result.seconds.items():
            seconds[stage] = seconds.get(stage, 0.0) + value
    return seconds
