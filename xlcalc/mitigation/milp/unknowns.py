"""The unknowns of a choice: how many drives of a group get an option, and which filter a bus gets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.milp.currents import AlikeDrives, OptionCurrents
from xlcalc.mitigation.offer.drive_options import ActiveFilter, DriveOption, FilterPlace
from xlcalc.mitigation.offer.economics import Economics


@dataclass(frozen=True)
class DriveColumn:
    """How many drives of a group get an option while their bus has a filter, or none (`choice` -1)."""

    group: int
    option: int
    place: int = -1
    choice: int = -1


@dataclass(frozen=True)
class FilterColumn:
    """Whether a place gets a filter; `choice` -1 is none."""

    place: int
    choice: int


@dataclass(frozen=True, eq=False)
class Columns:
    """All unknowns with their costs.

    Parameters
    ----------
    groups : tuple of AlikeDrives
        Drives that are alike.
    currents : tuple of OptionCurrents
        Usable options of each group.
    places : tuple of FilterPlace
        Buses that may get a filter.
    economics : Economics
        Terms.
    """

    groups: tuple[AlikeDrives, ...]
    currents: tuple[OptionCurrents, ...]
    places: tuple[FilterPlace, ...]
    economics: Economics

    @cached_property
    def drive_columns(self) -> tuple[DriveColumn, ...]:
        found = []
        for g, group in enumerate(self.groups):
            place = self.place_of(group.drives[0].bus)
            for choice in self.choices(place) if place >= 0 else (-1,):
                options = range(len(self.currents[g].options))
                found += [DriveColumn(g, option, place, choice) for option in options]
        return tuple(found)

    @cached_property
    def filter_columns(self) -> tuple[FilterColumn, ...]:
        return tuple(
            FilterColumn(place, choice) for place in range(len(self.places)) for choice in self.choices(place)
        )

    @property
    def count(self) -> int:
        return len(self.drive_columns) + len(self.filter_columns)

    def place_of(self, bus: str) -> int:
        """Number of the place that covers a bus, -1 where none does."""
        return next((k for k, place in enumerate(self.places) if bus in place.covered), -1)

    def choices(self, place: int) -> tuple[int, ...]:
        """Filters of a place; -1 is none."""
        choices = tuple(range(len(self.places[place].choices)))
        return choices if self.places[place].required else (-1, *choices)

    def option(self, column: DriveColumn) -> DriveOption:
        return self.currents[column.group].options[column.option]

    def active_filter(self, column: DriveColumn | FilterColumn) -> ActiveFilter | None:
        return None if column.choice < 0 else self.places[column.place].choices[column.choice]

    @cached_property
    def upper(self) -> FloatArray:
        """Most that each unknown can be."""
        return np.array(
            [self.groups[c.group].count for c in self.drive_columns] + [1] * len(self.filter_columns), float
        )

    @cached_property
    def purchase(self) -> FloatArray:
        """Purchase price of one unit of each unknown."""
        drives = [
            drive.quantity * self.option(column).price.at(drive.rated_watts / 1000.0)
            for column in self.drive_columns
            for drive in self.groups[column.group].drives[:1]
        ]
        active_filters = [self.active_filter(column) for column in self.filter_columns]
        return np.array(drives + [item.price if item else 0.0 for item in active_filters], float)

    @cached_property
    def kwh_per_year(self) -> FloatArray:
        """Added losses of one unit of each unknown in a year."""
        hours = self.economics.hours_per_year
        drives = [
            drive.quantity
            * self.option(column).losses.kwh_per_year(
                drive.rated_watts, drive.front_end.load_pct / 100.0, hours
            )
            for column in self.drive_columns
            for drive in self.groups[column.group].drives[:1]
        ]
        active_filters = [self.active_filter(column) for column in self.filter_columns]
        return np.array(
            drives + [item.loss_watts / 1000.0 * hours if item else 0.0 for item in active_filters], float
        )

    @cached_property
    def footprint(self) -> FloatArray:
        """Added floor area of one unit of each unknown, m2."""
        drives = [
            drive.quantity * self.option(column).footprint.at(drive.rated_watts / 1000.0)
            for column in self.drive_columns
            for drive in self.groups[column.group].drives[:1]
        ]
        active_filters = [self.active_filter(column) for column in self.filter_columns]
        return np.array(drives + [item.footprint_m2 if item else 0.0 for item in active_filters], float)

    @cached_property
    def cost(self) -> FloatArray:
        """Purchase and losses of one unit of each unknown."""
        value = np.array([self.economics.cost_of(kwh) for kwh in self.kwh_per_year])
        return np.asarray(self.purchase + value)

    @cached_property
    def sums(self) -> tuple[tuple[dict[int, float], float], ...]:
        """Equations: coefficients by number of the unknown, and what they add up to."""
        first_filter = len(self.drive_columns)
        number = {column: first_filter + k for k, column in enumerate(self.filter_columns)}
        rows: dict[tuple[int, int], dict[int, float]] = {}
        for k, column in enumerate(self.drive_columns):
            rows.setdefault((column.group, column.choice), {})[k] = 1.0
        equations = []
        for (group, choice), row in rows.items():
            place = self.place_of(self.groups[group].drives[0].bus)
            count = float(self.groups[group].count)
            if place < 0:
                equations.append((row, count))
            else:
                equations.append(({**row, number[FilterColumn(place, choice)]: -count}, 0.0))
        for place in range(len(self.places)):
            equations.append(({number[FilterColumn(place, c)]: 1.0 for c in self.choices(place)}, 1.0))
        return tuple(equations)
