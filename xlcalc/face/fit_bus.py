"""Inputs of a supply and of all drives on a bus, fitted to records at the bus, as tables."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.face.drive import Drive, Settings, Supply
from xlcalc.face.fit import FoundInputs
from xlcalc.face.front_end import front_end_of
from xlcalc.face.record import Record
from xlcalc.measurement.fit.bus import BUS_FREE, BusEstimate, estimate_bus
from xlcalc.measurement.fit.bus_currents import BusDrive
from xlcalc.measurement.fit.point import OperatingPoint, operating_point

_SEQUENCES = ("positive", "negative")


@dataclass(frozen=True, kw_only=True, repr=False)
class BusFit(FoundInputs):
    """Inputs found, how well they are known, and what is left unexplained.

    Made by `fit_bus`.

    Parameters
    ----------
    estimate : BusEstimate
    points : tuple of OperatingPoint
        One per record.
    supply : Supply
        As fitted.
    """

    estimate: BusEstimate = field(repr=False)
    points: tuple[OperatingPoint, ...]
    supply: Supply

    @property
    def residuals(self) -> pd.DataFrame:
        """Currents by record, sequence and order: measured, those of the drives less measured; A rms."""
        parts = [
            pd.DataFrame(
                {
                    "record": k,
                    "quantity": "current",
                    "sequence": sequence,
                    "order": point.orders,
                    "measured": np.abs(point.amps[row]),
                    "difference": np.abs(difference[row]),
                    "unit": "A",
                    "difference %": 100.0 * np.abs(difference[row]) / abs(point.amps[0, 0]),
                }
            )
            for k, (point, difference) in enumerate(
                zip(self.points, self.estimate.residuals, strict=True), start=1
            )
            for row, sequence in enumerate(_SEQUENCES)
        ]
        return pd.concat(parts, ignore_index=True)


def fit_bus(
    record: Record | Sequence[Record],
    drives: Sequence[Drive],
    supply: Supply,
    free: Iterable[str] = BUS_FREE,
    *,
    settings: Settings | None = None,
) -> BusFit:
    """Find what feeds a bus, and what its drives take, from its voltage and their current together.

    The drives are solved on the voltage that was measured. A sum of currents does not tell them apart: the
    load of all is found as one factor of what is believed of each, and with "dc_capacitance_pu" they have one
    capacitance. Loads other than drives must not be part of the current.

    Parameters
    ----------
    record : Record or sequence of Record
        Waveforms of one operating point each: three phases of voltage, two or three of current.
    drives : sequence of Drive
        Each with a line reactor, and a load that is right against the others'.
    supply : Supply
        As it is believed to be at the bus; what is free is found.
    free : iterable of str
        Of "mva", "xr", "background" (5th, 7th, 11th, 13th), "unbalance", "load_pct", "dc_capacitance_pu".
    settings : mapping of str to value, optional
        As in `solve`.

    Raises
    ------
    InputError
        Records without what is needed, a drive without a line reactor, or an unknown name.
    NoSolutionError
        Nothing that is free explains the records.
    """
    records = [record] if isinstance(record, Record) else list(record)
    if not all(isinstance(one, Record) for one in records):
        raise InputError("record", record, "what xl.read_record gives, or a list of it", wrong_kind=True)
    names = [free] if isinstance(free, str) else list(free)
    for name, given in (("background", supply.background), ("unbalance", supply.unbalance_pct)):
        if given and name not in names:
            raise InputError(f"{name} of the supply", given, f"none, or {name} among what is free")
    on_bus = [
        BusDrive(front_end_of(drive, supply, settings), drive.rated_watts, drive.values["quantity"])
        for drive in drives
    ]
    points = tuple(operating_point(one.waveforms, nominal_hz=one.nominal_hz, hz=one.hz) for one in records)
    xr = on_bus[0].front_end.source_xr if on_bus else 10.0
    found = estimate_bus(points, on_bus, volts=1e3 * supply.kv, mva=supply.mva, xr=xr, free=names)
    better = Supply(
        kv=supply.kv,
        mva=found.mva,
        xr=found.xr,
        unbalance_pct=100.0 * abs(found.unbalance),
        unbalance_deg=math.degrees(cmath.phase(found.unbalance)),
        background={
            order: (100.0 * abs(value), math.degrees(cmath.phase(value)))
            for order, value in found.background.items()
        },
    )
    return BusFit(estimate=found, points=points, supply=better)
