"""What the demo of a plant prints: both points of common coupling in every case."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from xlcalc.caution import CAUTION
from xlcalc.cli.terminal import out
from xlcalc.standards.verdict import printed

if TYPE_CHECKING:
    from xlcalc.workbooks.plant.plant_summary import CaseResult

COLUMNS = (
    ("Limits", "VERDICT"),
    ("TDD %", "TDD"),
    ("limit", "LIMIT_TDD"),
    ("THDv %", "THDV"),
    ("limit", "LIMIT_THDV"),
    ("Isc/IL", "ISC_IL"),
    ("order", "WORST_ORDER"),
)


def print_plant(results: Iterable[CaseResult]) -> None:
    """One line for each PCC and case, coupled; the last column is the TDD of the quick estimate."""
    from rich.table import Table

    from xlcalc.workbooks.plant.plant_summary import COUPLED

    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for heading in ("PCC", "Case"):
        table.add_column(heading, no_wrap=True)
    for heading, _ in COLUMNS:
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("quick", justify="right", no_wrap=True)
    found = list(results)
    quick = {(r.pcc, r.case): r.figures["TDD"] for r in found if r.solution != COUPLED}
    for result in (r for r in found if r.solution == COUPLED):
        given = {quantity: result.figures[quantity] for _, quantity in COLUMNS}
        shown_of = {quantity: _shown(figure) for quantity, figure in given.items()}
        for quantity in ("TDD", "THDV"):
            value, limit = given[quantity], given[f"LIMIT_{quantity}"]
            if isinstance(value, float) and isinstance(limit, float):
                shown_of[quantity], shown_of[f"LIMIT_{quantity}"] = printed(value, limit, _shown)
        figures = list(shown_of.values())
        shown = figures if result.supplied else ["off", *[""] * (len(COLUMNS) - 1)]
        table.add_row(result.pcc, result.case, *shown, _shown(quick[result.pcc, result.case]))
    out.console.print(table)
    out.print()
    out.print("Coupled solution; order: the one with the smallest margin; quick: TDD, every drive alone.")
    out.print("Example: the plant and all its values are invented.")
    out.print(CAUTION)


def _shown(value: float | str | None) -> str:
    if not isinstance(value, float):
        return value or ""
    return f"{value:.0f}" if value == round(value) else f"{value:.2f}" if value < 100 else f"{value:.1f}"
