"""Results of a study as tables."""

from __future__ import annotations

import pandas as pd

from xlcalc.spectrum import MAX_ORDER
from xlcalc.standards.verdict import Verdict
from xlcalc.study.drives import DriveResult
from xlcalc.study.pcc import CURRENT, VOLTAGE, PccResult


def drive_table(drives: tuple[DriveResult, ...]) -> pd.DataFrame:
    """One row per drive, indexed by tag; numbers are missing where a drive has no solution.

    Columns: quantity, bus, rated_kw, pulses, source_pct, source_x_r, i1_amps, thd_pct, i5_amps, i5_pct,
    stable, remark. Currents are those of one unit at its own bus, in the phase with the largest distortion.
    """
    rows = []
    for result in drives:
        spectrum = result.spectrum
        rows.append(
            {
                "tag": result.drive.tag,
                "quantity": result.drive.quantity,
                "bus": result.drive.bus,
                "rated_kw": result.drive.rated_watts / 1000.0,
                "pulses": result.drive.front_end.pulses,
                "source_pct": result.source_pct,
                "source_x_r": result.source_xr,
                "i1_amps": spectrum.fundamental if spectrum else None,
                "thd_pct": spectrum.thd_pct if spectrum else None,
                "i5_amps": float(spectrum.magnitude[4]) if spectrum else None,
                "i5_pct": float(spectrum.percent[4]) if spectrum else None,
                "stable": result.stable,
                "remark": result.reason,
            }
        )
    return pd.DataFrame(rows, columns=_DRIVE_COLUMNS).set_index("tag")


_DRIVE_COLUMNS = [
    "tag",
    "quantity",
    "bus",
    "rated_kw",
    "pulses",
    "source_pct",
    "source_x_r",
    "i1_amps",
    "thd_pct",
    "i5_amps",
    "i5_pct",
    "stable",
    "remark",
]


def pcc_table(pcc: PccResult) -> pd.DataFrame:
    """One row per order 1..50; limits and margins are missing at the fundamental.

    Columns: current_amps, current_pct, current_limit_pct, current_margin, voltage_pct, voltage_limit_pct,
    voltage_margin. Margins are in points.
    """
    current = _by_order(pcc, CURRENT)
    voltage = _by_order(pcc, VOLTAGE)
    orders = range(1, MAX_ORDER + 1)
    return pd.DataFrame(
        {
            "current_amps": pcc.current_amps,
            "current_pct": pcc.current_pct,
            "current_limit_pct": [current[h].limit if h in current else None for h in orders],
            "current_margin": [current[h].margin if h in current else None for h in orders],
            "voltage_pct": pcc.voltage_pct,
            "voltage_limit_pct": [voltage[h].limit if h in voltage else None for h in orders],
            "voltage_margin": [voltage[h].margin if h in voltage else None for h in orders],
        },
        index=pd.Index(orders, name="order"),
    ).astype(float)


def verdict_table(pcc: PccResult) -> pd.DataFrame:
    """One row per verdict: quantity, order, value, limit, margin, verdict, clause, edition, verified."""
    return pd.DataFrame(
        [
            {
                "quantity": verdict.quantity,
                "order": verdict.order,
                "value": verdict.value,
                "limit": verdict.limit,
                "margin": verdict.margin,
                "verdict": verdict.word,
                "clause": verdict.origin.text,
                "edition": verdict.edition,
                "verified": verdict.verified,
            }
            for verdict in pcc.judgement.verdicts
        ]
    ).astype({"order": "Int64"})


def _by_order(pcc: PccResult, quantity: str) -> dict[int, Verdict]:
    verdicts = pcc.judgement.of_quantity(quantity).verdicts
    return {verdict.order: verdict for verdict in verdicts if verdict.order is not None}
