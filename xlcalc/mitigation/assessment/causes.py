"""What each drive, source and filter of a mix adds to one order at a PCC."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.assessment.coupled import ActiveFilters, injected
from xlcalc.network.nodal import NodalNetwork
from xlcalc.studies.sources import Contribution, LoadCurrent, Summation, contributions, currents_through


class UnknownAngle(NamedTuple):
    """Magnitudes of unknown angle that one source sends past any filter, A rms by order."""

    tag: str
    bus: str
    amps: FloatArray


@dataclass(frozen=True, eq=False)
class Causes:
    """The currents of a solved case.

    Parameters
    ----------
    network : NodalNetwork
    loads : tuple of LoadCurrent
        What filters on their own bus leave of drives and sources.
    active_filters : mapping
        Filters by bus.
    unknown_angle : tuple of UnknownAngle
        What adds up with its magnitude because its angle is not known.
    """

    network: NodalNetwork
    loads: tuple[LoadCurrent, ...]
    active_filters: ActiveFilters
    unknown_angle: tuple[UnknownAngle, ...]

    def at(self, pcc: str, order: int, summation: Summation) -> tuple[Contribution, ...]:
        """Shares of all of them in one order at a PCC, the largest first, together 100 %.

        A filter that takes from loads of other buses has a negative share.
        """
        loads = (*self.loads, *injected(self.network, self.loads, self.active_filters))
        known = contributions(loads, self.network, pcc, order, summation)
        through = currents_through(loads, self.network, pcc)[:, :, order - 1]
        along = through if summation is Summation.PHASOR else np.abs(through)
        size = float(np.abs(along.sum(axis=0)).max()) if loads else 0.0
        at_order = np.array([order])
        unknown = [
            (one, float(one.amps[order - 1] * abs(self.network.current_share(pcc, one.bus, at_order)[0])))
            for one in self.unknown_angle
        ]
        whole = size + sum(amps for _, amps in unknown)
        if not whole:
            return known
        found = [
            Contribution(one.tag, one.units, one.amps, one.share_pct * size / whole) for one in known
        ] + [Contribution(one.tag, 1, amps, 100.0 * amps / whole) for one, amps in unknown]
        return tuple(sorted(found, key=lambda cause: -cause.share_pct))
