"""Strength of the supply: transformers, utility, short-circuit current, resonance."""

from __future__ import annotations

from xlcalc.network import short_circuit
from xlcalc.reactor import source_percent
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.kinds import Number
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Strength of the supply"
