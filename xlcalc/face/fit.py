"""Inputs of a drive and its supply, fitted to records: tables, and a better model."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.face.drive import Drive, DriveSolution, Settings, Supply, solve
from xlcalc.face.front_end import front_end_of
from xlcalc.face.record import Record
from xlcalc.measurement.fit.bus import BusEstimate
from xlcalc.measurement.fit.estimate import NO_DOUBT, Estimate, estimate
from xlcalc.measurement.fit.point import OperatingPoint, operating_point
from xlcalc.measurement.fit.unknowns import FREE

_QUANTITIES = ("voltage", "current")
_SEQUENCES = ("positive", "negative")


class FoundInputs:
    """Inputs that a fit found, as tables; what `Fit` and `BusFit` share."""

    estimate: Estimate | BusEstimate

    @property
    def values(self) -> pd.Series[float]:
        """Inputs by name: "mva", "load_pct", "background 5th pct" and so on."""
        return pd.Series(self.estimate.values, index=list(self.estimate.names), name="value")

    @property
    def standard_errors(self) -> pd.Series[float]:
        """Of `values`; infinite where the record does not determine the input."""
        return pd.Series(
            self.estimate.standard_errors, index=list(self.estimate.names), name="standard error"
        )

    @property
    def intervals(self) -> pd.DataFrame:
        """`value`, `standard error`, and `from` and `to` of the 95 % interval."""
        values, errors = self.values, self.standard_errors
        half = NO_DOUBT * errors
        return pd.DataFrame(
            {"value": values, "standard error": errors, "from": values - half, "to": values + half}
        )

    @property
    def remarks(self) -> tuple[str, ...]:
        """What qualifies the result."""
        return self.estimate.remarks

    @property
    def residuals(self) -> pd.DataFrame:
        """What is left unexplained, by record, quantity, sequence and order."""
        raise NotImplementedError

    @property
    def indistinguishable(self) -> tuple[str, ...]:
        """Sentences that name the inputs that the records do not separate, or hardly determine."""
        return self.estimate.indistinguishable

    def __repr__(self) -> str:
        lines = [
            f"{name}: {value:.5g} +- {NO_DOUBT * error:.2g}"
            for name, value, error in zip(
                self.estimate.names, self.estimate.values, self.estimate.standard_errors, strict=True
            )
        ]
        return "\n".join([*lines, *self.indistinguishable, *self.remarks])


@dataclass(frozen=True, kw_only=True, repr=False)
class Fit(FoundInputs):
    """Inputs found, how well they are known, and what is left unexplained.

    Made by `fit`.

    Parameters
    ----------
    estimate : Estimate
    points : tuple of OperatingPoint
        One per record.
    drive, supply, settings
        As fitted: ready for `solve` or a study. The load is that of the first record.
    """

    estimate: Estimate = field(repr=False)
    points: tuple[OperatingPoint, ...]
    drive: Drive
    supply: Supply
    settings: Settings

    @property
    def correlation(self) -> pd.DataFrame:
        """Of the errors of two inputs, -1 to 1; near either the record hardly separates them."""
        names = list(self.estimate.names)
        return pd.DataFrame(self.estimate.correlation, index=names, columns=names)

    @property
    def residuals(self) -> pd.DataFrame:
        """One row per record, quantity, sequence and order: measured, fitted less measured, noise.

        Amounts are rms; `difference %` is of the fundamental.
        """
        parts = []
        for k, (point, differences) in enumerate(
            zip(self.points, self.estimate.residuals, strict=True), start=1
        ):
            groups = ((point.volts, point.volts_error, "V"), (point.amps, point.amps_error, "A"))
            for (measured, error, unit), difference, quantity in zip(
                groups, differences, _QUANTITIES, strict=True
            ):
                for row, sequence in enumerate(_SEQUENCES):
                    parts.append(
                        pd.DataFrame(
                            {
                                "record": k,
                                "quantity": quantity,
                                "sequence": sequence,
                                "order": point.orders,
                                "measured": np.abs(measured[row]),
                                "difference": np.abs(difference[row]),
                                "noise": np.sqrt(2.0) * error[row],
                                "unit": unit,
                                "difference %": 100.0 * np.abs(difference[row]) / abs(measured[0, 0]),
                            }
                        )
                    )
        return pd.concat(parts, ignore_index=True)

    def solve(self) -> DriveSolution:
        """The drive on its supply with the fitted inputs."""
        return solve(self.drive, self.supply, self.settings)


def fit(
    record: Record | Sequence[Record],
    drive: Drive,
    supply: Supply,
    free: Iterable[str] = FREE,
    *,
    settings: Settings | None = None,
) -> Fit:
    """Find unknown inputs from voltage and current recorded at the terminals of one drive.

    Parameters
    ----------
    record : Record or sequence of Record
        Waveforms of one operating point each: three phases of voltage, two or three of current.
    drive, supply
        As they are believed to be; what is free is where the search begins.
    free : iterable of str
        Of "mva", "xr", "background" (5th, 7th, 11th, 13th) or "background 17", "unbalance", "load_pct",
        "dc_capacitance_pu", "line_reactor_pct", "dc_choke_pct". Load and voltage of each record are always
        found.
    settings : mapping of str to value, optional
        As in `solve`.

    Returns
    -------
    Fit

    Raises
    ------
    InputError
        Records without what is needed, or an unknown name.
    NoSolutionError
        Nothing that is free explains the records.
    """
    records = [record] if isinstance(record, Record) else list(record)
    if not all(isinstance(one, Record) for one in records):
        raise InputError("record", record, "what xl.read_record gives, or a list of it", wrong_kind=True)
    names = [free] if isinstance(free, str) else list(free)
    front_end = front_end_of(drive, supply, settings)
    points = tuple(operating_point(one.waveforms, nominal_hz=one.nominal_hz, hz=one.hz) for one in records)
    found = estimate(points, front_end, volts=1e3 * supply.kv, rated_watts=drive.rated_watts, free=names)
    fitted = found.front_end
    better = Supply(
        kv=supply.kv,
        mva=100.0 * drive.rated_watts / (1e6 * fitted.source_pct),
        xr=fitted.source_xr,
        unbalance_pct=fitted.unbalance_pct,
        unbalance_deg=fitted.unbalance_deg,
        background={order: (percent, degrees) for order, percent, degrees in fitted.background},
    )
    return Fit(
        estimate=found,
        points=points,
        drive=replace(
            drive,
            load_pct=fitted.load_pct,
            line_reactor_pct=fitted.reactor_pct,
            dc_choke_pct=fitted.choke_pct,
        ),
        supply=better,
        settings={**(settings or {}), "dc capacitance pu": fitted.dc_capacitance_pu},
    )
