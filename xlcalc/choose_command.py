"""The command that chooses the mitigation.

Exit codes: 0 a mix passes, 1 none does (the nearest is written), 2 unusable arguments or file.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from xlcalc.caution import CAUTION
from xlcalc.terminal import DONE, err, out

if TYPE_CHECKING:
    from xlcalc.mitigation.choice import Choice

NOTHING_PASSES = 1

choose_app = typer.Typer(rich_markup_mode=None)


@choose_app.command("choose")
def choose_command(
    sites: Annotated[
        list[Path],
        typer.Argument(
            metavar="SITE...",
            help="A workbook of the template choice_study, which holds everything; or a plant of buses: "
            ".toml; or states of one site: .toml, .csv, .xlsx, .xlsm.",
        ),
    ],
    output: Annotated[Path, typer.Option("-o", "--output", help="Workbook to write.")],
    drives: Annotated[
        Path | None, typer.Option("--drives", help="Schedule: .csv, .xlsx or .xlsm; .csv for a plant.")
    ] = None,
    terms: Annotated[
        Path | None, typer.Option("--terms", help="Tariff, margin, pins and cases: .toml.")
    ] = None,
    options: Annotated[
        Path | None,
        typer.Option("--options", help="Options: .csv, or .xlsx with sheets Options, Prices, Residuals."),
    ] = None,
    prices: Annotated[Path | None, typer.Option("--prices", help="Prices by rating: .csv.")] = None,
    residuals: Annotated[Path | None, typer.Option("--residuals", help="Residual spectra: .csv.")] = None,
    spec: Annotated[
        Path | None, typer.Option("--spec", help="Uncertain inputs, as of a sweep: .toml; tells robustness.")
    ] = None,
    gap: Annotated[
        float | None,
        typer.Option("--gap", min=0.0, max=50.0, help="Proof gap that is enough, %; 0.5 if left out."),
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option("--seconds", min=1.0, help="Time for the main search, s; 40 if left out."),
    ] = None,
    front: Annotated[int, typer.Option("--front", min=0, max=40, help="Points of cost against TDD.")] = 9,
    runners: Annotated[int, typer.Option("--runners", min=0, max=20, help="Next best mixes to list.")] = 3,
) -> None:
    """Choose the cheapest mix of front ends and remedies that meets the limits in every case."""
    from xlcalc.choosing.question import Files, question_of
    from xlcalc.mitigation.choose import Wishes, choose
    from xlcalc.mitigation.robust import robustness
    from xlcalc.mitigation.search import Effort
    from xlcalc.workbooks.choice_book import check_target, write_choice

    check_target(output)
    asked = question_of(sites, Files(drives, terms, options, prices, residuals, spec))
    effort = asked.effort or Effort()
    wishes = Wishes(
        coupled=asked.coupled,
        rely_on_coupling=asked.terms.rely_on_coupling,
        front_points=front,
        runners=runners,
        effort=Effort(effort.gap_pct if gap is None else gap, effort.seconds if seconds is None else seconds),
    )
    with err.status("Solving") as status:
        choice = choose(asked.problem, wishes, lambda text: status.update(text.capitalize()))
        if asked.samples is not None:
            status.update("Studying the mix with uncertain inputs")
            choice = replace(choice, robust=robustness(asked.problem, choice.mix, asked.samples()))
    unreachable = (
        ()
        if choice.passes
        else (f"no option reaches the limits with the margin asked for ({asked.terms.margin_place})",)
    )
    choice = replace(choice, cautions=(*unreachable, *asked.cautions, *choice.cautions))
    write_choice(choice, output)
    _print(choice)
    out.print(f"Wrote {output}", markup=False)
    out.print(CAUTION)
    raise typer.Exit(DONE if choice.passes else NOTHING_PASSES)


def _print(choice: Choice) -> None:
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
    out.print(table)
    out.print(choice.summary, markup=False)
    out.print(
        f"No passing mix is cheaper by more than {choice.proof.gap_pct:.2f} % in the model of the search."
    )
    if choice.robust is not None:
        out.print(choice.robust.text, markup=False)
    if choice.last_step:
        out.print(choice.last_step, markup=False)
    for caution in choice.cautions:
        out.print(f"Note: {caution}", markup=False)
