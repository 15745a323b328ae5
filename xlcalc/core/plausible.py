"""What single values usually are: percent typed as a fraction, volts as kilovolts and the like are refused.

The one rule for templates, files and functions. All ranges are common practice, no source. A value outside
them that is meant is written with its unit, as a text: ``0.03 %``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Final

from xlcalc.core.errors import InputError, Place


class Stated(float):
    """A number that was written with its unit: meant, however unusual it is."""


@dataclass(frozen=True)
class Usual:
    """Where a value usually lies; zero is outside the question.

    Parameters
    ----------
    least, most : float
        Both included; a value between 0 and `least` or above `most` must be written with its unit.
    inverse : bool
        A ratio that is often typed upside down.
    of_bus : bool
        A nominal voltage: what stands between phase and neutral of a medium voltage is doubted as well.
    word : str
        What is written behind a number without a unit that is meant.
    """

    least: float = 0.0
    most: float = math.inf
    inverse: bool = False
    of_bus: bool = False
    word: str = ""

    def text(self, unit: str) -> str:
        """The range in words."""
        if math.isinf(self.most):
            return f"{self.least:g} {unit}".strip() + " or more"
        return f"{self.least:g} to {self.most:g} {unit}".strip()


REACTOR_PCT: Final = Usual(0.5)
"""Line reactors and chokes are made from 1 %; a fraction of a percent is a cable."""
DRIVE_REACTOR_PCT: Final = Usual(0.5, 15.0)
"""1 to 10 % are made for drives: 20 to 50 are 2.0 to 5.0 % whose point got lost."""
DC_CAPACITANCE_PU: Final = Usual(0.02, 50.0)
"""0.1 with film to 8 with electrolytic capacitors; a smaller or larger number is likely in another unit."""
TRANSFORMER_Z_PCT: Final = Usual(1.0, 20.0)
"""2 to 6 % for small distribution transformers, up to 16 % for large ones."""
LEAKAGE_PCT: Final = Usual(0.5)
"""Windings of phase-shifting and three-winding transformers, whose pairs may lie far apart."""
UNBALANCE_PCT: Final = Usual(0.05)
"""A measured supply has 0.2 % or more; typed as fractions, 1 to 4 % are 0.01 to 0.04."""
BACKGROUND_PCT: Final = Usual(0.05)
"""Orders that matter have 0.1 % or more; typed as fractions, 1 to 4 % are 0.01 to 0.04."""
LOAD_PCT: Final = Usual(2.5)
"""Drives idle above that; typed as fractions, loads up to 200 % are 2 and less."""
EFFICIENCY_PCT: Final = Usual(50.0)
FILTER_CAPACITOR_PCT: Final = Usual(2.0)
"""10 to 30 % of the rating."""
DETUNING_PCT: Final = Usual(4.5)
"""5 to 14 % is made: 0.05 to 0.14 as fractions, 2.7 to 4.4 as orders of tuning."""
QUALITY: Final = Usual(0.3, inverse=True, word="quality")
"""30 to 100 of tuned filters, 0.5 to 5 of damped ones; R/X typed for X/R lies below."""
X_OVER_R: Final = Usual(0.3, inverse=True, word="X/R")
"""0.6 at the end of a cable (IEC 60725, from memory) to 50, more in ideal cases; R/X is 0.02 to 0.25."""
POWER_FACTOR: Final = Usual(0.2, word="pf")
"""0.5 or more of running loads; 0.9 typed as 0.09 lies below."""
SUBTRANSIENT_PCT: Final = Usual(2.0)
"""8 to 30 %."""
SHARE_PCT: Final = Usual(0.5)
"""Eddy and stray losses, margins, yearly rates: usually whole percents."""
TARGET_PCT: Final = Usual(1.0)
"""Distortion to be met."""
TAP_PCT: Final = Usual(0.3)
"""Steps of 0.625 % and more."""
VOLTS: Final = Usual(50.0)
"""Three-phase supplies of drives; 0.208 to 36 kV typed for V lie below."""
KV: Final = Usual(0.1)
"""208 V is 0.208 kV."""
BUS_KV: Final = replace(KV, of_bus=True)
TRANSFORMER_KVA: Final = Usual(5.0)
"""Three-phase transformers and generators of plants with drives; 0.1 to 4 MVA typed for kVA lie below."""
RATING_KW: Final = Usual(0.2)
"""The smallest three-phase drives; 15 to 160 kW typed in MW lie below."""
LOAD_KW: Final = Usual(1.0)
"""Loads are given by bus: 0.02 to 0.9 MW typed for kW lie below."""
FREQUENCY_HZ: Final = Usual(45.0, 65.0)
INVERTER_PCT: Final = Usual(2.0)
"""Generation of 2 % and less of a load is none; typed as fractions, 10 to 200 % are 0.1 to 2."""
SHIFT_DEG: Final = Usual(1.0)
"""Windings shift by 3.75 degrees and more, which are 0.065 to 0.52 rad."""
LENGTH_M: Final = Usual(1.0)
"""Cables between buses; 10 to 900 m typed in km lie below."""
BANK_MVAR: Final = Usual(0.001)
BANK_KVAR: Final = Usual(1.0)
"""The smallest three-phase banks; 0.025 to 0.9 Mvar typed for kvar lie below."""

SPECTRUM_PCT: Final = Usual(1.0)
"""The largest order of a load or front end; typed as fractions, 1 to 99 % lie below."""
VOLTAGE_PCT: Final = Usual(0.15)
"""The largest order of a voltage; typed as fractions, up to 15 % lie below."""

MOST_OF_BASE: Final = 2.0
"""Fundamental over a demand or reference current: a lower IL than the study's makes every value stricter."""
LEAST_OF_BASE: Final = 0.001
"""Share of a demand or reference current below which a fundamental is no load but a slip of the unit."""
LEAST_RECORDED_PCT: Final = 5.0
"""Largest fundamental of a record over its demand current: below, ratio, unit or base are wrong."""
PHASE_VOLTS: Final = {120.0: 208, 277.0: 480, 347.0: 600}
"""Phase voltages of usual supplies that are no line voltage of three-phase drives, and the line voltage."""
PHASE_KV: Final = {
    6.93: 12.0,
    7.2: 12.47,
    7.62: 13.2,
    7.97: 13.8,
    14.4: 24.94,
    19.9: 34.5,
    19.92: 34.5,
}
"""The same of medium voltages in ANSI C84.1 (from memory); equipment is rated at such values."""
SMALLER: Final = {
    "kV": "V",
    "MVA": "kVA",
    "kVA": "VA",
    "kW": "W",
    "kW or hp": "W",
    "Mvar": "kvar",
    "kvar": "var",
}
LARGER: Final = {"V": "kV", "kvar": "Mvar", "kVA": "MVA", "kW": "MW", "kW or hp": "MW", "m": "km"}
_WITH_UNIT: Final = re.compile(r"([+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+))\s*(\D.*)\Z")


def stated(text: str, unit: str) -> Stated | None:
    """The number of a text that ends with the unit; None for any other text.

    Examples
    --------
    >>> stated("0.03 %", "%"), stated("0,5%", "%"), stated("3 mH", "%"), stated("1,200 V", "V")
    (0.03, 0.5, None, None)
    """
    found = _WITH_UNIT.match(text.strip())
    if found is None or found[2].strip().casefold() != unit.casefold():
        return None
    digits = found[1].replace(",", ".")
    if "," in found[1] and not digits.startswith("0") and len(digits.partition(".")[2]) == 3:
        return None
    return Stated(digits)


def slip(value: float, unit: str, usual: Usual, low: float = 0.0, high: float = math.inf) -> str:
    """What was probably meant by an unusual value; empty for a usual one, and for one with its unit.

    Parameters
    ----------
    value : float
        As typed.
    unit : str
        Of the value; ``%`` and units with a larger or smaller neighbour have a proposal.
    usual : Usual
        Where the value usually lies.
    low, high : float
        What a proposal must keep.

    Examples
    --------
    >>> slip(0.48, "V", VOLTS)
    "50 V or more; did you mean 480 V? It seems to be in kV (if 0.48 V is meant, write the text '0.48 V')"
    >>> slip(0.125, "", X_OVER_R)
    "0.3 or more; did you mean 8? It seems to be upside down (if 0.125 is meant, write the text '0.125 X/R')"
    >>> slip(3.0, "%", REACTOR_PCT), slip(0.0, "%", REACTOR_PCT), slip(Stated(0.03), "%", REACTOR_PCT)
    ('', '', '')
    """
    if isinstance(value, Stated) or value == 0.0:
        return ""
    shown = f"{value:g} {unit}".strip()
    insist = f"(if {shown} is meant, write the text '{value:g} {unit or usual.word}')"
    line = _line_volts(value, unit, usual)
    if line:
        return f"a line-to-line voltage; did you mean {line}? It seems to be phase to neutral {insist}"
    if usual.least <= abs(value) <= usual.most:
        return ""
    if usual.inverse and usual.least <= 1.0 / value <= usual.most:
        return f"{usual.text(unit)}; did you mean {1.0 / value:.4g}? It seems to be upside down {insist}"
    factor, other = (100.0, "") if unit == "%" else (1000.0, LARGER.get(unit, ""))
    if abs(value) > usual.most:
        factor, other = 1.0 / factor, "" if unit == "%" else SMALLER.get(unit, "")
    meant = round(factor * value, 9)
    fits = low <= meant <= high and usual.least <= abs(meant) <= usual.most and (unit == "%" or other)
    if not fits:
        return f"{usual.text(unit)} {insist}"
    how = f"It seems to be in {other}" if other else f"Percent are typed as {meant:g} for {meant:g} %"
    return f"{usual.text(unit)}; did you mean {meant:g} {unit}? {how} {insist}"


def _line_volts(value: float, unit: str, usual: Usual) -> str:
    """The line-to-line voltage of what seems to be one to neutral, in its unit; empty for any other."""
    line = PHASE_VOLTS.get(round(value * {"V": 1.0, "kV": 1000.0}.get(unit, 0.0), 6), 0.0) / 1000.0
    if usual.of_bus and not line:
        line = PHASE_KV.get(round(value, 6), 0.0)
    return f"{line if unit == 'kV' else 1000.0 * line:g} {unit}" if line else ""


def check_base(fundamental: float, base: float, name: str) -> None:
    """The fundamental of a spectrum in amperes against the current that it is judged by.

    Parameters
    ----------
    fundamental : float
        Of the spectrum, A; 0 where it is not given, of which nothing can be said.
    base : float
        Maximum demand or reference current, A.
    name : str
        What the base is called.

    Raises
    ------
    InputError
        The two can hardly stand beside each other; the message says what was probably meant.

    Examples
    --------
    >>> check_base(90.0, 100.0, "demand_amps")
    """
    if not fundamental:
        return
    if fundamental > MOST_OF_BASE * base:
        least = f"at least half the fundamental of the spectrum, {fundamental:.4g} A"
        raise InputError(name, base, f"{least}; is it of another voltage level, or the spectrum in percent?")
    if fundamental in (1.0, 100.0) and base > 2.0 * fundamental:
        valid = f"amperes, as {name}; exactly {fundamental:g} seems to be percent or per unit"
        place = Place("spectrum_amps", position=0)
        raise InputError("fundamental of spectrum_amps", fundamental, valid, place=place)
    if fundamental < LEAST_OF_BASE * base:
        most = f"up to {fundamental / LEAST_OF_BASE:.4g} A, a thousand times the fundamental of the spectrum"
        raise InputError(name, base, f"{most}; is one of them in another unit or of another voltage level?")


def beyond(value: float, unit: str, low: float, high: float) -> str:
    """What was probably meant by a value beyond its range: volts for kV, W for kW; empty where nothing is.

    Examples
    --------
    >>> beyond(13800, "kV", 0, 1000), beyond(85, "", 0, 1), beyond(-3, "kV", 0, 1000)
    ('did you mean 13.8 kV? It seems to be in V', 'did you mean 0.85?', '')
    """
    if value <= high:
        return ""
    if not unit and high == 1.0 and value <= 100.0:
        return f"did you mean {value / 100.0:g}?"
    smaller = SMALLER.get(unit, "")
    if smaller and low < value / 1000.0 <= high:
        return f"did you mean {value / 1000.0:g} {unit}? It seems to be in {smaller}"
    return ""
