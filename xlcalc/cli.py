"""The command line: demo, new, recalc, eval, functions.

Exit codes: 0 done, 1 the workbook or formula has errors (listed), 2 unusable arguments or file.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from xlcalc import __version__, resources
from xlcalc.bulk_commands import Limit, Timings, bulk_app, recalc_many, several
from xlcalc.caution import CAUTION
from xlcalc.choose_command import choose_app
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.host_commands import host_app
from xlcalc.hosts.headless.errors import WorkbookFileError
from xlcalc.submittal_command import submittal_app
from xlcalc.terminal import DONE, HAS_ERRORS, UNUSABLE, err, out, print_timings, progress_bar
from xlcalc.worksheet.values import CellError, ErrorCode, Value

if TYPE_CHECKING:
    from xlcalc.hosts.headless.recalc import RecalculationReport
    from xlcalc.workbooks.summary import Summary

DRIVE_COLUMNS = ("Tag", "Quantity", "Rating", "Unit", "Bus", "Pulses", "Source (%)", "THD (%)", "5th (%)")
DEMOS = {"drives": "drive_study_demo.xlsx", "plant": "plant_study_demo.xlsx"}

app = typer.Typer(
    help=f"Harmonic studies of AC drives in workbooks. {CAUTION}",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.add_typer(host_app)
app.add_typer(bulk_app)
app.add_typer(choose_app)
app.add_typer(submittal_app)

Books = Annotated[
    list[Path], typer.Argument(metavar="BOOK.xlsx...", help="Workbooks, and folders of workbooks.")
]
Output = Annotated[Path | None, typer.Option("-o", "--output", help="Workbook or folder to write.")]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace a file that is there already.")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]
Reasons = Annotated[bool, typer.Option("--reasons", help="Add a sheet with the reason of every error.")]


def _version(wanted: bool) -> None:
    if wanted:
        out.print(f"xlcalc {__version__}")
        raise typer.Exit(DONE)


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Options of the program itself."""


@app.command()
def demo(
    subject: Annotated[
        str, typer.Argument(metavar="[drives|plant]", help="One supply, or a plant as a network of buses.")
    ] = "drives",
    output: Annotated[Path | None, typer.Option("-o", "--output", help="Workbook to write.")] = None,
) -> None:
    """Study an invented site: fill the template, recalculate it, print the result and name the file."""
    from xlcalc.hosts.headless.recalc import recalculate
    from xlcalc.worksheet.catalogue import FUNCTIONS

    if subject not in DEMOS:
        raise InputError("demo", subject, f"one of {', '.join(DEMOS)}", wrong_kind=True)
    book = output or Path(DEMOS[subject])
    _build_demo(subject, book)
    with progress_bar("Solving the drives (the first run also compiles the solver)") as step:
        report = recalculate(book, None, FUNCTIONS, progress=step)
    _print_demo(subject, book)
    _print_report(report, book)
    raise typer.Exit(HAS_ERRORS if report.issues else DONE)


def _build_demo(subject: str, book: Path) -> None:
    if subject == "plant":
        from xlcalc.workbooks.plant_demo import build_plant_demo

        build_plant_demo(book)
    else:
        from xlcalc.workbooks.demo import build_demo

        build_demo(book)


def _print_demo(subject: str, book: Path) -> None:
    if subject == "plant":
        from xlcalc.demo_print import print_plant
        from xlcalc.workbooks.plant_summary import read_plant_summary

        print_plant(read_plant_summary(book))
    else:
        from xlcalc.workbooks.summary import read_summary

        _print_summary(read_summary(book))


@app.command()
def new(
    template: Annotated[str, typer.Argument(metavar="TEMPLATE", help="Name of a shipped template.")],
    output: Annotated[Path, typer.Argument(metavar="OUT.xlsx", help="Workbook to write.")],
    overwrite: Overwrite = False,
) -> None:
    """Copy a template to a new workbook."""
    source = resources.template(template)
    if output.suffix.lower() != ".xlsx":
        raise InputError("OUT.xlsx", str(output), "a file name that ends in .xlsx")
    if output.exists() and not overwrite:
        raise InputError("OUT.xlsx", str(output), "a name that is free, or --overwrite")
    output.write_bytes(source.read_bytes())
    out.print(f"Wrote {output}. Fill in the input cells, then run: xlcalc recalc {output}")


@app.command()
def recalc(
    book: Books,
    output: Output = None,
    reasons: Reasons = False,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with an interrupted run.")] = False,
    workers: Annotated[int | None, typer.Option("--workers", help="Processes for several workbooks.")] = None,
    dask: Annotated[str | None, typer.Option("--dask", help="Dask scheduler to use, or: local.")] = None,
    summary: Annotated[
        Path | None, typer.Option("--summary", help="Also write the results as a table.")
    ] = None,
    limit: Limit = None,
    timings: Timings = False,
) -> None:
    """Evaluate every formula of a workbook, of several, or of all in a folder, and write the values.

    Results go into the workbooks themselves; with -o into another workbook, or for several into a folder.
    """
    if several(book) or resume or dask is not None or summary is not None or limit is not None:
        code = recalc_many(
            book,
            output,
            reasons=reasons,
            resume=resume,
            workers=workers,
            dask=dask,
            summary=summary,
            limit=limit,
            timings=timings,
        )
        raise typer.Exit(code)
    from xlcalc.bulk.book_run import recalculate_timed

    with progress_bar("Recalculating") as step:
        report, seconds = recalculate_timed(book[0], output, progress=step, reasons_sheet=reasons)
    _print_report(report, output or book[0])
    print_timings(timings, seconds)
    raise typer.Exit(HAS_ERRORS if report.issues else DONE)


@app.command("eval")
def evaluate(
    formula: Annotated[str, typer.Argument(metavar="FORMULA", help="Such as '=HD_LIMIT_TDD(60,13.8)'.")],
    as_json: Json = False,
) -> None:
    """Evaluate one formula without a workbook."""
    from xlcalc.hosts.headless.evaluate import evaluate_formula
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
        err.print(f"{value.code}  {value.reason}", markup=False)
    elif isinstance(value, list):
        for row in value:
            print("\t".join(_cell_text(cell) for cell in row))
    else:
        print(_cell_text(value))
    raise typer.Exit(HAS_ERRORS if _has_error(value) else DONE)


@app.command()
def functions(as_json: Json = False) -> None:
    """Print the worksheet functions with their arguments, units and examples."""
    from xlcalc.worksheet.catalogue import FUNCTIONS
    from xlcalc.worksheet.reference import markdown, record

    if as_json:
        print(json.dumps([record(function) for function in FUNCTIONS.values()], indent=2))
    else:
        print(markdown(FUNCTIONS), end="")


def _print_summary(summary: Summary) -> None:
    from rich.table import Table

    drives = Table(box=None, pad_edge=False)
    for heading in DRIVE_COLUMNS:
        drives.add_column(heading, justify="left" if heading in ("Tag", "Bus") else "right")
    for row in summary.drives:
        drives.add_row(*(_shown(row[heading]) for heading in DRIVE_COLUMNS))
    out.print(drives)
    pcc = summary.pcc
    shown = {quantity: _shown(value) for quantity, value in pcc.items()}
    out.print()
    out.print(f"PCC: Isc/IL {shown['ISC_IL']}, demand current {shown['IL']} A")
    out.print(f"TDD {shown['TDD']} % (limit {shown['LIMIT_TDD']} %), worst order {shown['WORST_ORDER']}")
    out.print(f"Voltage THD {shown['THDV']} % (limit {shown['LIMIT_THDV']} %)")
    out.print(f"Verdict: {shown['VERDICT']}; binding: {shown['WORST']}, {_margin(pcc['MARGIN'])}")
    out.print(f"Limit from: {shown['SOURCE']}", markup=False)
    out.print(CAUTION)


def _margin(value: float | str | None) -> str:
    if not isinstance(value, float):
        return _shown(value)
    return f"{abs(value):.1f} % {'below' if value >= 0 else 'above'} its limit"


def _shown(value: float | str | None) -> str:
    return "" if value is None else value if isinstance(value, str) else f"{round(value, 3):.4g}"


def _print_report(report: RecalculationReport, target: Path) -> None:
    from xlcalc.hosts.headless.report import issue_lines

    for line in issue_lines(report.issues):
        err.print(line, markup=False)
    out.print(f"{report.evaluated} formulas evaluated, {len(report.issues)} with errors; wrote {target}")


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
    """Entry point; every refusal is one line on standard error, never a traceback."""
    try:
        app()
    except (InputError, NoSolutionError, WorkbookFileError, OSError) as problem:
        err.print(f"xlcalc: {problem}", markup=False)
        sys.exit(UNUSABLE)
