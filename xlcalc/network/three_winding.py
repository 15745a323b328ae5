"""Transformers with two secondary windings: their star equivalent, as branches between each two windings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ComplexArray
from xlcalc.network.branches import TwoPort
from xlcalc.network.elements import LEAST_X_OVER_R, MAX_X_OVER_R, split_impedance

WINDINGS = ("primary", "secondary", "tertiary")


@dataclass(frozen=True)
class ThreeWindingTransformer:
    """A transformer with three windings per phase.

    Its three short-circuit impedances, each between two windings with the third open, give a star of three
    legs: ``z_p = (z_ps + z_pt - z_st) / 2`` and so on (textbook relation). A leg may be zero or negative. The
    star point is eliminated, so that what is left are three branches; nothing is lost in this.

    Parameters
    ----------
    name : str
        Once per plant.
    buses : tuple of three str
        Of primary, secondary and tertiary winding; all different.
    rating_va : float
        Common base of the three impedances, above 0 VA.
    z_ps_pct, z_pt_pct, z_st_pct : float
        Primary to secondary, primary to tertiary, secondary to tertiary; above 0 to 50 %, and such that the
        star is passive: the root of z_st between difference and sum of the roots of the other two.
    x_over_r : float
        Of all three, 0.1 to 1000.
    volts : tuple of three float
        Rated line-to-line rms voltages, above 0 V.
    shifts_deg : tuple of two float
        Angles by which secondary and tertiary voltage lead the primary one (positive sequence).
    tap_pct : float
        Off-nominal tap on the primary winding, -20 to 20 %.
    zero_sequence : tuple of two bool
        Whether zero-sequence voltage reaches secondary and tertiary.

    Raises
    ------
    InputError
        A field is outside its range.

    Examples
    --------
    Star legs of 8, 8 and 15.6 %: 0.2, 7.8 and 7.8 %, by hand

    >>> unit = ThreeWindingTransformer(
    ...     "T1", ("in", "A", "B"), 2e6, 8.0, 8.0, 15.6, 10.0, (20e3, 690.0, 690.0), (30.0, 0.0))
    >>> [round(100.0 * abs(complex(leg)), 3) for leg in unit.legs(1)]
    [0.2, 7.8, 7.8]
    """

    name: str
    buses: tuple[str, str, str]
    rating_va: float
    z_ps_pct: float
    z_pt_pct: float
    z_st_pct: float
    x_over_r: float
    volts: tuple[float, float, float]
    shifts_deg: tuple[float, float]
    tap_pct: float = 0.0
    zero_sequence: tuple[bool, bool] = (True, True)

    def __post_init__(self) -> None:
        number(f"rating_va of {self.name}", self.rating_va, unit="VA", above=0)
        for pair in ("ps", "pt", "st"):
            field = f"z_{pair}_pct"
            number(f"{field} of {self.name}", getattr(self, field), unit="%", above=0, most=50)
        number(f"x_over_r of {self.name}", self.x_over_r, least=LEAST_X_OVER_R, most=MAX_X_OVER_R)
        number(f"tap_pct of {self.name}", self.tap_pct, unit="%", least=-20, most=20)
        for volts in self.volts:
            number(f"volts of {self.name}", volts, unit="V", above=0)
        for shift in self.shifts_deg:
            number(f"shifts_deg of {self.name}", shift, unit="degrees", least=-180, most=180)
        least, most = self.passive_range(self.z_ps_pct, self.z_pt_pct)
        if not least < self.z_st_pct < most:
            raise InputError(
                f"z_st_pct of {self.name}", self.z_st_pct, f"above {least:.4g} and below {most:.4g} %"
            )
        if len(set(self.buses)) < len(self.buses):
            raise InputError(f"buses of {self.name}", ", ".join(self.buses), "three different buses")

    @staticmethod
    def passive_range(z_ps: float, z_pt: float) -> tuple[float, float]:
        """Limits of the third impedance."""
        first, second = math.sqrt(z_ps), math.sqrt(z_pt)
        return (first - second) ** 2, (first + second) ** 2

    def legs(
        self, orders: npt.ArrayLike, resistance_exponent: float = 0.0
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """Legs of the star towards primary, secondary and tertiary, per unit of the rating."""
        ps, pt, st = (
            split_impedance(z / 100.0, self.x_over_r, orders, resistance_exponent)
            for z in (self.z_ps_pct, self.z_pt_pct, self.z_st_pct)
        )
        return (ps + pt - st) / 2.0, (ps + st - pt) / 2.0, (pt + st - ps) / 2.0

    def pairs(self) -> tuple[WindingPair, ...]:
        """The three branches."""
        return WindingPair(self, 0, 1), WindingPair(self, 0, 2), WindingPair(self, 1, 2)


@dataclass(frozen=True)
class WindingPair:
    """The branch between two windings of a three-winding transformer.

    Parameters
    ----------
    transformer : ThreeWindingTransformer
        The whole of it.
    first, second : int
        Windings at its ends: 0 primary, 1 secondary, 2 tertiary.
    third_open : bool
        The bus of the other winding is out of service: the branch is then the short-circuit impedance.
    """

    transformer: ThreeWindingTransformer
    first: int
    second: int
    third_open: bool = False

    @property
    def unit(self) -> str:
        """Name of the transformer."""
        return self.transformer.name

    @property
    def name(self) -> str:
        return f"{self.unit} {WINDINGS[self.first]}-{WINDINGS[self.second]}"

    @property
    def from_bus(self) -> str:
        return self.transformer.buses[self.first]

    @property
    def to_bus(self) -> str:
        return self.transformer.buses[self.second]

    @property
    def shift_deg(self) -> float:
        shifts = (0.0, *self.transformer.shifts_deg)
        return shifts[self.second] - shifts[self.first]

    @property
    def ratio(self) -> float:
        """Voltage of the first winding over that of the second at no load."""
        volts = self.transformer.volts
        tap = 1.0 + self.transformer.tap_pct / 100.0 if self.first == 0 else 1.0
        return volts[self.first] / volts[self.second] * tap

    @property
    def passes_zero_sequence(self) -> bool:
        reached = (True, *self.transformer.zero_sequence)
        return reached[self.first] and reached[self.second]

    def two_port(self, orders: npt.ArrayLike, resistance_exponent: float = 0.0) -> TwoPort:
        legs = self.transformer.legs(orders, resistance_exponent)
        a, b = legs[self.first], legs[self.second]
        (other,) = (leg for k, leg in enumerate(legs) if k not in (self.first, self.second))
        per_unit = 1.0 / (a + b) if self.third_open else other / (a * b + b * other + other * a)
        y = np.asarray(
            per_unit * self.transformer.rating_va / self.transformer.volts[self.second] ** 2, np.complex128
        )
        return y / self.ratio**2, -y / self.ratio, y
