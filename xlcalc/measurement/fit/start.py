"""Where a fit begins: what can be read off the phasors, and some sizes of the drive's parts."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ComplexArray, FloatArray
from xlcalc.measurement.fit.model import FitModel
from xlcalc.measurement.fit.point import OperatingPoint
from xlcalc.measurement.fit.unknowns import FitSetting, Unknown
from xlcalc.network.sequence import natural_sequence
from xlcalc.rectifier.drive import DC_PER_LINE_VOLT, FrontEnd

_CAPACITANCES: Final = (0.1, 0.3, 1.0, 2.5, 5.0, 10.0)
_REACTORS: Final = (0.5, 2.0, 4.0)
_LEAST_VOLTS: Final = 0.2


def best_start(model: FitModel) -> FloatArray:
    """The vector from what can be read off the phasors, with the best of some sizes of the drive's parts."""
    setting, points = model.setting, model.points
    reactance, resistance = _source_start(model)
    free = [u.name for u in setting.unknowns]
    known = setting.front_end
    vector = np.zeros(len(setting.unknowns))
    behind = []
    for k, point in enumerate(points):
        share = setting.shares_hz[k]
        impedance = resistance + 1j * point.orders * share * reactance
        emf = point.volts / model.volts + impedance * point.amps / model.amps
        angle = cmath.phase(complex(emf[0, 0]))
        behind.append(emf * np.exp(-1j * point.orders * angle) / abs(emf[0, 0]))
        volts = abs(emf[0, 0]) * math.sqrt(3.0)
        if volts < _LEAST_VOLTS:
            raise InputError(
                "recording", f"of {volts * model.volts:.4g} V", f"voltages near the nominal {model.volts:g} V"
            )
        watts = point.watts / model.volts / model.amps
        if watts <= 0.0:
            raise InputError(
                "recording",
                f"of {point.watts:.4g} W into the drive",
                "power into the drive; are a sign or two phases wrong?",
            )
        for name, value in (
            ("emf", volts),
            ("angle", angle),
            ("amps", math.log(watts / volts / DC_PER_LINE_VOLT * 1.01)),
        ):
            vector[place_of(setting, Unknown(name, point=k))] = value
    for k, unknown in enumerate(setting.unknowns):
        vector[k] = _shared_start(unknown, behind, points, known, (reactance, resistance), vector[k])
    trials = [vector]
    for name, sizes in (
        ("dc_capacitance_pu", [math.log(c) for c in _CAPACITANCES]),
        ("line_reactor_pct", list(_REACTORS)),
        ("dc_choke_pct", list(_REACTORS)),
    ):
        if name in free:
            place = place_of(setting, Unknown(name))
            trials = [_with(trial, place, size) for trial in trials for size in [trial[place], *sizes]]
    costs = [float(np.sum(np.minimum(model.residuals(trial) ** 2, 1e10))) for trial in trials]
    return trials[int(np.argmin(costs))]


def _shared_start(
    unknown: Unknown,
    behind: Sequence[ComplexArray],
    points: Sequence[OperatingPoint],
    known: FrontEnd,
    source: tuple[float, float],
    otherwise: float,
) -> float:
    if unknown.name in ("background", "unbalance"):
        row = 1 if unknown.name == "unbalance" or natural_sequence(unknown.order) == -1 else 0
        seen = [
            emf[row, int(np.flatnonzero(point.orders == unknown.order)[0])]
            for emf, point in zip(behind, points, strict=True)
            if unknown.order in point.orders
        ]
        if not seen:
            raise InputError("free", f"background {unknown.order}", "an order that was recorded")
        mean = complex(np.mean(seen))
        part = mean.real if unknown.part == "real" else mean.imag
        return part if abs(part) > 1e-7 else 1e-7
    return {
        "source": math.log(100.0 * source[0]),
        "resistance": 100.0 * source[1],
        "dc_capacitance_pu": math.log(known.dc_capacitance_pu),
        "line_reactor_pct": known.reactor_pct,
        "dc_choke_pct": known.choke_pct,
    }.get(unknown.name, otherwise)


def _source_start(model: FitModel) -> tuple[float, float]:
    """Reactance and resistance from orders whose background is held to be zero, per unit."""
    setting = model.setting
    reactance = setting.front_end.source_pct / 100.0
    resistance = reactance / setting.front_end.source_xr
    names = {u.name for u in setting.unknowns}
    if not names & {"source", "resistance"}:
        return reactance, resistance
    distorted = {u.order for u in setting.unknowns if u.name == "background"}
    distorted |= {order for order, percent, _ in setting.front_end.background if percent}
    weight, against = 0.0, 0.0
    for point, share in zip(model.points, setting.shares_hz, strict=True):
        for column, order in enumerate(point.orders):
            if order == 1 or order in distorted or order % 3 == 0:
                continue
            row = 1 if natural_sequence(int(order)) == -1 else 0
            amps = point.amps[row, column] / model.amps
            volts = point.volts[row, column] / model.volts
            per_ohm = share * order * amps * 1j
            error = (point.volts_error[row, column] / model.volts) ** 2
            weight += abs(per_ohm) ** 2 / error
            against -= float(np.real(np.conj(per_ohm) * volts)) / error
    if "source" in names and weight > 0.0 and 1e-4 < against / weight < 2.0:
        reactance = against / weight
        resistance = reactance / setting.front_end.source_xr
    return reactance, resistance


def place_of(setting: FitSetting, unknown: Unknown) -> int:
    """Place of an unknown in the vector."""
    return setting.unknowns.index(unknown)


def _with(vector: FloatArray, place: int, value: float) -> FloatArray:
    changed = vector.copy()
    changed[place] = value
    return changed
