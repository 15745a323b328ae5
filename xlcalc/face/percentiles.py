"""A record judged by the percentiles of days and weeks, as a table."""

from __future__ import annotations

from typing import Final

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.face.record import Record
from xlcalc.measurement.recording import CURRENT, VOLTAGE

STANDARDS: Final = ("IEEE 519-2022", "IEEE 519-2014", "EN 50160", "IEC 61000-2-4")


def verdict_by_percentiles(
    record: Record,
    standard: str = "IEEE 519-2022",
    *,
    quantity: str = CURRENT,
    column: str | None = None,
    demand_amps: float | None = None,
    isc_il: float | None = None,
    kv: float | None = None,
) -> pd.DataFrame:
    """Verdicts on a record by the percentiles of days and weeks, as a table.

    Parameters
    ----------
    record : Record
    standard : str
        One of `STANDARDS`.
    quantity : str
        "current" or "voltage"; EN 50160 and IEC 61000-2-4 judge voltages alone.
    column : str, optional
        "LV" or "MV" of EN 50160, "class 1", "class 2" or "class 3" of IEC 61000-2-4.
    demand_amps, isc_il, kv : float, optional
        As in `Record.judge_current`.

    Returns
    -------
    DataFrame
        One row per phase, statistic, period and order. Its `attrs` hold the `verdict` of all, its `reason`
        and `remarks`.

    Raises
    ------
    InputError
        Another standard or quantity, or an argument that it needs and does not have.
    """
    if standard not in STANDARDS:
        raise InputError("standard", standard, "one of " + ", ".join(STANDARDS))
    if quantity not in (CURRENT, VOLTAGE):
        raise InputError("quantity", quantity, f"{CURRENT} or {VOLTAGE}")
    name, _, edition = standard.partition("-")
    if standard == "EN 50160":
        found = record.judge_en50160(column or "LV")
    elif standard == "IEC 61000-2-4":
        found = record.judge_iec61000_2_4(column or "class 2")
    elif kv is None or (quantity == CURRENT and isc_il is None):
        needed = {"kv": kv} if quantity == VOLTAGE else {"kv": kv, "isc_il": isc_il}
        missing = next(key for key, value in needed.items() if value is None)
        raise InputError(missing, None, f"a number: {name} picks its limits by it", wrong_kind=True)
    elif quantity == VOLTAGE:
        found = record.judge_voltage(kv=kv, edition=edition)
    else:
        found = record.judge_current(
            demand_amps=demand_amps, isc_il=float(isc_il or 0.0), kv=kv, edition=edition
        )
    table = pd.DataFrame(
        {
            "quantity": [one.quantity for one in found.verdicts],
            "order": [one.order for one in found.verdicts],
            "value": [one.value for one in found.verdicts],
            "limit": [one.limit for one in found.verdicts],
            "unit": [one.unit for one in found.verdicts],
            "verdict": [one.word for one in found.verdicts],
            "source": [one.origin.text for one in found.verdicts],
        }
    )
    table.attrs = {"verdict": found.word, "reason": found.reason, "remarks": "; ".join(found.remarks)}
    return table
