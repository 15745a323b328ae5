"""A network on a supply whose unknown unbalance and background distortion are assumed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from xlcalc.network.elements import Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.standards.supply_presets import SupplyPreset
from xlcalc.standards.verdict import Judgement
from xlcalc.studies.pcc import CURRENT, TDD

NEAR_LIMIT: Final = 0.8
"""Part of a limit from which on more angles and ends of the damping are tried."""

ANGLES_DEG: Final = (0.0, 90.0, 180.0, 270.0)
"""Angles of the background to try: diode bridges draw more or less on it as it stands to the fundamental."""


def unknown_part(utility: Utility, preset: SupplyPreset) -> SupplyPreset:
    """What of a preset is unknown of the utility; zero where it is known."""
    levels = preset.at(utility.volts / 1e3)
    unbalance = levels.unbalance_pct if utility.is_unknown(1) else 0.0
    background = tuple((order, pct) for order, pct in levels.background if utility.is_unknown(order))
    return replace(levels, unbalance_pct=unbalance, background=background)


def is_ideal(part: SupplyPreset) -> bool:
    """Whether nothing is assumed that is not zero."""
    return part.unbalance_pct == 0.0 and not part.background


def on_assumed(network: NodalNetwork, part: SupplyPreset, angle_deg: float) -> NodalNetwork:
    """The network with the unknown part of its supply filled.

    Parameters
    ----------
    network : NodalNetwork
    part : SupplyPreset
        As `unknown_part` gives it.
    angle_deg : float
        Of the lowest order that is filled, cosine reference; of the unbalance where no order is.
    """
    utility = network.utility
    turned = tuple(
        (order, pct, angle_deg if k == 0 else 0.0) for k, (order, pct) in enumerate(part.background)
    )
    kept = tuple(row for row in utility.background if row[0] not in dict(part.background))
    filled = replace(utility, background=kept + turned, unknown=frozenset())
    if part.unbalance_pct:
        filled = replace(filled, unbalance_pct=part.unbalance_pct, unbalance_deg=0.0 if turned else angle_deg)
    return replace(network, utility=filled)


def worst_angles(found: Mapping[float, Sequence[Judgement]]) -> tuple[float, ...]:
    """The angles to solve coupled, by the quick estimate at each of them.

    Parameters
    ----------
    found : mapping of float to sequence of Judgement
        What the quick estimate gives by angle, a judgement for each PCC; angles without a result left out.

    Returns
    -------
    tuple of float
        Where currents come nearest to their limits; and where voltages do, if another angle brings them near.
        The first of all angles where there is no estimate.
    """
    if not found:
        return ANGLES_DEG[:1]
    angles = []
    for of_current in (True, False):
        ratios = {
            angle: max(
                v.ratio
                for judgement in judgements
                for v in judgement.verdicts
                if (v.quantity in (CURRENT, TDD)) is of_current
            )
            for angle, judgements in found.items()
        }
        worst = max(ratios, key=lambda angle: ratios[angle])
        if of_current or ratios[worst] > NEAR_LIMIT:
            angles.append(worst)
    return tuple(dict.fromkeys(angles))


def described(part: SupplyPreset) -> str:
    """What is assumed, in words.

    Examples
    --------
    >>> from xlcalc.standards.supply_presets import supply_preset
    >>> described(supply_preset("typical"))
    '1 % unbalance and 2 % 5th, 1.2 % 7th, 0.6 % 11th, 0.5 % 13th'
    """
    orders = ", ".join(f"{pct:.2g} % {order}th" for order, pct in part.background)
    unbalance = f"{part.unbalance_pct:.2g} % unbalance" if part.unbalance_pct else ""
    return " and ".join(text for text in (unbalance, orders) if text)
