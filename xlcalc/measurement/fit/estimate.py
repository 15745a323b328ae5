"""The fit: least squares over the complex spectra of operating points, and what it is worth."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import ComplexArray, FloatArray
from xlcalc.measurement.fit.model import FitModel
from xlcalc.measurement.fit.point import STEADY, OperatingPoint
from xlcalc.measurement.fit.start import best_start, place_of
from xlcalc.measurement.fit.unknowns import DRIVE_FIELDS, FREE, FitSetting, Unknown, unknowns
from xlcalc.rectifier.drive import FrontEnd

NO_DOUBT: Final = 1.96
"""Half width of a 95 % interval in standard errors (normal distribution)."""
ALIKE: Final = 0.98
"""Correlation from which two inputs are named as such that the record hardly tells apart."""
_SINGULAR: Final = 1e-7
TRUSTED: Final = 0.5


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """Fitted inputs of a drive and its supply.

    Parameters
    ----------
    names : tuple of str
        As in a study: "mva" is the short-circuit level, MVA; "background 5th pct" percent and so on. With
        several operating points "load_pct 1", "load_pct 2".
    values, standard_errors : array of float, shape (k,)
        Infinite errors for inputs that the record does not determine.
    correlation : array of float, shape (k, k)
        NaN for those.
    indistinguishable : tuple of str
        Sentences on inputs that the record cannot tell apart, or hardly.
    remarks : tuple of str
        What qualifies the result.
    misfit : float
        Root of the mean square of the residuals over their errors; 1 where noise is all there is.
    front_end : FrontEnd
        The drive on the supply as fitted, at the load of the first point.
    residuals : array of complex, shape (points, 2, 2, n)
        Fitted less measured by point, quantity (V, A), sequence (positive, negative) and order.
    """

    names: tuple[str, ...]
    values: FloatArray
    standard_errors: FloatArray
    correlation: FloatArray
    indistinguishable: tuple[str, ...]
    remarks: tuple[str, ...]
    misfit: float
    front_end: FrontEnd
    residuals: tuple[ComplexArray, ...]


def estimate(
    points: Sequence[OperatingPoint],
    front_end: FrontEnd,
    *,
    volts: float,
    rated_watts: float,
    free: Iterable[str] = FREE,
) -> Estimate:
    """Find the unknown inputs of a drive on its supply from what was measured at its terminals.

    The voltage behind the source impedance and the load of each operating point are always looked for; what
    is shared by the points is one number each.

    Parameters
    ----------
    points : sequence of OperatingPoint
    front_end : FrontEnd
        The drive and its supply as they are believed to be; what is free is where the search begins.
    volts, rated_watts : float
        Nominal line-to-line voltage, V; rated power of the DC link, W.
    free : iterable of str
        See `xlcalc.measurement.fit.unknowns.NAMES`.

    Raises
    ------
    InputError
        An unknown name; several bridges with what only a bridge of its own has; points without load.
    NoSolutionError
        No numbers explain the points.
    """
    from scipy.optimize import least_squares

    if not points:
        raise InputError("records", "none", "one record or more", wrong_kind=True)
    if front_end.load_kind not in ("mean power", "current"):
        raise InputError("load kind", front_end.load_kind, "mean power: the others ripple with the bus")
    found = unknowns(free, len(points))
    base = points[0].nominal_hz
    shares = tuple(point.hz / base for point in points)
    model = FitModel(
        FitSetting(front_end=front_end, unknowns=found, shares_hz=shares), points, volts, rated_watts / volts
    )
    start = best_start(model)
    low, high = (np.array([u.bounds[side] for u in found]) for side in (0, 1))
    solution = least_squares(
        model.residuals,
        np.clip(start, low, high),
        jac=model.jacobian,
        bounds=(low, high),
        x_scale="jac",
        max_nfev=60,
        xtol=1e-10,
        ftol=1e-10,
        gtol=1e-10,
    )
    vector = solution.x
    states = model.states(vector)
    if not np.all(np.isfinite(solution.fun)) or np.mean(solution.fun**2) > 1e9:
        raise NoSolutionError("no steady state of this drive comes near the measured spectra")
    return _judged(
        model, vector, np.asarray(solution.jac), solution.fun, [state.dc_watts for state in states]
    )


def _judged(
    model: FitModel, vector: FloatArray, jacobian: FloatArray, residuals: FloatArray, watts: Sequence[float]
) -> Estimate:
    setting, points = model.setting, model.points
    degrees = residuals.size - vector.size
    misfit = math.sqrt(float(residuals @ residuals) / max(1, degrees))
    covariance, loose = _covariance(jacobian, setting.unknowns)
    covariance = covariance * max(1.0, misfit**2)
    names, values, slopes, parents = _as_named(model, vector, watts)
    named = slopes @ covariance @ slopes.T
    errors = np.sqrt(np.maximum(np.diag(named), 0.0))
    lost = np.array([bool(loose & set(parts)) for parts in parents])
    errors[lost] = np.inf
    with np.errstate(divide="ignore", invalid="ignore"):
        correlation = named / np.outer(errors, errors)
    correlation[lost, :] = np.nan
    correlation[:, lost] = np.nan
    return Estimate(
        names=names,
        values=values,
        standard_errors=errors,
        correlation=correlation,
        indistinguishable=_told_apart(names, values, errors, correlation),
        remarks=_remarks(misfit, points, vector, setting),
        misfit=misfit,
        front_end=_fitted(model, vector, watts[0]),
        residuals=tuple(_difference(model, vector, k) for k in range(len(points))),
    )


def _covariance(jacobian: FloatArray, named: Sequence[Unknown]) -> tuple[FloatArray, set[int]]:
    """Covariance of the vector, and the places that the residuals do not determine."""
    size = np.linalg.norm(jacobian, axis=0)
    loose = {k for k in range(len(named)) if not size[k] > 0.0}
    scale = np.where(size > 0.0, size, 1.0)
    _, singular, directions = np.linalg.svd(jacobian / scale, full_matrices=False)
    kept = singular > _SINGULAR * singular[0]
    for direction in directions[~kept]:
        loose |= set(np.flatnonzero(np.abs(direction) > 0.1).tolist())
    inverse = (directions[kept].T / singular[kept] ** 2) @ directions[kept]
    return inverse / np.outer(scale, scale), loose


def _as_named(
    model: FitModel, vector: FloatArray, watts: Sequence[float]
) -> tuple[tuple[str, ...], FloatArray, FloatArray, list[tuple[int, ...]]]:
    """Names and values of a study, their derivatives by the vector, and the places that each depends on."""
    setting = model.setting
    rows: list[tuple[str, float, dict[int, float]]] = []
    reactance, resistance = setting.source(vector)
    base_mva = model.volts * model.amps / 1e6
    source, ohms = setting.index("source"), setting.index("resistance")
    if source is not None:
        rows.append(("mva", base_mva / reactance, {source: -base_mva / reactance}))
    if ohms is not None:
        ratio = reactance / max(resistance, 1e-9)
        by = {ohms: -ratio / max(100.0 * resistance, 1e-7)}
        rows.append(("xr", ratio, by | ({source: ratio} if source is not None else {})))
    done = set()
    for unknown in setting.unknowns:
        if unknown.name in DRIVE_FIELDS:
            k = place_of(setting, unknown)
            value = setting.value(vector, unknown.name, math.nan)
            rows.append((unknown.name, value, {k: value if unknown.logarithm else 1.0}))
        elif unknown.name in ("background", "unbalance") and (unknown.name, unknown.order) not in done:
            done.add((unknown.name, unknown.order))
            rows += _polar(setting, vector, unknown)
    several = len(model.points) > 1
    for k, power in enumerate(watts):
        tail = f" {k + 1}" if several else ""
        place = place_of(setting, Unknown("emf", point=k))
        rows.append((f"emf_pct{tail}", 100.0 * float(vector[place]), {place: 100.0}))
        rows.append((f"load_pct{tail}", 100.0 * power, _power_slopes(model, vector, k, power)))
    slopes = np.zeros((len(rows), vector.size))
    for row, (_, _, by) in enumerate(rows):
        for place, slope in by.items():
            slopes[row, place] = slope
    names = tuple(name for name, _, _ in rows)
    values = np.array([value for _, value, _ in rows])
    return names, values, slopes, [tuple(by) for _, _, by in rows]


def _polar(
    setting: FitSetting, vector: FloatArray, unknown: Unknown
) -> list[tuple[str, float, dict[int, float]]]:
    value = setting.phasor(vector, unknown.name, unknown.order, 0j)
    real, imag = (place_of(setting, replace(unknown, part=part)) for part in ("real", "imag"))
    size = max(abs(value), 1e-9)
    head = "unbalance" if unknown.name == "unbalance" else f"background {_ordinal(unknown.order)}"
    percent = {real: 100.0 * value.real / size, imag: 100.0 * value.imag / size}
    degree = math.degrees(1.0) / size**2
    angle = {real: -value.imag * degree, imag: value.real * degree}
    return [
        (f"{head} pct", 100.0 * abs(value), percent),
        (f"{head} deg", math.degrees(cmath.phase(value)), angle),
    ]


def _power_slopes(model: FitModel, vector: FloatArray, point: int, watts: float) -> dict[int, float]:
    """Change of the load in percent by the vector: power is that of the fundamental less what is lost."""
    from scipy.optimize import approx_fprime

    places = [k for k, u in enumerate(model.setting.unknowns) if u.point in (-1, point) and u.name != "angle"]

    def power(part: FloatArray) -> float:
        trial = vector.copy()
        trial[places] = part
        try:
            return 100.0 * model.states(trial)[point].dc_watts
        except (InputError, NoSolutionError):
            return 100.0 * watts

    slopes = approx_fprime(vector[places], power, 1e-6)
    return dict(zip(places, slopes.tolist(), strict=True))


def _told_apart(
    names: Sequence[str], values: FloatArray, errors: FloatArray, correlation: FloatArray
) -> tuple[str, ...]:
    found = []
    lost = [name for name, error in zip(names, errors, strict=True) if not math.isfinite(error)]
    if lost:
        found.append(f"the record cannot tell apart, or does not determine: {', '.join(lost)}")
    for k, first in enumerate(names):
        for other in range(k + 1, len(names)):
            if abs(correlation[k, other]) >= ALIKE:
                how = f"correlation {correlation[k, other]:.3f}"
                found.append(f"{first} and {names[other]} are hardly told apart ({how})")
    for name, value, error in zip(names, values, errors, strict=True):
        vague = name in ("mva", "xr", *DRIVE_FIELDS) and math.isfinite(error)
        if vague and error > TRUSTED * abs(value):
            found.append(f"{name} is known no better than {value:.3g} +- {NO_DOUBT * error:.2g}")
    return tuple(found)


def _remarks(
    misfit: float, points: Sequence[OperatingPoint], vector: FloatArray, setting: FitSetting
) -> tuple[str, ...]:
    found = []
    for k, point in enumerate(points):
        if point.scatter > STEADY:
            where = f" of record {k + 1}" if len(points) > 1 else ""
            found.append(
                f"the load{where} varied: the fundamental current scatters by {100.0 * point.scatter:.2g} % "
                "of its mean; values are those of the mean phasors"
            )
    if misfit > 3.0:
        found.append(
            f"the residuals are {misfit:.3g} times their noise: something that is held fixed, or is not "
            "modelled, differs; the standard errors are enlarged by it"
        )
    for k, unknown in enumerate(setting.unknowns):
        low, high = unknown.bounds
        if unknown.name != "angle" and min(vector[k] - low, high - vector[k]) < 1e-6:
            found.append(f"{unknown.name.replace('source', 'mva')} ended at the edge of its range")
    return tuple(dict.fromkeys(found))


def _fitted(model: FitModel, vector: FloatArray, watts: float) -> FrontEnd:
    setting = model.setting
    reactance, resistance = setting.source(vector)
    background = {order: (percent, angle) for order, percent, angle in setting.front_end.background}
    for unknown in setting.unknowns:
        if unknown.name == "background":
            value = setting.phasor(vector, "background", unknown.order, 0j)
            background[unknown.order] = (100.0 * abs(value), math.degrees(cmath.phase(value)))
    known = setting.front_end
    unbalance = setting.phasor(
        vector,
        "unbalance",
        1,
        cmath.rect(known.unbalance_pct / 100.0, math.radians(known.unbalance_deg)),
    )
    return replace(
        known,
        source_pct=100.0 * reactance,
        source_xr=min(1e6, reactance / max(resistance, 1e-9)),
        reactor_pct=setting.value(vector, "line_reactor_pct", known.reactor_pct),
        choke_pct=setting.value(vector, "dc_choke_pct", known.choke_pct),
        dc_capacitance_pu=setting.value(vector, "dc_capacitance_pu", known.dc_capacitance_pu),
        load_pct=100.0 * watts,
        unbalance_pct=100.0 * abs(unbalance),
        unbalance_deg=math.degrees(cmath.phase(unbalance)),
        background=tuple((order, *background[order]) for order in sorted(background)),
    )


def _difference(model: FitModel, vector: FloatArray, point: int) -> ComplexArray:
    found, measured = model.predicted(vector, point), model.points[point]
    return np.stack([found.volts * model.volts - measured.volts, found.amps * model.amps - measured.amps])


def _ordinal(order: int) -> str:
    return f"{order}th"
