"""All worksheet functions, in the order of the reference."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from importlib import import_module

from xlcalc.worksheet.registry import PREFIX, WorksheetFunction, collect

MODULES = (
    "drive.spectra",
    "drive.figures",
    "drive.rectifier_rules",
    "drive.duty",
    "equipment.supply",
    "standards.limits",
    "standards.current_limits",
    "standards.levels",
    "standards.emission",
    "standards.operating_time",
    "plant.link_power",
    "plant.site_study",
    "plant.notches",
    "plant.magnetics",
    "plant.assumptions",
    "plant.plant_study",
    "plant.network_effects",
    "plant.network_levels",
    "plant.active",
    "plant.phases",
    "plant.choice",
    "equipment.transformers",
    "equipment.apparatus",
    "equipment.power",
    "measured",
    "about",
)
"""Modules of `xlcalc.worksheet.functions` that declare some."""


class Catalogue(Mapping[str, WorksheetFunction]):
    """The worksheet functions by name; a function asked for loads the modules up to the one that declares it.

    Most workbooks use those of the first modules, and all of them take longer to load than many a workbook to
    calculate.
    """

    def __init__(self, modules: Sequence[str]) -> None:
        self._modules = modules
        self._functions: dict[str, WorksheetFunction] = {}

    def __getitem__(self, name: str) -> WorksheetFunction:
        if name not in self._functions and name.startswith(PREFIX):
            self._load(name)
        return self._functions[name]

    def __iter__(self) -> Iterator[str]:
        self._load()
        return iter(self._functions)

    def __len__(self) -> int:
        self._load()
        return len(self._functions)

    def _load(self, until: str = "") -> None:
        for module in self._modules:
            self._functions.update(collect(import_module(f"xlcalc.worksheet.functions.{module}").FUNCTIONS))
            if until in self._functions:
                return


FUNCTIONS: Mapping[str, WorksheetFunction] = Catalogue(MODULES)
