"""Strength of the supply: transformers, utility, short-circuit current, resonance."""

from __future__ import annotations

from xlcalc.network.short_circuit import resonance_order, series_level, short_circuit_amps, transformer_level
from xlcalc.reactor import source_percent
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.kinds import Number
from xlcalc.worksheet.registry import Example, WorksheetFunction
