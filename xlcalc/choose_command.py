"""The command that chooses the mitigation.

Exit codes: 0 a mix passes, 1 none does (the nearest is written), 2 unusable arguments or file.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from xlcalc.caution import CAUTION
from xlcalc.errors import InputError
from xlcalc.terminal import DONE, err, out

if TYPE_CHECKING:
    from xlcalc.mitigation.choice import Choice

NOTHING_PASSES = 1

choose_app = typer.Typer(rich_markup_mode=None)


@choose_app.command("choose")
def choose_command(
    sites: Annotated[
        list[Path], typer.Argument(metavar="SITE...", help="States of one site: .toml, .csv, .xlsx, .xlsm.")
    ],
    drives: Annotated[Path, typer.Option("--drives", help="Schedule: .csv, .xlsx or .xlsm.")],
    terms: Annotated[Path, typer.Option("--terms", help="Tariff, margin, pins and cases: .toml.")],
    output: Annotated[Path, typer.Option("-o", "--output", help="Workbook to write.")],
    options: Annotated[
        Path | None,
        typer.Option("--options", help="Options: .csv, or .xlsx with sheets Options, Prices, Residuals."),
    ] = None,
    prices: Annotated[Path | None, typer.Option("--prices", help="Prices by rating: .csv.")] = None,
    residuals: Annotated[Path | None, typer.Option("--residuals", help="Residual spectra: .csv.")] = None,
    gap: Annotated[
        float, typer.Option("--gap", min=0.0, max=50.0, help="Proof gap that is enough, %.")
    ] = 0.5,
    seconds: Annotated[float, typer.Option("--seconds", min=1.0, help="Time for the main search.")] = 40.0,
    front: Annotated[int, typer.Option("--front", min=0, max=40, help="Points of cost against TDD.")] = 9,
    runners: Annotated[int, typer.Option("--runners", min=0, max=20, help="Next best mixes to list.")] = 3,
) -> None:
    """Choose the cheapest mix of front ends and remedies that meets the limits in every case."""
    from xlcalc.choosing.assemble import problem_of, read_options, read_sites
    from xlcalc.choosing.terms import read_terms
    from xlcalc.mitigation.choose import Wishes, choose
    from xlcalc.mitigation.search import Effort
    from xlcalc.workbooks.choice_book import check_target, write_choice

    check_target(output)
    if options is None and (prices is not None or residuals is not None):
        raise InputError("--options", None, "the table that the prices and residual spectra belong to")
    wanted = read_terms(terms)
    problem = problem_of(read_sites(sites), drives, read_options(options, prices, residuals), wanted)
    wishes = Wishes(
        rely_on_coupling=wanted.rely_on_coupling,
        front_points=front,
        runners=runners,
        effort=Effort(gap, seconds),
    )
    with err.status("Solving") as status:
        choice = choose(problem, wishes, lambda text: status.update(text.capitalize()))
    if options is None:
        note = "the shipped table of options was used; its prices and spectra are invented"
        choice = replace(choice, cautions=(note, *choice.cautions))
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
    if choice.last_step:
        out.print(choice.last_step, markup=False)
    for caution in choice.cautions:
        out.print(f"Note: {caution}", markup=False)
