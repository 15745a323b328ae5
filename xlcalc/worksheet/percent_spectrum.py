"""A spectrum in percent, which refuses volts and amperes by the size of its fundamental."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.errors import InputError
from xlcalc.schema.kinds import BadValue
from xlcalc.schema.values import Value
from xlcalc.spectrum import ListedSpectrum
from xlcalc.worksheet.ranges import SpectrumRange

LOWEST_PCT = 80.0
HIGHEST_PCT = 120.0


@dataclass(frozen=True)
class PercentSpectrum(SpectrumRange):
    """As `SpectrumRange`, in percent; the fundamental may be left out, else it is 80 to 120."""

    @property
    def valid(self) -> str:
        return f"{super().valid}, in percent: the fundamental left out or {LOWEST_PCT:g} to {HIGHEST_PCT:g}"

    def convert(self, value: Value, name: str) -> ListedSpectrum:
        spectrum = super().convert(value, name)
        if spectrum.fundamental and not LOWEST_PCT <= spectrum.fundamental <= HIGHEST_PCT:
            raise InputError(f"fundamental in {name}", spectrum.fundamental, self.valid)
        return spectrum

    @property
    def bad_values(self) -> tuple[BadValue, ...]:
        return (*super().bad_values, BadValue([[1.0, 230.0], [5.0, 12.0]], False))
