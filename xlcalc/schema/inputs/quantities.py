"""Kinds of the quantities that several fields share: their units and ranges."""

from __future__ import annotations

from dataclasses import replace

from xlcalc.core import plausible
from xlcalc.schema.kinds import Choice, Number, Whole
from xlcalc.schema.nameplate import DC_CHOKE, LINE_REACTOR, NameplatePercent

X_OVER_R = Number(0.1, 1000, usual=plausible.X_OVER_R)
REACTOR_PCT = Number(0, 300, "%", usual=plausible.REACTOR_PCT)
DRIVE_REACTOR = NameplatePercent(0, 300, "%", usual=plausible.DRIVE_REACTOR_PCT, device=LINE_REACTOR)
DRIVE_CHOKE = replace(DRIVE_REACTOR, device=DC_CHOKE)
"""The same in a schedule, where extremes are no question but a slip, and a nameplate may say less."""
PULSE_NUMBER = Whole(6, 48, 6)
HARMONIC_ORDER = Whole(2, 50)
LOAD_PCT = Number(1, 200, "%", usual=plausible.LOAD_PCT)
ANGLE = Number(-360, 360, "deg")
SHIFT = Number(-180, 180, "deg", usual=plausible.SHIFT_DEG)
EDITIONS = Choice(("1992", "2014", "2022"))
KVA = Number(0, 1e6, "kVA", above=True, usual=plausible.TRANSFORMER_KVA)
KV = Number(0, 1000, "kV", above=True, usual=plausible.KV)
BUS_KV = replace(KV, usual=plausible.BUS_KV)
IMPEDANCE = Number(0, 50, "%", above=True, usual=plausible.TRANSFORMER_Z_PCT)
LOW_VOLTS = Number(0, 50_000, "V", above=True, usual=plausible.VOLTS)
RATING = Number(0, 1e5, "kW or hp", above=True, usual=plausible.RATING_KW)
SHAFT_UNIT = Choice(("kW", "hp"))
UNIT = Choice((*SHAFT_UNIT.options, "A"))
"""Of a shaft output, or amperes of a rated input current."""
EFFICIENCY_PCT = Number(50, 100, "%", usual=plausible.EFFICIENCY_PCT)
MVA = Number(0, 1e6, "MVA", above=True)
POWER_FACTOR = Number(0, 1, above=True, usual=plausible.POWER_FACTOR)
WINDING_Z = Number(0, 50, "%", above=True, usual=plausible.LEAKAGE_PCT)
TAP = Number(-20, 20, "%", usual=plausible.TAP_PCT)
EDDY = Number(0, 100, "%", usual=plausible.SHARE_PCT)
LEADING_VARS = EDDY
YES_NO = Choice(("yes", "no"))
MONEY = Number(0, 1e9)
LOSS = Number(0, 20, "%")
KW = Number(0, 1e5, "kW", above=True)
LEAKAGE = Number(0, 300, "%", usual=plausible.LEAKAGE_PCT)
PART_LOAD = Number(0, 200, "%", above=True, usual=plausible.LOAD_PCT)
RATE = Number(0, 50, "%", usual=plausible.SHARE_PCT)
MARGIN = Number(0, 90, "%", usual=plausible.SHARE_PCT)
SHARE = Number(0, 1000, "%", usual=plausible.SHARE_PCT)
RISE = Number(0, 150, "K", above=True)
AMPS = Number(0, 1e6, "A", above=True)
DEMAND_AMPS = Number(0, 1e7, "A", above=True)
BUS_VOLTS = Number(0, 1e6, "V", above=True)
ANY_HZ = Number(0, 1000, "Hz", above=True)
KVAR = Number(-1e6, 1e6, "kvar")
SUBTRANSIENT = Number(0, 100, "%", above=True, usual=plausible.SUBTRANSIENT_PCT)
DIAMETER_MM = Number(0, 1000, "mm", above=True)
SPACING_MM = Number(0, 1e5, "mm", above=True)
MAINS_HZ = Number(40, 70, "Hz")
TARIFF = Number(0, 1e6)
HOURS = Number(0, 8784, "h")
YEARS = Number(0, 60)
