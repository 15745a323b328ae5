"""What a fit may look for, and how a vector of numbers becomes a front end on its supply."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.rectifier.circuit import Circuit, Load, ThreePhaseSource
from xlcalc.rectifier.drive import BASE_HZ, DC_PER_LINE_VOLT, FrontEnd

BACKGROUND_ORDERS: Final = (5, 7, 11, 13)
DRIVE_FIELDS: Final = {
    "dc_capacitance_pu": (0.002, 900.0),
    "line_reactor_pct": (0.0, 100.0),
    "dc_choke_pct": (0.0, 100.0),
}
_FRONT_END: Final = {"line_reactor_pct": "reactor_pct", "dc_choke_pct": "choke_pct"}
FREE: Final = ("mva", "background", "unbalance", "load_pct", "dc_capacitance_pu")
"""What is looked for unless told otherwise."""
NAMES: Final = ("mva", "xr", "background", "unbalance", "load_pct", *DRIVE_FIELDS)
_LOG: Final = ("source", "dc_capacitance_pu", "amps")
_OF_POINT: Final = ("emf", "angle", "amps")


@dataclass(frozen=True)
class Unknown:
    """One number of the vector: a name, the order of a distortion, or the operating point it belongs to.

    `part` is "real" or "imag" of a phasor. Numbers that are above 0 by their nature are kept as logarithms.
    """

    name: str
    order: int = 0
    part: str = ""
    point: int = -1

    @property
    def logarithm(self) -> bool:
        """Whether the vector holds the logarithm."""
        return self.name in _LOG

    @property
    def of_supply(self) -> bool:
        """Whether the engine answers a change of it as one of the EMF."""
        return self.name in ("source", "resistance", "background", "unbalance", "emf")

    @property
    def bounds(self) -> tuple[float, float]:
        """Of the number in the vector."""
        low, high = {
            "source": (0.005, 250.0),
            "resistance": (0.0, 100.0),
            "background": (-0.2, 0.2),
            "unbalance": (-0.13, 0.13),
            "emf": (0.5, 1.5),
            "angle": (-np.inf, np.inf),
            "amps": (1e-4, 10.0),
            **DRIVE_FIELDS,
        }[self.name]
        return (math.log(low), math.log(high)) if self.logarithm else (low, high)


@dataclass(frozen=True, kw_only=True)
class FitSetting:
    """A front end, its unknowns and how many operating points there are.

    Parameters
    ----------
    front_end : FrontEnd
        The drive on its supply as it is believed to be; what is not unknown stays.
    unknowns : tuple of Unknown
    points : int
    shares_hz : tuple of float
        Frequency of each point over the nominal one.
    """

    front_end: FrontEnd
    unknowns: tuple[Unknown, ...]
    shares_hz: tuple[float, ...]

    def index(self, name: str, order: int = 0, part: str = "", point: int = -1) -> int | None:
        """Place in the vector; None where it is no unknown."""
        wanted = Unknown(name, order, part, point)
        return self.unknowns.index(wanted) if wanted in self.unknowns else None

    def value(self, vector: FloatArray, name: str, otherwise: float, **where: int | str) -> float:
        """A number, logarithms undone."""
        place = self.index(name, **where)  # type: ignore[arg-type]
        if place is None:
            return otherwise
        return math.exp(vector[place]) if self.unknowns[place].logarithm else float(vector[place])

    def source(self, vector: FloatArray) -> tuple[float, float]:
        """Reactance and resistance of the source, per unit."""
        known = self.front_end
        reactance = self.value(vector, "source", known.source_pct) / 100.0
        return reactance, self.value(vector, "resistance", 100.0 * reactance / known.source_xr) / 100.0

    def phasor(self, vector: FloatArray, name: str, order: int, otherwise: complex) -> complex:
        """A distortion in per unit of the EMF."""
        parts = [self.index(name, order, part) for part in ("real", "imag")]
        if None in parts:
            return otherwise
        real, imag = (float(vector[k]) for k in parts if k is not None)
        return complex(real, imag)

    def circuit(self, vector: FloatArray, point: int) -> Circuit:
        """The circuit of one operating point, in per unit of nominal voltage and rated power."""
        known = self.front_end
        fields = {
            _FRONT_END.get(name, name): self.value(vector, name, math.nan)
            for name in DRIVE_FIELDS
            if self.index(name) is not None
        }
        reactance, resistance = self.source(vector)
        front_end = replace(known, **fields, source_pct=100.0 * reactance)  # type: ignore[arg-type]
        circuit = front_end.circuit()
        background = {
            order: _phasor(percent, degrees) for order, percent, degrees in known.background if percent
        }
        for unknown in self.unknowns:
            if unknown.name == "background":
                background[unknown.order] = self.phasor(vector, "background", unknown.order, 0j)
        known_unbalance = _phasor(known.unbalance_pct, known.unbalance_deg)
        supply = ThreePhaseSource(
            volts=self.value(vector, "emf", 1.0, point=point),
            hz=BASE_HZ * self.shares_hz[point],
            inductance=reactance,
            resistance=resistance,
            negative_sequence=self.phasor(vector, "unbalance", 1, known_unbalance),
            background=tuple(sorted(background.items())),
        )
        amps = self.value(vector, "amps", known.load_pct / 100.0 / DC_PER_LINE_VOLT, point=point)
        return replace(circuit, supply=supply, load=Load("current", amps))


def _phasor(percent: float, degrees: float) -> complex:
    return percent / 100.0 * cmath.exp(1j * math.radians(degrees))


def unknowns(free: Iterable[str], points: int) -> tuple[Unknown, ...]:
    """The vector for names of `NAMES`, or "background 17" for the order named.

    Raises
    ------
    InputError
        Another name, or none.
    """
    found: list[Unknown] = []
    named = list(dict.fromkeys(free))
    for name in named:
        head, _, order = name.partition(" ")
        if name == "background" or (head == "background" and order.isdecimal()):
            orders: Sequence[int] = BACKGROUND_ORDERS if not order else (int(order),)
            if not all(2 <= h <= 49 and h % 2 and h % 3 for h in orders):
                raise InputError("free", name, "an order of a three-wire load: 5, 7, 11, 13, 17 to 49")
            found += [Unknown("background", h, part) for h in orders for part in ("real", "imag")]
        elif name == "unbalance":
            found += [Unknown("unbalance", 1, part) for part in ("real", "imag")]
        elif name in ("mva", "xr"):
            found.append(Unknown({"mva": "source", "xr": "resistance"}[name]))
        elif name in DRIVE_FIELDS:
            found.append(Unknown(name))
        elif name != "load_pct":
            raise InputError(
                "free", name, "some of " + ", ".join(NAMES) + ", or 'background 17'", wrong_kind=True
            )
    if not named:
        raise InputError("free", "empty", "some of " + ", ".join(NAMES), wrong_kind=True)
    shared = tuple(dict.fromkeys(found))
    return (*shared, *(Unknown(name, point=k) for k in range(points) for name in _OF_POINT))
