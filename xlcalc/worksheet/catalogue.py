"""All worksheet functions, in the order of the reference, by the module that declares them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib import import_module

from xlcalc.worksheet.registry import WorksheetFunction, collect

DECLARED = {
    "spectra": """
        HD_SPECTRUM HD_WAVEFORM HD_IDEAL_SPECTRUM HD_CREST HD_TRUE_PF HD_DISPLACEMENT_PF HD_DERATING
        HD_REACTOR_FOR_THD
    """,
    "figures": "HD_THD HD_TDD HD_KFACTOR HD_LOSS_FACTOR HD_SPECTRUM_SUM",
    "rectifier_rules": "HD_REACTOR_MH HD_REACTOR_PCT HD_OVERLAP_DEG HD_DC_VOLTS HD_NOTCH_DEPTH_PCT",
    "supply": "HD_TRANSFORMER_MVA HD_SERIES_MVA HD_SC_AMPS HD_SOURCE_PCT HD_RESONANCE_ORDER",
    "limits": "HD_LIMIT_TDD HD_LIMIT_CURRENT HD_LIMIT_VOLTAGE",
    "current_limits": """
        HD_VERDICT_IEEE519 HD_VERDICT_IEEE519_VOLTAGE HD_LIMIT_MULTIPLIER HD_LIMIT_IEC61000_3_12
        HD_VERDICT_IEC61000_3_12 HD_SPECTRUM_SUM_IEC
    """,
    "levels": """
        HD_LIMIT_IEC61000_2_2 HD_VERDICT_IEC61000_2_2 HD_LIMIT_IEC61000_2_4 HD_VERDICT_IEC61000_2_4
        HD_LIMIT_EN50160 HD_VERDICT_EN50160 HD_LIMIT_IEC61000_3_6 HD_VERDICT_IEC61000_3_6 HD_VERDICT_OWN
    """,
    "plant": "HD_PCC HD_PCC_VALUE HD_DRIVES HD_BUS_VALUE",
    "network": """
        HD_PLANT_BUSES HD_PLANT_PCC HD_PLANT_VALUE HD_PLANT_DRIVES HD_PLANT_AMPS HD_PLANT_VOLTS HD_PLANT_SCAN
        HD_PLANT_RESONANCES
    """,
    "network_effects": "HD_PLANT_POWER HD_PLANT_NOTCHES",
    "network_levels": "HD_PLANT_LEVELS",
    "choice": "HD_CHOICE HD_CHOICE_VALUE",
    "transformers": """
        HD_TRANSFORMER_LOAD_DRY HD_TRANSFORMER_LOAD_LIQUID HD_FACTOR_K HD_K_RATING HD_TRANSFORMER_ADDED_KW
    """,
    "apparatus": """
        HD_VERDICT_CAPACITOR HD_VERDICT_NOTCH HD_GENERATOR_THDV HD_GENERATOR_I2 HD_CONDUCTOR_LOAD
        HD_CONDUCTOR_ADDED_KW
    """,
    "power": "HD_POWER HD_POWER_3PH HD_ADDED_KWH HD_ADDED_COST",
    "about": "HD_VERSION",
}
"""Names of the functions by the module of `xlcalc.worksheet.functions` that declares them."""


class Catalogue(Mapping[str, WorksheetFunction]):
    """The worksheet functions by name; a module is loaded when one of its functions is asked for.

    Most workbooks use the functions of one or two modules, and all of them take longer to load than many a
    workbook to calculate.
    """

    def __init__(self, declared: Mapping[str, str]) -> None:
        self._modules = {name: module for module, names in declared.items() for name in names.split()}
        self._functions: dict[str, WorksheetFunction] = {}

    def __getitem__(self, name: str) -> WorksheetFunction:
        if name not in self._functions:
            module = import_module(f"xlcalc.worksheet.functions.{self._modules[name]}")
            self._functions.update(collect(module.FUNCTIONS))
        return self._functions[name]

    def __contains__(self, name: object) -> bool:
        return name in self._modules

    def __iter__(self) -> Iterator[str]:
        return iter(self._modules)

    def __len__(self) -> int:
        return len(self._modules)


FUNCTIONS: Mapping[str, WorksheetFunction] = Catalogue(DECLARED)
