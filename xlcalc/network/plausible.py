"""Ratings that only a slip of the unit explains. All bounds are common practice, no source."""

from __future__ import annotations

import math

from xlcalc.errors import InputError

LOW_VOLTAGE_KV = 1.0
MEDIUM_VOLTAGE_KV = 52.0
HIGH_VOLTAGE_KV = 100.0
"""Every usual low voltage typed in V is above this."""

MOST_AMPS = {LOW_VOLTAGE_KV: 10_000.0, MEDIUM_VOLTAGE_KV: 20_000.0, math.inf: 10_000.0}
"""Rated current of one element by the voltage up to which it holds."""

LEAST_HIGH_VOLTAGE_KVA = 5_000.0
LEAST_MEDIUM_VOLTAGE_KVA = 5.0
MOST_FAULT_AMPS = 200_000.0
IDEAL_MVA = 1e6
"""Short-circuit level that stands for a supply without impedance."""
MOST_DRIVE_KV = 36.0


def check_rating(argument: str, unit: str, kilo: float, kv: float, supply_mva: float) -> None:
    """A rating in kVA, kW or kvar against its voltage and the short-circuit level of the supply.

    Parameters
    ----------
    argument : str
        What an error names.
    unit : str
        Unit of the rating, with the k.
    kilo : float
        The rating.
    kv : float
        Nominal voltage, kV.
    supply_mva : float
        Short-circuit level of the utility, MVA.

    Raises
    ------
    InputError
        The current is more than one element carries, or the rating more than the supply gives at a fault.
    """
    most_amps = next(amps for level, amps in MOST_AMPS.items() if kv <= level)
    bounds = (
        (most_amps * math.sqrt(3.0) * kv, f"at {kv:g} kV"),
        (1e3 * supply_mva, f"on a supply of {supply_mva:g} MVA short-circuit level"),
    )
    for most, where in bounds:
        if kilo > most:
            raise InputError(argument, kilo, f"up to {most:.0f} {unit} {where}; is it in {unit[1:]}?")


def check_high_voltage(argument: str, kv: float, kilo: float, what: str) -> None:
    """A voltage that is too high for what stands on it.

    Raises
    ------
    InputError
        100 kV and more with a rating below 5 MVA.
    """
    if kv >= HIGH_VOLTAGE_KV and kilo < LEAST_HIGH_VOLTAGE_KVA:
        raise InputError(
            argument, kv, f"below {HIGH_VOLTAGE_KV:g} kV, because {what} stands on it; is it in V?"
        )


def check_not_mega(argument: str, kva: float, kv: float) -> None:
    """A transformer that is too small for its primary voltage.

    Raises
    ------
    InputError
        Below 5 kVA above 1 kV.
    """
    if kv > LOW_VOLTAGE_KV and kva < LEAST_MEDIUM_VOLTAGE_KVA:
        raise InputError(
            argument, kva, f"{LEAST_MEDIUM_VOLTAGE_KVA:g} kVA or more at {kv:g} kV; is it in MVA?"
        )


def check_fault_level(argument: str, mva: float, kv: float) -> None:
    """A short-circuit level whose current no switchgear breaks.

    Raises
    ------
    InputError
        Above 200 kA, an ideal supply excepted.
    """
    most = MOST_FAULT_AMPS * math.sqrt(3.0) * kv / 1e3
    if most < mva < IDEAL_MVA:
        raise InputError(argument, mva, f"up to {most:.0f} MVA at {kv:g} kV; is it in kVA?")
