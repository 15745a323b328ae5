"""Results at the PCC as a table."""

from __future__ import annotations

import pandas as pd

from xlcalc.spectrum import MAX_ORDER
from xlcalc.studies.pcc import PccResult, pcc_columns


def pcc_table(pcc: PccResult) -> pd.DataFrame:
    """One row per order 1..50; limits and margins are missing at the fundamental.

    Columns: current_amps, current_pct, current_limit_pct, current_margin, voltage_pct, voltage_limit_pct,
    voltage_margin. Margins are in points.
    """
    return pd.DataFrame(pcc_columns(pcc), index=pd.Index(range(1, MAX_ORDER + 1), name="order"))
