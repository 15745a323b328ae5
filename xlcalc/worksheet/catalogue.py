"""All worksheet functions, in the order of the reference."""

from __future__ import annotations

from xlcalc.worksheet.functions import (
    about,
    apparatus,
    choice,
    current_limits,
    figures,
    levels,
    limits,
    network,
    network_effects,
    plant,
    power,
    rectifier_rules,
    spectra,
    supply,
    transformers,
)
from xlcalc.worksheet.registry import collect

FUNCTIONS = collect(
    (
        *spectra.FUNCTIONS,
        *figures.FUNCTIONS,
        *rectifier_rules.FUNCTIONS,
        *supply.FUNCTIONS,
        *limits.FUNCTIONS,
        *current_limits.FUNCTIONS,
        *levels.FUNCTIONS,
        *plant.FUNCTIONS,
        *network.FUNCTIONS,
        *network_effects.FUNCTIONS,
        *choice.FUNCTIONS,
        *transformers.FUNCTIONS,
        *apparatus.FUNCTIONS,
        *power.FUNCTIONS,
        *about.FUNCTIONS,
    )
)
