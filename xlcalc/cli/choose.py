"""The command that chooses the mitigation.

Exit codes: 0 a mix passes, 1 none does (the nearest is written), 2 unusable arguments or file.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.exceptions import Exit

from xlcalc.cli.terminal import DONE, FILE, OVERWRITE, PLOTS, err, out
from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError

if TYPE_CHECKING:
    from xlcalc.io.lists.schedule import Schedule
    from xlcalc.mitigation.choice import ChosenMix

NOTHING_PASSES = 1


@click.command("choose")
@click.argument("sites", metavar="SITE...", nargs=-1, required=True, type=FILE)
@click.option("-o", "--output", required=True, type=FILE, help="Workbook to write.")
@click.option("--drives", type=FILE, help="Schedule: any table that `schedule` takes.")
@click.option("--terms", type=FILE, help="Tariff, margin, pins, cases: .toml, or a choice_study workbook.")
@click.option("--options", type=FILE, help="Options: a table, or a workbook with all of them.")
@click.option("--prices", type=FILE, help="Prices by rating: a table.")
@click.option("--residuals", type=FILE, help="Residual spectra: a table.")
@click.option("--spec", type=FILE, help="Uncertain inputs, as of a sweep: .toml; tells robustness.")
@click.option("--gap", type=click.FloatRange(0.0, 50.0), help="Proof gap that is enough, %; 0.5 if left out.")
@click.option("--seconds", type=click.FloatRange(1.0), help="Time for the main search, s; 40 if left out.")
@click.option("--front", type=click.IntRange(0, 40), default=9, help="Points of cost against TDD.")
@click.option("--runners", type=click.IntRange(0, 20), default=3, help="Next best mixes to list.")
@click.option(
    "--apply",
    "study",
    metavar="STUDY.xlsx",
    type=FILE,
    help="Also write the study of the mix: a drive_study.",
)
@PLOTS
@OVERWRITE
def choose_command(
    sites: tuple[Path, ...],
    output: Path,
    drives: Path | None,
    terms: Path | None,
    options: Path | None,
    prices: Path | None,
    residuals: Path | None,
    spec: Path | None,
    gap: float | None,
    seconds: float | None,
    front: int,
    runners: int,
    study: Path | None,
    plots: Path | None,
    overwrite: bool,
) -> None:
    """Choose the cheapest mix of front ends and remedies that meets the limits in every case.

    SITE is a workbook of the template choice_study, which holds everything; or a plant of buses: .toml; or
    states of one site: .toml, .csv, .xlsx, .xlsm.
    """
    from xlcalc.cli.plots import check_folder, of_choice, write_pictures
    from xlcalc.files.outputs import check_outputs
    from xlcalc.jobs.choice.answer import answer
    from xlcalc.jobs.choice.question import Files, question_of
    from xlcalc.workbooks.choice.choice_book import check_target, write_choice

    check_target(output)
    files = [drives, terms, options, prices, residuals, spec]
    read = [*sites, *(path for path in files if path is not None)]
    outputs = [output] if study is None else [output, study]
    if study is not None:
        check_target(study)
        if len(sites) != 1 or drives is None:
            raise InputError("--apply", str(study), "used with one SITE and --drives")
    check_outputs(outputs, read, overwrite=overwrite)
    check_folder(plots, overwrite=overwrite)
    asked = question_of(
        list(sites),
        Files(drives=drives, terms=terms, options=options, prices=prices, residuals=residuals, spec=spec),
    )
    with err.console.status("Solving") as status:
        choice = answer(
            asked,
            gap_pct=gap,
            seconds=seconds,
            front_points=front,
            runners=runners,
            say=lambda text: status.update(text.capitalize()),
        )
    check_outputs(outputs, read, overwrite=overwrite)
    write_choice(choice, output)
    _print(choice)
    out.print(f"Wrote {output}")
    if plots is not None:
        out.print(write_pictures(plots, of_choice(choice), read))
    if study is not None and drives is not None:
        _apply(choice, sites[0], drives, study)
    out.print(CAUTION)
    raise Exit(DONE if choice.passes and not choice.reason else NOTHING_PASSES)


def _apply(choice: ChosenMix, site: Path, drives: Path, study: Path) -> None:
    """Write the study of the mix."""
    from xlcalc.cli.new import drive_study, read_list
    from xlcalc.core import resources
    from xlcalc.jobs.choice.apply import applied

    def read(where: Any) -> Schedule:
        return read_list(drives, where, None, None, None)

    todo = drive_study(
        resources.template("drive_study"), study, site, read, lambda rows: applied(choice, rows)
    )
    out.print(f"Wrote {study}{todo}: xlcalc recalc {study}")


def _print(choice: ChosenMix) -> None:
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    for heading in ("Tag", "Bus", "Quantity", "Rated kW", "Option", "Purchase", "Losses"):
        table.add_column(heading, justify="left" if heading in ("Tag", "Bus", "Option") else "right")
    for row in choice.mix_table().to_dict("records"):
        kw = row["rated kW"]
        table.add_row(
            str(row["tag"]),
            str(row["bus"]),
            str(row["quantity"]),
            f"{kw:.4g}" if kw == kw and kw is not None else "",
            str(row["option"]),
            f"{row['purchase']:,.0f}",
            f"{row['losses']:,.0f}",
        )
    out.console.print(table)
    if choice.as_is_text:
        out.print(choice.as_is_text)
    out.print(choice.summary)
    out.print(
        f"No passing mix is cheaper by more than {choice.proof.gap_pct:.2f} % in the model of the search."
    )
    if choice.robust is not None:
        out.print(choice.robust.text)
    if choice.last_step:
        out.print(choice.last_step)
    for caution in choice.cautions:
        out.print(f"Note: {caution}")
