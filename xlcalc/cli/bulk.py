"""The commands for whole schedules, sweeps and many workbooks.

Exit codes: 0 done, 1 something is missing or has errors (listed), 2 unusable arguments or file.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.exceptions import Exit

from xlcalc.cli.terminal import (
    DECIMAL,
    DONE,
    ENCODING,
    FILE,
    HAS_ERRORS,
    INTERRUPTED,
    OVERWRITE,
    PLOTS,
    SHEET,
    err,
    out,
    print_timings,
    progress_bar,
)
from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError
from xlcalc.core.progress import Stopwatch
from xlcalc.io.lists.numerals import Decimal
from xlcalc.io.lists.problems import listed

if TYPE_CHECKING:
    from xlcalc.io.plants.plant_file import PlantSite
    from xlcalc.io.plants.site import Site
    from xlcalc.jobs.pools import Pool

BOOK_SECONDS = 600.0
"""A workbook of several that takes longer is given up, so that the rest is done; the largest of the
benchmarks take seconds."""

OTHER_COLUMNS = {
    "unit": "Unit of the rating, kW or hp; needed unless the heading or the cells of the rating say it",
    "site": "Name of the site file, without its ending; needed with several sites only",
    "description": "Any text, carried into the results",
    "volts": "Rated voltage, within 10 % of that of the bus; finds the bus where none is named",
}

_DRIVES = click.argument("drives", metavar="DRIVES", type=FILE)
_RESULT = click.option("-o", "--output", required=True, type=FILE, help="Result: .xlsx, .csv or .parquet.")
LOCAL = "local"
DASK_TLS = click.option(
    "--dask-tls", nargs=3, type=FILE, metavar="CA CERT KEY", help="Files for a scheduler at tls://."
)
TIMINGS = click.option("--timings", is_flag=True, help="Print where the time went.")
VERIFY = click.option(
    "--verify", is_flag=True, help="Let LibreOffice compute a copy; a cell that differs is refused."
)
LIMIT = click.option(
    "--limit",
    type=click.FloatRange(1.0),
    help="Seconds for each workbook; 600 for several unless given.",
)


@click.command()
@_DRIVES
@click.option(
    "--site",
    multiple=True,
    required=True,
    type=FILE,
    help="Site or plant of buses: .toml, .xlsx, .xlsm; a site also .csv; once per site.",
)
@_RESULT
@click.option(
    "--solution",
    type=click.Choice(["auto", "coupled", "quick"]),
    default="auto",
    help="Of a site: auto couples up to 30 kinds of drives; the quick estimate gives no verdict.",
)
@SHEET
@DECIMAL
@ENCODING
@PLOTS
@OVERWRITE
@TIMINGS
def schedule(
    drives: Path,
    site: tuple[Path, ...],
    output: Path,
    solution: str,
    sheet: str | None,
    decimal: str | None,
    encoding: str | None,
    plots: Path | None,
    overwrite: bool,
    timings: bool,
) -> None:
    """Solve a whole drive schedule: results per drive, bus and site, and every bad row by row and column.

    DRIVES is the schedule: .csv, .txt, .tsv, .xlsx, .xlsm, .ods or .parquet.
    """
    from xlcalc.cli.plots import check_folder, of_schedule, write_pictures
    from xlcalc.io.results.outcome_sheet import add_outcome
    from xlcalc.io.results.output import check_output, write_tables
    from xlcalc.jobs.schedule.result_tables import TABLES, site_lines
    from xlcalc.jobs.schedule.schedule_run import run_schedule
    from xlcalc.jobs.schedule.site_run import Solution

    check = partial(check_output, output, [drives, *site], tables=TABLES, overwrite=overwrite)
    check()
    check_folder(plots, overwrite=overwrite)
    clock = Stopwatch()
    sign = Decimal(decimal) if decimal else None
    with clock.stage("read"):
        sites = _read_sites(site, sign)
    with progress_bar("Solving kinds of drives") as step:
        read, tables = run_schedule(
            drives,
            sites,
            sheet=sheet,
            decimal=sign,
            encoding=encoding,
            progress=step,
            coupling=lambda case, solved: step.titled(f"Coupling {case}: drives solved")(solved, None),
            clock=clock,
            solution=Solution(solution),
        )
    with clock.stage("write"):
        check()
        title = f"Results of {drives.name}"
        written = write_tables(
            tables.named(),
            output,
            lambda book: add_outcome(book, title, [*site_lines(tables), CAUTION], tables.orders, tables.year),
        )
    for line in listed(read.problems):
        err.print(line)
    for remark in read.remarks:
        out.print(f"Note: {remark}")
    for line in site_lines(tables):
        out.print(line)
    out.print("Wrote " + ", ".join(str(path) for path in written))
    if plots is not None:
        out.print(write_pictures(plots, of_schedule(tables.runs), [drives, *site]))
    out.print(CAUTION)
    print_timings(timings, clock.seconds)
    raise Exit(DONE if tables.complete else HAS_ERRORS)


@click.command()
def headings() -> None:
    """Print the columns of a schedule with the headings and units that are understood."""
    from xlcalc.io.lists.headings import list_of_headings
    from xlcalc.io.lists.units import units_of
    from xlcalc.schema.inputs.drive import DRIVES

    fields = {field.name: field for field in DRIVES.fields}
    for name, known in list_of_headings().items():
        meaning = OTHER_COLUMNS[name] if name in OTHER_COLUMNS else fields[name].help
        out.print(f"{name}: {meaning}")
        out.print(f"  headings: {', '.join(known)}")
        units = units_of(name)
        if units:
            out.print(f"  units: {', '.join(units)}")


@click.command()
@_DRIVES
@click.option(
    "--site", required=True, type=FILE, help="Site or plant of buses: .toml, .xlsx, .xlsm; a site also .csv."
)
@click.option("--spec", required=True, type=FILE, help="What varies: TOML, such as demo/sweep.toml.")
@_RESULT
@click.option("--samples", type=int, help="Number of combinations.")
@click.option("--seed", type=int, help="Seed of the Latin hypercube.")
@SHEET
@DECIMAL
@ENCODING
@click.option("--workers", type=int, help="Number of processes; one uses all processors already.")
@click.option("--dask", help="Address of a Dask scheduler; local means --workers.")
@DASK_TLS
@click.option("--resume", is_flag=True, help="Go on with an interrupted run.")
@PLOTS
@OVERWRITE
@TIMINGS
def sweep(
    drives: Path,
    site: Path,
    spec: Path,
    output: Path,
    samples: int | None,
    seed: int | None,
    sheet: str | None,
    decimal: str | None,
    encoding: str | None,
    workers: int | None,
    dask: str | None,
    dask_tls: tuple[Path, Path, Path] | None,
    resume: bool,
    plots: Path | None,
    overwrite: bool,
    timings: bool,
) -> None:
    """Solve a schedule for many combinations of uncertain inputs: P50, P95, worst, and what matters most.

    DRIVES is the schedule: .csv, .txt, .tsv, .xlsx, .xlsm, .ods or .parquet.
    """
    from xlcalc.cli.plots import check_folder, of_sweep, write_pictures
    from xlcalc.io.results.output import check_output
    from xlcalc.jobs.sweep.sweep_job import TABLES, SweepJob, journal_path

    check = partial(
        check_output,
        output,
        [drives, site, spec],
        tables=TABLES,
        beside=[journal_path(output)],
        overwrite=overwrite,
    )
    check()
    check_folder(plots, overwrite=overwrite)
    sign = Decimal(decimal) if decimal else None
    job = SweepJob(
        drives, site, spec, samples=samples, seed=seed, sheet=sheet, decimal=sign, encoding=encoding
    )
    job.read()
    for line in listed(job.schedule.problems):
        err.print(line)
    for note in job.notes:
        out.print(note)
    count = workers if workers is not None or dask is not None else 1
    journal = job.journal(output)
    try:
        with (
            open_pool(count, dask, job.tasks, tls=dask_tls) as pool,
            progress_bar("Solving combinations") as step,
        ):
            result = job.run(pool, step, journal, resume)
    except KeyboardInterrupt:
        err.print(f"Interrupted. Go on with --resume; {journal.path} holds what is done.")
        raise Exit(INTERRUPTED) from None
    check()
    written = job.write(result, output)
    for line in result.lines():
        out.print(line)
    out.print("Wrote " + ", ".join(str(path) for path in written))
    if plots is not None:
        out.print(write_pictures(plots, of_sweep(result), [drives, site, spec]))
    out.print(CAUTION)
    print_timings(timings, job.clock.seconds)
    raise Exit(DONE if result.complete else HAS_ERRORS)


def recalc_many(
    given: Sequence[Path],
    output: Path | None,
    *,
    reasons: bool,
    verify: bool,
    resume: bool,
    workers: int | None,
    dask: str | None,
    summary: Path | None,
    limit: float | None,
    timings: bool,
    as_json: bool = False,
    overwrite: bool = False,
    dask_tls: tuple[Path, Path, Path] | None = None,
) -> int:
    """Recalculate files and folders; prints a line per workbook and gives the exit code."""
    from xlcalc.files.outputs import check_outputs, linked_notes
    from xlcalc.io.results.output import check_output, write_tables
    from xlcalc.jobs.books.book_files import find_books, passed_over
    from xlcalc.jobs.books.book_run import CLEAN, check_verifying, recalculate_many
    from xlcalc.jobs.books.book_table import added, book_printer, book_table, print_books
    from xlcalc.jobs.journal import NAME, Journal

    if verify:
        check_verifying()
    if limit is not None and dask is not None:
        raise InputError("--limit", limit, "no --dask beside it, whose workers cannot be ended one by one")
    books = find_books(given, output)
    earlier = passed_over(given, output)
    if earlier:
        err.print(f"Note: {earlier} workbooks in the output folder {output} are taken for earlier results")
    journal_file = (output or Path()) / NAME
    sources = [book.source for book in books]
    copies = [book.target for book in books if book.target.resolve() != book.source.resolve()]
    existing = [path for path in (*copies, journal_file) if os.path.lexists(path)]
    check_outputs(existing, sources, overwrite=overwrite)
    if summary is not None:
        read = [*sources, *copies, journal_file]
        check_output(summary, read, tables=["workbooks"], overwrite=overwrite, option="--summary")
    for note in linked_notes(book.target for book in books):
        err.print(f"Note: {note}")
    where = str(output.resolve()) if output else "in place"
    journal = Journal(journal_file, {"reasons": reasons, "verify": verify, "output": where})
    try:
        with (
            open_pool(workers, dask, len(books), limit or (None if dask else BOOK_SECONDS), dask_tls) as pool,
            progress_bar("Recalculating workbooks") as step,
        ):
            results = recalculate_many(
                books,
                pool,
                journal,
                reasons=reasons,
                verify=verify,
                resume=resume,
                finished=book_printer(err.console, step),
            )
    except KeyboardInterrupt:
        err.print(f"Interrupted. Go on with --resume; {journal_file} holds what is done.")
        return INTERRUPTED
    if as_json:
        print(json.dumps({"workbooks": [asdict(result) for result in results]}))
    else:
        print_books(results, out.console)
    if summary is not None:
        write_tables({"workbooks": book_table(results)}, summary)
        (err if as_json else out).print(f"Wrote {summary}")
    print_timings(timings and not as_json, added(results))
    return DONE if all(r.outcome == CLEAN for r in results) else HAS_ERRORS


def several(given: Sequence[Path]) -> bool:
    """True where the files given are not just one workbook."""
    return len(given) > 1 or given[0].is_dir()


@contextmanager
def open_pool(
    workers: int | None,
    dask: str | None,
    tasks: int,
    limit: float | None = None,
    tls: tuple[Path, Path, Path] | None = None,
) -> Iterator[Pool]:
    """Where the work is done: local processes, with a limit in seconds for each task, or Dask.

    ``local`` in place of an address means local processes: a scheduler of Dask would open ports behind which
    every user of the machine could run programs.
    """
    from xlcalc.jobs.dask_pool import dask_pool
    from xlcalc.jobs.pools import default_workers, local_pool

    if workers is not None and workers < 1:
        raise InputError("--workers", workers, "1 or more")
    count = workers or default_workers()
    if dask is None or dask == LOCAL:
        if tls is not None:
            raise InputError("--dask-tls", str(tls[0]), "--dask with the address of a scheduler")
        yield local_pool(count, tasks, limit)
        return
    with dask_pool(dask, tls) as pool:
        yield pool


def _read_sites(files: Sequence[Path], decimal: Decimal | None) -> list[Site | PlantSite]:
    from xlcalc.io.plants.site_file import read_drive_site

    sites = [read_drive_site(path, decimal) for path in files]
    names = [site.name.casefold() for site in sites]
    twice = next((site.name for site in sites if names.count(site.name.casefold()) > 1), None)
    if twice is not None:
        raise InputError("--site", f"{twice} twice", "files of different names, which name the sites")
    return sites
