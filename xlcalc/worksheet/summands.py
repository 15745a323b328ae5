"""Orders that spectra do not list: spectra that are added list the same ones, unless the others are zero."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from xlcalc.core.errors import InputError
from xlcalc.core.orders_given import OrdersNotListed, orders_text
from xlcalc.core.spectrum import ListedSpectrum, Spectrum
from xlcalc.schema.values import Grid, Value
from xlcalc.worksheet.ranges import SpectrumRange, spectrum_rows

LISTED_NOTE = (
    "Of the orders that the spectrum lists: one that is not listed, or has no magnitude, adds nothing."
)
ZERO = OrdersNotListed.ZERO.value
SUMMAND_NOTE = (
    "All spectra must list the same orders; the sum is blank for orders that none of them lists. Where "
    f'orders that are not listed are known to be zero, add the word "{ZERO}" as an argument.'
)


@dataclass(frozen=True)
class Summand(SpectrumRange):
    """As `SpectrumRange`, or the word "zero"."""

    @property
    def valid(self) -> str:
        return f"{super().valid}; or the word {ZERO}, where orders not listed are zero"

    def convert(self, value: Value, name: str) -> ListedSpectrum | OrdersNotListed:  # type: ignore[override]
        if isinstance(value, str) and value.strip().casefold() == ZERO:
            return OrdersNotListed.ZERO
        return super().convert(value, name)


@dataclass(frozen=True)
class Summands:
    """Spectra to add, and the orders that the sum has."""

    spectra: tuple[ListedSpectrum, ...]
    orders: frozenset[int]

    @classmethod
    def of(cls, name: str, parts: Sequence[ListedSpectrum | OrdersNotListed]) -> Summands:
        """Spectra of the arguments of a sum.

        Raises
        ------
        InputError
            There is no spectrum, or one lists an order that another does not.
        """
        spectra = tuple(part for part in parts if isinstance(part, ListedSpectrum))
        if not spectra:
            raise InputError(name, f"only the word {ZERO}", "one spectrum or more")
        if len(spectra) < len(parts):
            return cls(spectra, frozenset(map(int, spectra[0].orders)))
        first = spectra[0].given
        for number, spectrum in enumerate(spectra[1:], start=2):
            if spectrum.given != first:
                more, fewer = (1, number) if first - spectrum.given else (number, 1)
                orders = sorted(first - spectrum.given or spectrum.given - first)
                word = "order" if len(orders) == 1 else "orders"
                raise InputError(
                    name,
                    f"with {word} {orders_text(orders)} in spectrum {more} but not in spectrum {fewer}",
                    f'the same orders in every spectrum, 0 where one is zero; or the word "{ZERO}" as '
                    "the last argument",
                )
        return cls(spectra, first)

    def rows(self, total: Spectrum) -> Grid:
        """Rows of order, magnitude and angle; blank where no spectrum lists the order."""
        return [
            row if index in self.orders else [row[0], "", ""]
            for index, row in enumerate(spectrum_rows(total), start=1)
        ]
