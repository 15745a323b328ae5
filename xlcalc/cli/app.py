"""The command line: demo, new, recalc, eval, functions.

Exit codes: 0 done, 1 the workbook or formula has errors (listed), 2 unusable arguments or file,
3 a fault of the program, 130 interrupted.
"""

from __future__ import annotations

import io
import json
import logging
import os
import sys
import tempfile
import warnings
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.exceptions import Exit

from xlcalc import __version__
from xlcalc.cli.bulk import (
    DASK_TLS,
    LIMIT,
    TIMINGS,
    VERIFY,
    headings,
    recalc_many,
    schedule,
    several,
    sweep,
)
from xlcalc.cli.choose import choose_command
from xlcalc.cli.faults import one_line, report_fault
from xlcalc.cli.fit import fit_command
from xlcalc.cli.host import host_commands
from xlcalc.cli.measure import measure
from xlcalc.cli.new import new
from xlcalc.cli.samples import add_examples, samples
from xlcalc.cli.submittal import submittal_command
from xlcalc.cli.terminal import (
    DONE,
    FILE,
    HAS_ERRORS,
    INTERRUPTED,
    OVERWRITE,
    UNUSABLE,
    err,
    out,
    print_timings,
    progress_bar,
)
from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.schema.values import CellError, ErrorCode, Value

if TYPE_CHECKING:
    from xlcalc.recalc.recalc import RecalculationReport

DEMOS = {"drives": "drive_study_demo.xlsx", "plant": "plant_study_demo.xlsx"}

_OUTPUT = click.option("-o", "--output", type=FILE, help="Workbook or folder to write.")
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.group(
    help=f"Harmonic studies of AC drives in workbooks. {CAUTION}", context_settings={"show_default": True}
)
@click.version_option(__version__, message="xlcalc %(version)s", help="Print the version.")
@click.option("--debug", is_flag=True, help="Show where the program failed, if it does.")
def app(debug: bool) -> None:
    pass


COMMANDS = (new, host_commands, schedule, headings, sweep, choose_command, submittal_command, measure)
for command in (*COMMANDS, fit_command, samples):
    app.add_command(command)


@app.command()
@click.argument("subject", metavar="[drives|plant]", default="drives")
@click.option("-o", "--output", type=FILE, help="Workbook to write.")
@OVERWRITE
def demo(subject: str, output: Path | None, overwrite: bool) -> None:
    """Study an invented site: fill the template, recalculate it, print the result and name the file.

    The site has one supply (drives) or is a plant as a network of buses (plant).
    """
    from xlcalc.files.outputs import check_outputs
    from xlcalc.recalc.recalc import recalculate
    from xlcalc.worksheet.catalogue import FUNCTIONS

    if subject not in DEMOS:
        raise InputError("demo", subject, f"one of {', '.join(DEMOS)}", wrong_kind=True)
    book = output or Path(DEMOS[subject])
    _check_ending(book, ".xlsx")
    check_outputs([book], overwrite=overwrite)
    with (
        tempfile.TemporaryDirectory() as scratch,
        progress_bar("Solving the drives (the first run also compiles the solver)") as step,
    ):
        filled = Path(scratch, "demo.xlsx")
        _build_demo(subject, filled)
        report = recalculate(filled, book, FUNCTIONS, progress=step)
    _print_demo(subject, book)
    _print_report(report, book)
    raise Exit(DONE if report.clean else HAS_ERRORS)


def _build_demo(subject: str, book: Path) -> None:
    if subject == "plant":
        from xlcalc.workbooks.build import build_plant_demo

        build_plant_demo(book)
    else:
        from xlcalc.workbooks.build import build_demo

        build_demo(book)


def _print_demo(subject: str, book: Path) -> None:
    if subject == "plant":
        from xlcalc.cli.demo_print import print_plant
        from xlcalc.workbooks.plant.plant_summary import read_plant_summary

        print_plant(read_plant_summary(book))
    else:
        from xlcalc.cli.demo_print import print_summary
        from xlcalc.workbooks.drive.summary import read_summary

        print_summary(read_summary(book))


@app.command()
@click.argument("book", metavar="BOOK.xlsx...", nargs=-1, required=True, type=FILE)
@_OUTPUT
@click.option("--reasons", is_flag=True, help="Add a sheet with the reason of every error.")
@click.option("--values", is_flag=True, help="With -o: write values in place of calls of our functions.")
@VERIFY
@click.option("--resume", is_flag=True, help="Go on with an interrupted run.")
@click.option("--workers", type=int, help="Processes for several workbooks.")
@click.option("--dask", help="Address of a Dask scheduler; local means --workers.")
@DASK_TLS
@click.option("--summary", type=FILE, help="Also write the results as a table.")
@_JSON
@LIMIT
@OVERWRITE
@TIMINGS
def recalc(
    book: tuple[Path, ...],
    output: Path | None,
    reasons: bool,
    values: bool,
    verify: bool,
    resume: bool,
    workers: int | None,
    dask: str | None,
    dask_tls: tuple[Path, Path, Path] | None,
    summary: Path | None,
    as_json: bool,
    limit: float | None,
    overwrite: bool,
    timings: bool,
) -> None:
    """Evaluate every formula of a workbook, of several, or of all in a folder, and write the values.

    BOOK.xlsx may be a folder. LibreOffice converts an .ods, .xlsb or .xls file, to an .xlsx beside it
    unless -o names another. Results go into the workbooks themselves; with -o into another workbook, or
    for several into a folder. The input cells that are wrong and the verdict of the workbook are printed.
    With --values the copy can be opened where our functions are missing. Exit code 1: a cell shows an error
    or an input cannot be used; NO VERDICT for other reasons is no error.
    """
    if values and (several(book) or output is None or output.resolve() == book[0].resolve()):
        raise InputError("--values", "given", "given with one workbook and with -o naming another")
    if several(book) or resume or dask is not None or summary is not None or limit is not None:
        code = recalc_many(
            book,
            output,
            reasons=reasons,
            verify=verify,
            resume=resume,
            workers=workers,
            dask=dask,
            summary=summary,
            limit=limit,
            timings=timings,
            as_json=as_json,
            overwrite=overwrite,
            dask_tls=dask_tls,
        )
        raise Exit(code)
    from xlcalc.files.outputs import check_outputs, linked_notes
    from xlcalc.hosts.libreoffice.programs.conversion import FORMATS, as_xlsx
    from xlcalc.jobs.books.book_run import witness_if
    from xlcalc.jobs.books.timed import recalculate_timed

    source = book[0]
    converted = source.suffix.lower() in FORMATS
    if converted:
        output = output or source.with_suffix(".xlsx")
    if output is not None and output.resolve() != source.resolve():
        _check_ending(output, ".xlsx" if converted else source.suffix)
        check_outputs([output], [source], overwrite=overwrite)
    for note in linked_notes([output or source]):
        err.print(f"Note: {note}")
    with ExitStack() as stack:
        witness = stack.enter_context(witness_if(verify))
        if converted:
            source = stack.enter_context(as_xlsx(source, witness))
            err.print(
                f"Note: LibreOffice converted {book[0]}, which stays as it is; compare {output} with it"
            )
        step = stack.enter_context(progress_bar("Recalculating"))
        report, seconds = recalculate_timed(
            source, output, progress=step, reasons_sheet=reasons, witness=witness, constants=values
        )
    if as_json:
        print(json.dumps(report.as_json()))
    else:
        _print_report(report, output or source)
    print_timings(timings and not as_json, seconds)
    raise Exit(DONE if report.clean else HAS_ERRORS)


def _check_ending(output: Path, suffix: str, option: str = "-o") -> None:
    """A workbook under another ending is opened by another program, or by none."""
    if output.suffix.lower() != suffix.lower():
        raise InputError(option, str(output), f"a file name that ends in {suffix.lower()}")


@app.command("eval")
@click.argument("formula", metavar="FORMULA")
@_JSON
def evaluate(formula: str, as_json: bool) -> None:
    """Evaluate one formula without a workbook, such as '=HD_LIMIT_TDD(60,13.8)'."""
    from xlcalc.recalc.evaluate import evaluate_formula
    from xlcalc.worksheet.catalogue import FUNCTIONS

    try:
        value = evaluate_formula(formula, FUNCTIONS)
    except InputError as problem:
        if as_json:
            print(json.dumps({"error": str(ErrorCode.VALUE), "reason": str(problem)}))
        raise
    if as_json:
        print(json.dumps(_jsonable(value)))
    elif isinstance(value, CellError):
        err.print(f"{value.code}  {value.reason}")
    elif isinstance(value, list):
        for row in value:
            print("\t".join(_cell_text(cell) for cell in row))
    else:
        print(_cell_text(value))
    raise Exit(HAS_ERRORS if _has_error(value) else DONE)


@app.command()
@click.argument("name", required=False)
@_JSON
def functions(name: str | None, as_json: bool) -> None:
    """Print the worksheet functions with their arguments, units and examples.

    With NAME that one, or all whose name or summary has the word. Without it, which ordinary functions a
    recalculation evaluates comes last.
    """
    from xlcalc.recalc.evaluation.certified import ordinary_functions
    from xlcalc.worksheet.catalogue import FUNCTIONS
    from xlcalc.worksheet.reference import found_functions, markdown, record

    shown = FUNCTIONS if name is None else found_functions(FUNCTIONS, name)
    if as_json:
        print(json.dumps([record(function) for function in shown.values()], indent=2))
    else:
        print(markdown(shown) if name else f"{markdown(shown)}\n{ordinary_functions()}", end="")


add_examples(app)


def _print_report(report: RecalculationReport, target: Path) -> None:
    for line in report.lines():
        err.print(line)
    if report.verification is not None:
        for line in report.verification.lines():
            out.print(line)
    if report.verdicts:
        out.print(report.verdict_line())
    out.print(f"{report.summary()}; wrote {target}")
    for note in report.notes:
        out.print(f"Note: {note}.")


def _jsonable(value: Value) -> object:
    if isinstance(value, CellError):
        return {"error": str(value.code), "reason": value.reason}
    if isinstance(value, list):
        return [[_jsonable(cell) for cell in row] for row in value]
    return value


def _has_error(value: Value) -> bool:
    if isinstance(value, list):
        return any(_has_error(cell) for row in value for cell in row)
    return isinstance(value, CellError)


def _cell_text(cell: Value) -> str:
    if cell is None:
        return ""
    if isinstance(cell, CellError):
        return str(cell.code)
    if isinstance(cell, bool):
        return str(cell).upper()
    return f"{cell:.10g}" if isinstance(cell, float) else str(cell)


def main() -> None:
    """Entry point; every refusal is one line on standard error, and so is a fault of the program."""
    arguments = sys.argv[1:]
    debug = "--debug" in arguments
    _prepare_channels()
    warnings.filterwarnings("ignore", category=UserWarning, module=r"openpyxl\.")
    if not debug:
        warnings.simplefilter("ignore", RuntimeWarning)
    try:
        code = app.main([text for text in arguments if text != "--debug"], standalone_mode=False)
        sys.stdout.flush()
    except (click.Abort, KeyboardInterrupt):
        err.print("Interrupted.")
        code = INTERRUPTED
    except click.ClickException as problem:
        problem.show()
        code = problem.exit_code
    except BrokenPipeError:
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
        code = UNUSABLE
    except (InputError, NoSolutionError, WorkbookFileError, OSError) as problem:
        err.print(f"xlcalc: {one_line(problem)}")
        code = UNUSABLE
    except MemoryError:
        err.print("xlcalc: the memory is not enough for this; nothing was written half")
        code = UNUSABLE
    except Exception as problem:
        if isinstance(problem.__cause__, KeyboardInterrupt):  # while a class was being made
            err.print("Interrupted.")
            code = INTERRUPTED
        else:
            code = report_fault(problem, arguments, debug=debug)
    sys.exit(code)


def _prepare_channels() -> None:
    """A sign that a channel cannot show is written as its number; a closed channel takes nothing."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    if err.stream.isatty():
        logging.basicConfig(format="%(message)s")
        logging.getLogger("xlcalc").setLevel(logging.INFO)
