"""What the demo prints: drives and PCC of a site, or both PCCs of a plant in every case."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from xlcalc.cli.terminal import out
from xlcalc.core.caution import CAUTION
from xlcalc.standards.verdict import printed

if TYPE_CHECKING:
    from xlcalc.workbooks.drive.summary import Summary
    from xlcalc.workbooks.plant.plant_summary import CaseResult

DRIVE_COLUMNS = ("Tag", "Quantity", "Rating", "Unit", "Bus", "Pulses", "Source (%)", "THD (%)", "5th (%)")
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


def print_summary(summary: Summary) -> None:
    """Drives, distortion at the PCC and verdict of a drive study."""
    from rich.table import Table

    drives = Table(box=None, pad_edge=False)
    for heading in DRIVE_COLUMNS:
        drives.add_column(heading, justify="left" if heading in ("Tag", "Bus") else "right")
    for row in summary.drives:
        drives.add_row(*(_shown(row[heading]) for heading in DRIVE_COLUMNS))
    out.console.print(drives)
    pcc = summary.pcc
    shown = {quantity: _shown(value) for quantity, value in pcc.items()}
    for total in ("TDD", "THDV"):
        value, limit = pcc[total], pcc[f"LIMIT_{total}"]
        if isinstance(value, float) and isinstance(limit, float):
            shown[total], shown[f"LIMIT_{total}"] = printed(value, limit, _shown)
    out.print()
    out.print(f"PCC: Isc/IL {shown['ISC_IL']}, demand current {shown['IL']} A")
    out.print(f"TDD {shown['TDD']} % (limit {shown['LIMIT_TDD']} %), worst order {shown['WORST_ORDER']}")
    out.print(f"Voltage THD {shown['THDV']} % (limit {shown['LIMIT_THDV']} %)")
    out.print(f"Verdict: {shown['VERDICT']}; binding: {shown['WORST']}, {_margin(pcc['MARGIN'])}")
    for label, quantity in (("Reason", "REASON"), ("Remarks", "REMARKS")):
        if shown.get(quantity):
            out.print(f"{label}: {shown[quantity]}")
    out.print(f"Limit from: {shown['SOURCE']}")
    out.print(CAUTION)


def _margin(value: float | str | None) -> str:
    if not isinstance(value, float):
        return _shown(value)
    return f"{abs(value):.1f} % {'below' if value >= 0 else 'above'} its limit"


def _shown(value: float | str | None) -> str:
    return "" if value is None else value if isinstance(value, str) else f"{round(value, 3):.4g}"
