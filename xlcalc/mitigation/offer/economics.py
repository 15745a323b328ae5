"""What a mix costs: purchase, and its losses over stated years at a stated tariff."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.core.checks import number
from xlcalc.equipment.energy import HOURS_PER_YEAR, LoadBlock, added_energy_kwh


@dataclass(frozen=True)
class Economics:
    """Terms on which purchase and losses are compared.

    Parameters
    ----------
    price_per_kwh : float
        Price of energy, 0 or more. There is no default: without a tariff losses cannot be compared.
    years : float
        Over which losses count, 0 to 60.
    hours_per_year : float
        Of operation, 0 to 8784.
    discount_pct : float
        Yearly rate at which later costs are worth less, 0 to 50 %; paid at the end of each year.
    currency : str
        Its name, for the results.

    Raises
    ------
    InputError
        A field is missing or outside its range.
    """

    price_per_kwh: float
    years: float = 10.0
    hours_per_year: float = 6000.0
    discount_pct: float = 0.0
    currency: str = ""

    def __post_init__(self) -> None:
        number("price_per_kwh", self.price_per_kwh, least=0)
        number("years", self.years, least=0, most=60)
        number("hours_per_year", self.hours_per_year, unit="h", least=0, most=HOURS_PER_YEAR)
        number("discount_pct", self.discount_pct, unit="%", least=0, most=50)

    @property
    def present_value_factor(self) -> float:
        """Value today of one unit of money each year: ``(1 - (1 + i)^-n) / i``, or n without a rate.

        Examples
        --------
        10 years at 5 % (annuity factor of any table of compound interest: 7.7217)

        >>> round(Economics(0.1, 10, discount_pct=5).present_value_factor, 4)
        7.7217
        """
        rate = self.discount_pct / 100.0
        return self.years if rate == 0.0 else (1.0 - (1.0 + rate) ** -self.years) / rate

    def cost_of(self, kwh_per_year: float) -> float:
        """Value today of a yearly energy."""
        return kwh_per_year * self.price_per_kwh * self.present_value_factor


@dataclass(frozen=True)
class Losses:
    """Added losses of a remedy in percent of the drive's rated DC-link power.

    Parameters
    ----------
    fixed_pct : float
        At any load, such as the iron of a transformer; 0 to 20 %.
    load_pct : float
        At rated load, falling with the square of the load; 0 to 20 %.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    fixed_pct: float = 0.0
    load_pct: float = 0.0

    def __post_init__(self) -> None:
        number("fixed_pct", self.fixed_pct, unit="%", least=0, most=20)
        number("load_pct", self.load_pct, unit="%", least=0, most=20)

    def watts(self, rated_watts: float, load_pu: float) -> float:
        return rated_watts * (self.fixed_pct + self.load_pct * load_pu**2) / 100.0

    def kwh_per_year(self, rated_watts: float, load_pu: float, hours: float) -> float:
        """Energy lost in a year at one load.

        Examples
        --------
        100 kW, 1 % fixed and 2 % at full load, half load for 4000 h: (1 + 0.5) kW x 4000 h, by hand

        >>> Losses(1.0, 2.0).kwh_per_year(100e3, 0.5, 4000.0)
        6000.0
        """
        fixed = rated_watts * self.fixed_pct / 100.0
        varying = rated_watts * self.load_pct / 100.0
        return added_energy_kwh(fixed, [LoadBlock(1.0, hours)]) + added_energy_kwh(
            varying, [LoadBlock(load_pu, hours)]
        )
