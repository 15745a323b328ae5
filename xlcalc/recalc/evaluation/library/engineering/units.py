"""CONVERT: units by their definitions, and their prefixes.

Names of units and prefixes, and which units take a prefix, as in the function description of Excel
(support.microsoft.com, from memory). Factors follow from the definitions of inch, pound, gallons,
standard fall and light year; electronvolt and atomic mass are those of CODATA 2006, which Excel shows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.rounding import add_in_number
from xlcalc.recalc.evaluation.library.values import (
    ErrorShown,
    Uncertain,
    fail,
    is_error,
    over_arrays,
    single,
)
from xlcalc.schema.values import ErrorCode

_PREFIXES = {
    "Y": 1e24, "Z": 1e21, "E": 1e18, "P": 1e15, "T": 1e12, "G": 1e9, "M": 1e6, "k": 1e3, "h": 1e2, "da": 10.0,
    "e": 10.0, "d": 0.1, "c": 1e-2, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12, "f": 1e-15, "a": 1e-18,
    "z": 1e-21, "y": 1e-24,
}  # fmt: skip
_BINARY = {name: 1024.0**power for power, name in enumerate("ki Mi Gi Ti Pi Ei Zi Yi".split(), 1)}
_INCH, _POUND, _FALL = 0.0254, 0.45359237, 9.80665
_FOOT, _MILE = 12 * _INCH, 63360 * _INCH
_GALLON, _BRITISH_GALLON = 231 * _INCH**3, 4.54609e-3
_HORSEPOWER = 550 * _POUND * _FALL * _FOOT
_LIGHT_YEAR = 9460730472580800.0
_PARSEC = 3.0856775812815532e16
_POINT = _INCH / 72
_SURVEY_FOOT = 1200 / 3937
_ELECTRONVOLT, _ATOMIC_MASS = 1.602176487e-19, 1.660538782e-27

_METRIC = {
    "mass": {"g": 1e-3, "u": _ATOMIC_MASS},
    "length": {"m": 1.0, "ang": 1e-10, "ly": _LIGHT_YEAR, "parsec": _PARSEC, "pc": _PARSEC},
    "time": {"s": 1.0, "sec": 1.0},
    "pressure": {"Pa": 1.0, "p": 1.0, "atm": 101325.0, "at": 101325.0, "mmHg": 133.322},
    "force": {"N": 1.0, "dyn": 1e-5, "dy": 1e-5, "pond": _FALL * 1e-3},
    "energy": {
        "J": 1.0,
        "e": 1e-7,
        "c": 4.184,
        "cal": 4.1868,
        "eV": _ELECTRONVOLT,
        "ev": _ELECTRONVOLT,
        "Wh": 3600.0,
        "wh": 3600.0,
    },
    "power": {"W": 1.0, "w": 1.0},
    "magnetism": {"T": 1.0, "ga": 1e-4},
    "volume": {"l": 1e-3, "L": 1e-3, "lt": 1e-3},
    "speed": {"m/s": 1.0, "m/sec": 1.0, "m/h": 1 / 3600, "m/hr": 1 / 3600},
    "information": {"bit": 1.0, "byte": 8.0},
}
"""Units that take a prefix."""

_PLAIN = {
    "mass": {
        "sg": _POUND * _FALL / _FOOT,
        "lbm": _POUND,
        "ozm": _POUND / 16,
        "grain": _POUND / 7000,
        "cwt": 100 * _POUND,
        "shweight": 100 * _POUND,
        "uk_cwt": 112 * _POUND,
        "lcwt": 112 * _POUND,
        "hweight": 112 * _POUND,
        "stone": 14 * _POUND,
        "ton": 2000 * _POUND,
        "uk_ton": 2240 * _POUND,
        "LTON": 2240 * _POUND,
        "brton": 2240 * _POUND,
    },
    "length": {
        "mi": _MILE,
        "Nmi": 1852.0,
        "in": _INCH,
        "ft": _FOOT,
        "yd": 3 * _FOOT,
        "ell": 45 * _INCH,
        "Picapt": _POINT,
        "Pica": _POINT,
        "pica": 12 * _POINT,
        "survey_mi": 5280 * _SURVEY_FOOT,
    },
    "time": {"yr": 365.25 * 86400, "day": 86400.0, "d": 86400.0, "hr": 3600.0, "mn": 60.0, "min": 60.0},
    "pressure": {"psi": _POUND * _FALL / _INCH**2, "Torr": 101325 / 760},
    "force": {"lbf": _POUND * _FALL},
    "energy": {
        "HPh": 3600 * _HORSEPOWER,
        "hh": 3600 * _HORSEPOWER,
        "flb": _POUND * _FALL * _FOOT,
        "BTU": 1055.05585262,
        "btu": 1055.05585262,
    },
    "power": {"HP": _HORSEPOWER, "h": _HORSEPOWER, "PS": 75 * _FALL},
    "volume": {
        "tsp": _GALLON / 768,
        "tspm": 5e-6,
        "tbs": _GALLON / 256,
        "oz": _GALLON / 128,
        "cup": _GALLON / 16,
        "pt": _GALLON / 8,
        "us_pt": _GALLON / 8,
        "uk_pt": _BRITISH_GALLON / 8,
        "qt": _GALLON / 4,
        "uk_qt": _BRITISH_GALLON / 4,
        "gal": _GALLON,
        "uk_gal": _BRITISH_GALLON,
        "barrel": 42 * _GALLON,
        "bushel": 2150.42 * _INCH**3,
        "GRT": 100 * _FOOT**3,
        "regton": 100 * _FOOT**3,
        "MTON": 40 * _FOOT**3,
    },
    "area": {
        "uk_acre": 4840 * (3 * _FOOT) ** 2,
        "us_acre": 43560 * _SURVEY_FOOT**2,
        "ar": 100.0,
        "ha": 1e4,
        "Morgen": 2500.0,
    },
    "speed": {"mph": _MILE / 3600, "kn": 1852 / 3600, "admkn": 6080 * _FOOT / 3600},
}
"""Units that take none."""

_OF_LENGTHS = ("m", "ang", "ft", "in", "ly", "mi", "Nmi", "Pica", "Picapt", "yd")
"""Lengths of which squares and cubes are units too, such as ``ft2`` and ``ft^2``."""

_KELVIN: dict[str, tuple[float, float]] = {
    "C": (1.0, 273.15),
    "cel": (1.0, 273.15),
    "F": (5 / 9, 459.67 * 5 / 9),
    "fah": (5 / 9, 459.67 * 5 / 9),
    "K": (1.0, 0.0),
    "kel": (1.0, 0.0),
    "Rank": (5 / 9, 0.0),
    "Reau": (1.25, 273.15),
} | {prefix + name: (factor, 0.0) for prefix, factor in _PREFIXES.items() for name in ("K", "kel")}
"""Kelvins to a degree, and the temperature of zero degrees."""

Unit = tuple[str, float]


def _units() -> Iterator[tuple[str, Unit]]:
    """Every unit with what it measures and its factor; of equal names the last one counts."""
    for prefixes, taking in ((_PREFIXES, _METRIC), (_BINARY, {"information": _METRIC["information"]})):
        for kind, names in taking.items():
            for name, factor in names.items():
                yield from ((prefix + name, (kind, scale * factor)) for prefix, scale in prefixes.items())
    lengths = _METRIC["length"] | _PLAIN["length"]
    for exponent, kind in ((2, "area"), (3, "volume")):
        for name in _OF_LENGTHS:
            for prefix, scale in ({"": 1.0} | (_PREFIXES if name in ("m", "ang") else {})).items():
                for mark in ("", "^"):
                    yield f"{prefix}{name}{mark}{exponent}", (kind, (scale * lengths[name]) ** exponent)
    for table in (_METRIC, _PLAIN):
        for kind, names in table.items():
            yield from ((name, (kind, factor)) for name, factor in names.items())


_UNITS: dict[str, Unit] = dict(_units())


def _unit(name: str) -> Unit:
    found = _UNITS.get(name)
    if found is None:
        raise Uncertain(f"CONVERT of the unit {name!r}; names of units are told apart by capital letters")
    return found


def convert(value: Raw = None, source: Raw = None, target: Raw = None) -> Raw:
    """CONVERT between the units of the tables; every other unit is refused."""
    amount, units = add_in_number(value), [single(source), single(target)]
    for unit in units:
        if is_error(unit):
            raise ErrorShown(unit)
        if not isinstance(unit, str):
            fail(ErrorCode.NA if unit is None else ErrorCode.VALUE)
    warm = [unit in _KELVIN for unit in units]
    if all(warm):
        (scale, zero), (other_scale, other_zero) = (_KELVIN[unit] for unit in units)
        if units[0] == units[1]:
            return amount
        return (amount * scale + zero - other_zero) / other_scale
    if any(warm):
        return fail(ErrorCode.NA)
    (kind, factor), (other, divisor) = (_unit(unit) for unit in units)
    return amount * factor / divisor if kind == other else fail(ErrorCode.NA)


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays({"CONVERT": convert})
