"""Results at the PCC as a table."""

from __future__ import annotations

import pandas as pd

from xlcalc.spectrum import MAX_ORDER
from xlcalc.standards.verdict import Verdict
from xlcalc.study.pcc import CURRENT, VOLTAGE, PccResult


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


def _by_order(pcc: PccResult, quantity: str) -> dict[int, Verdict]:
    verdicts = pcc.judgement.of_quantity(quantity).verdicts
    return {verdict.order: verdict for verdict in verdicts if verdict.order is not None}
