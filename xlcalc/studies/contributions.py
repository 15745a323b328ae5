"""Which loads cause one harmonic at a PCC, and how much of it each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from xlcalc.checks import whole_number
from xlcalc.spectrum import MAX_ORDER
from xlcalc.studies.assessed import Assessment
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.sources import Summation, currents_through


@dataclass(frozen=True)
class Contribution:
    """What all units of one load send through a PCC at one order.

    Parameters
    ----------
    tag : str
        Name of the load.
    units : int
        Number of identical units.
    amps : float
        A rms at the voltage of the PCC, in the phase where the sum is largest.
    share_pct : float
        Part of the sum of all loads, percent; negative where the load lowers it.
    """

    tag: str
    units: int
    amps: float
    share_pct: float


def contributions(
    solution: PlantSolution, pcc: str, order: int, summation: Summation = Summation.PHASOR
) -> tuple[Contribution, ...]:
    """Contributions of all drives to one order, the largest share first.

    With phasors the share is the component of a current along the sum, ``Re(I_k conj(S)) / |S|^2``, so that
    the shares add up to 100 %; without angles it is the magnitude over the sum of magnitudes.

    Parameters
    ----------
    solution : PlantSolution
    pcc : str
        Bus of the network.
    order : int
        2 to 50.
    summation : Summation
        How the harmonics add up.

    Raises
    ------
    InputError
        No such bus or order.
    """
    h = whole_number("order", order, least=2, most=MAX_ORDER)
    loads = solution.loads
    through = currents_through(loads, solution.network, pcc)[:, :, h - 1]
    if summation is not Summation.PHASOR:
        through = np.abs(through).astype(np.complex128)
    total = through.sum(axis=0)
    phase = int(np.argmax(np.abs(total)))
    amps, along = through[:, phase], total[phase]
    size = abs(along) ** 2
    shares = 100.0 * (amps * np.conj(along)).real / size if size > 0.0 else np.zeros(len(loads))
    found = [
        Contribution(load.tag, load.quantity, float(abs(one)), float(share))
        for load, one, share in zip(loads, amps, shares, strict=True)
    ]
    return tuple(sorted(found, key=lambda item: -item.share_pct))


def contributions_to_binding(
    assessment: Assessment, summation: Summation = Summation.PHASOR
) -> tuple[int, tuple[Contribution, ...]]:
    """The order with the smallest margin, and what causes it in the state that decides.

    Raises
    ------
    NoSolutionError
        There is no result at the PCC.
    """
    pcc = assessment.require_pcc()
    binding = pcc.judgement.binding_order
    order = 5 if binding is None or binding.order is None else binding.order
    solution = next(state.solution for state in assessment.states if state.pcc is pcc)
    assert solution is not None
    return order, contributions(solution, pcc.bus, order, summation)
