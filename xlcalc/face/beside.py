"""A record beside the prediction of a study: difference by order, and whether they agree."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.face.expected import UNKNOWN_SUPPLY, Expected, expected_at_drive, expected_at_pcc
from xlcalc.face.plant import read_plant, read_schedule
from xlcalc.face.record import Record
from xlcalc.face.studied_drive import drive_of_study
from xlcalc.measurement.agreement import Agreement, agreement
from xlcalc.measurement.recording import CURRENT, VOLTAGE

UNEVEN_LOAD = 0.1
"""Scatter of the fundamental from which a record is not one load; common practice, no source."""

FAR = 1.5
"""Times the nominal voltage, or its inverse: another place."""


@dataclass(frozen=True, kw_only=True)
class Beside:
    """What was measured and what was expected.

    Parameters
    ----------
    expected : Expected
    current : Agreement
    voltage : Agreement or None
        None at a drive, or where the record has no voltages.
    remarks : tuple of str
    """

    expected: Expected
    current: Agreement
    voltage: Agreement | None
    remarks: tuple[str, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """Agrees or does not, and where: current, then voltage."""
        return tuple(one.sentence for one in (self.current, self.voltage) if one is not None)

    @property
    def lines(self) -> tuple[str, ...]:
        """Where, at which load, whether they agree, and what qualifies it."""
        load = f"{self.expected.where}: the study draws the measured fundamental with"
        return (
            f"{load} {100.0 * self.expected.load_share:.3g} % of its loads",
            *self.sentences,
            *self.remarks,
        )

    @property
    def table(self) -> pd.DataFrame:
        """One row per quantity, phase and order."""
        rows = [
            {
                "quantity": one.what,
                "phase": row.phase,
                "order": row.order,
                "measured": row.measured,
                "predicted": row.expected,
                "difference": row.measured - row.expected,
                "lowest possible": row.low,
                "highest possible": row.high,
                "outside by": row.outside,
                "unit": one.unit,
                "compared": row.compared,
            }
            for one in (self.current, self.voltage)
            if one is not None
            for row in one.rows
        ]
        return pd.DataFrame(rows)

    @property
    def inputs(self) -> pd.DataFrame:
        """By input: the largest change of an order that its uncertainty makes, A."""
        parts = self.expected.amps.parts
        return pd.DataFrame(
            [{"input": name, "down A": down, "up A": up} for name, (down, up) in parts.items()]
        )


def beside(
    record: Record,
    book: str | Path,
    *,
    drive: str | None = None,
    pcc: str | None = None,
    case: str | None = None,
) -> Beside:
    """Hold a record against the study in a workbook, at the load that was measured.

    Parameters
    ----------
    record : Record
        Currents in A; voltages as well where they are to be compared.
    book : str or Path
        A workbook made from a template of a study (.xlsx), or a plant file that `read_plant` reads with its
        drives.
    drive, pcc, case : str, optional
        Where the record was taken: at a drive by its tag, or at a PCC; in which case of the study.

    Raises
    ------
    InputError
        A record without currents in A, a place that the study does not have, or a load that it cannot draw.
    """
    if drive is not None and pcc is not None:
        raise InputError("drive and pcc", f"{drive} and {pcc}", "one of them", wrong_kind=True)
    amps = measured_orders(record, CURRENT)
    if not amps:
        raise InputError(record.name, "without currents in A", "a record of them, to find the load")
    fundamental = max(float(values[0]) for values in amps.values())
    plant, drives = read_plant(book), read_schedule(book)
    if drive is not None:
        unit, supply, settings = drive_of_study(plant, drives, drive, case=case)
        expected = expected_at_drive(unit, supply, fundamental, settings)
    else:
        expected = expected_at_pcc(plant, drives, fundamental, pcc=pcc, case=case)
    current = agreement(amps, expected.amps, what=CURRENT, unit="A", fundamental=fundamental)
    voltage = None
    remarks = _remarks(record)
    if expected.volts_pct is not None and VOLTAGE in record.quantities:
        nominal = plant.buses[str(expected.bus)]
        percent = {
            phase: 100.0 * values / (nominal if len(phase) == 2 else nominal / np.sqrt(3.0))
            for phase, values in measured_orders(record, VOLTAGE).items()
        }
        _check_volts(record, percent, nominal, str(expected.bus))
        voltage = agreement(percent, expected.volts_pct, what=VOLTAGE, unit="%", fundamental=100.0)
    if UNKNOWN_SUPPLY in expected.amps.parts:
        remarks.append(
            "the study does not say how distorted its supply is: the band allows for a typical one; measure "
            "it, or fit it (xlcalc fit)"
        )
    return Beside(expected=expected, current=current, voltage=voltage, remarks=tuple(remarks))


def measured_orders(record: Record, quantity: str) -> dict[str, FloatArray]:
    """rms of orders 1 to n by phase, V or A; without the neutral and logs in percent."""
    found: dict[str, FloatArray] = {}
    if record.is_log:
        for length in record.lengths:
            for log in record.logs(length):
                if log.quantity == quantity and log.phase != "n" and not log.percent:
                    found.setdefault(log.phase, np.sqrt(np.nanmean(log.values**2, axis=0)))
        return {phase: values for phase, values in found.items() if np.isfinite(values[0])}
    table = record.spectrum()
    for channel in record.channels:
        if channel.quantity == quantity and channel.phase != "n":
            values = table.loc[table["channel"] == channel.name, "rms"].to_numpy(float)
            found[channel.phase or channel.name] = values
    return found


def _check_volts(record: Record, percent: dict[str, FloatArray], nominal: float, bus: str) -> None:
    for phase, values in percent.items():
        if not 100.0 / FAR < values[0] < 100.0 * FAR:
            raise InputError(
                f"voltage of {phase} in {record.name}",
                f"{values[0]:.3g} % of nominal",
                f"voltages near the {nominal:g} V of {bus}. Is it another place or side of a transformer",
            )


def _remarks(record: Record) -> list[str]:
    if record.is_log:
        return ["a log: its intervals are compared by their root mean square"]
    found = record.reduction
    currents = [k for k, channel in enumerate(record.channels) if channel.quantity == CURRENT]
    size = found.fundamental[:, currents].mean(axis=1)
    scatter = float(np.nanstd(size) / np.nanmean(size))
    if scatter <= UNEVEN_LOAD:
        return []
    return [
        f"the load varied while it was recorded ({100.0 * scatter:.0f} % scatter of the fundamental): what "
        "is compared is the root mean square at the mean load"
    ]
