"""What the commands of these names do, with tables as results."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from xlcalc.core.errors import InputError

if TYPE_CHECKING:
    from xlcalc.jobs.sweep.sweep_job import SweepResult
    from xlcalc.mitigation.choice import ChosenMix
    from xlcalc.recalc.report import RecalculationReport

File = str | Path


def recalculate(path: File, output: File | None = None) -> RecalculationReport:
    """Evaluate every formula of a workbook and write its values, without a spreadsheet program.

    Parameters
    ----------
    path : str or Path
        .xlsx or .xlsm.
    output : str or Path, optional
        The file to write; by default the workbook itself. It appears complete or not at all.

    Returns
    -------
    RecalculationReport
        What was evaluated, errors and refusals with sheet, cell and reason, and the verdicts.

    Raises
    ------
    InputError
        The output is a file that xlcalc did not make.
    WorkbookFileError
        The workbook cannot be read or written.
    """
    from xlcalc.files.outputs import check_outputs
    from xlcalc.recalc.recalc import recalculate as recalculated
    from xlcalc.worksheet.catalogue import FUNCTIONS

    source, target = Path(path), None if output is None else Path(output)
    if target is not None:
        check_outputs([target], [source], overwrite=False, option="output")
    return recalculated(source, target, FUNCTIONS)


def sweep(
    drives: File,
    site: File,
    spec: File,
    *,
    samples: int | None = None,
    seed: int | None = None,
    workers: int = 1,
) -> SweepResult:
    """Solve a schedule for many combinations of uncertain inputs.

    Parameters
    ----------
    drives, site, spec : str or Path
        Schedule, site or plant, and what varies (.toml).
    samples, seed : int, optional
        Replace those of `spec`.
    workers : int
        Processes.

    Returns
    -------
    SweepResult
        DataFrames `samples`, `levels` (P50, P95, worst) and `ranks` (rank correlations).

    Raises
    ------
    InputError, WorkbookFileError
        A file cannot be used.
    """
    from xlcalc.jobs.pools import local_pool
    from xlcalc.jobs.sweep.sweep_job import SweepJob

    if workers < 1:
        raise InputError("workers", workers, "1 or more")
    job = SweepJob(Path(drives), Path(site), Path(spec), samples, seed)
    job.read()
    return job.run(local_pool(workers, job.tasks))


def choose(
    *sites: File,
    drives: File | None = None,
    terms: File | None = None,
    options: File | None = None,
    prices: File | None = None,
    residuals: File | None = None,
) -> ChosenMix:
    """The cheapest mix of front ends and remedies that meets the limits in every case.

    Parameters
    ----------
    *sites : str or Path
        A workbook of the template choice_study, which holds everything; or a plant of buses (.toml); or
        states of one site.
    drives, terms, options, prices, residuals : str or Path, optional
        As the options of `xlcalc choose`.

    Returns
    -------
    Choice
        With `passes`, `summary`, `mix_table()` and what proves it.

    Raises
    ------
    InputError, WorkbookFileError
        A file is missing, superfluous or cannot be used.
    """
    from xlcalc.jobs.choice.answer import answer
    from xlcalc.jobs.choice.question import Files, question_of

    if not sites:
        raise InputError("sites", None, "one file or more")
    files = Files(
        *(None if one is None else Path(one) for one in (drives, terms, options, prices, residuals))
    )
    return answer(question_of([Path(site) for site in sites], files))
