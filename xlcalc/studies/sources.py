"""Harmonic currents of loads, and how they add up at a point of the network."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number, whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, Spectrum
from xlcalc.network.flow import POSITIVE, Flow
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.sequence import to_common_frame
from xlcalc.standards.iec61000_3_6 import summation_exponents


class Summation(StrEnum):
    """How the harmonics of several loads add up; fundamentals always add as phasors."""

    PHASOR = "phasor"
    ARITHMETIC = "arithmetic"
    EXPONENTS = "exponents"
    """Law of IEC TR 61000-3-6: exponent 1 below order 5, 1.4 from 5 to 10, 2 above."""


@dataclass(frozen=True)
class LoadCurrent:
    """Line currents of one load, or of several identical ones that run in step.

    Parameters
    ----------
    tag : str
        Name of the load.
    bus : str
        Bus that feeds it.
    phases : array of complex, shape (3, 50)
        rms amperes of ONE unit in phases a, b, c by order, at the voltage of the bus; angles against the
        phase-a voltage of the bus. Shorter arrays count as zero above their last order.
    quantity : int
        Number of identical units.

    Raises
    ------
    InputError
        Wrong shape, numbers that are not finite, or a quantity below 1.
    """

    tag: str
    bus: str
    phases: ComplexArray
    quantity: int = 1

    def __post_init__(self) -> None:
        given = np.asarray(self.phases, dtype=np.complex128)
        if given.ndim != 2 or given.shape[0] != 3 or not 1 <= given.shape[1] <= MAX_ORDER:
            raise InputError(f"phases of {self.tag}", f"of shape {given.shape}", "3 rows of orders 1 to 50")
        if not np.all(np.isfinite(given)):
            raise InputError(f"phases of {self.tag}", "not finite", "finite numbers")
        whole_number(f"quantity of {self.tag}", self.quantity, least=1)
        phases = np.zeros((3, MAX_ORDER), dtype=np.complex128)
        phases[:, : given.shape[1]] = given
        phases.setflags(write=False)
        object.__setattr__(self, "phases", phases)

    @classmethod
    def balanced(cls, tag: str, bus: str, phase_a: Spectrum, quantity: int = 1) -> LoadCurrent:
        """A balanced load from its phase-a spectrum in amperes: phases b and c a third of a cycle later.

        Parameters
        ----------
        tag, bus : str
        phase_a : Spectrum
            Of one unit, A rms.
        quantity : int
            Number of units, from 1.
        """
        later = [phase_a.rotated(-120.0 * k).phasors for k in range(3)]
        return cls(tag, bus, np.array(later), quantity)

    @property
    def spectra(self) -> tuple[Spectrum, Spectrum, Spectrum]:
        """Phases a, b, c of one unit, A rms at its own bus."""
        a, b, c = (Spectrum(row) for row in self.phases)
        return a, b, c

    @property
    def worst_phase(self) -> int:
        """Index of the phase with the largest harmonic rms current."""
        return most_distorted(self.phases)

    def at(self, network: NodalNetwork, pcc: str) -> ComplexArray:
        """Current of all units through the PCC, A at the PCC's voltage and against its phase-a voltage."""
        amps: ComplexArray = currents_through([self], network, pcc)[0]
        return amps

    def voltage_at(self, network: NodalNetwork, pcc: str) -> ComplexArray:
        """Voltage that all units take from the PCC, V per phase by order."""
        volts: ComplexArray = volts_taken([self], network, pcc)[0]
        return volts


ORDERS = np.arange(1, MAX_ORDER + 1)


def currents_through(loads: Sequence[LoadCurrent], network: NodalNetwork, pcc: str) -> ComplexArray:
    """What `LoadCurrent.at` gives for each load, shape (loads, 3, 50)."""
    return _felt_at(loads, network, pcc, network.current_share)


def volts_taken(loads: Sequence[LoadCurrent], network: NodalNetwork, pcc: str) -> ComplexArray:
    """What `LoadCurrent.voltage_at` gives for each load, shape (loads, 3, 50)."""
    return _felt_at(loads, network, pcc, network.transfer_impedance)


def _felt_at(
    loads: Sequence[LoadCurrent],
    network: NodalNetwork,
    pcc: str,
    per_ampere: Callable[[str, str, npt.ArrayLike], ComplexArray],
) -> ComplexArray:
    felt = np.zeros((len(loads), 3, MAX_ORDER), dtype=np.complex128)
    for bus in {load.bus for load in loads}:
        here = [k for k, load in enumerate(loads) if load.bus == bus]
        amps = np.array([loads[k].quantity * loads[k].phases for k in here])
        shift = network.shift_deg(bus) - network.shift_deg(pcc)
        felt[here] = per_ampere(pcc, bus, ORDERS) * to_common_frame(amps, shift)
    return felt


def most_distorted(phases: ComplexArray) -> int:
    """Index of the phase with the largest harmonic rms; the first of those that are equal to rounding."""
    rms = np.linalg.norm(phases[:, 1:], axis=1)
    return int(np.argmax(rms >= rms.max() * (1.0 - 1e-9)))


def summed(
    parts: Sequence[ComplexArray] | ComplexArray, counts: Sequence[int], rule: Summation
) -> ComplexArray:
    """Sum of the contributions of several loads.

    Parameters
    ----------
    parts : array or sequence of complex arrays, shape (loads, 3, 50)
        Contribution of each load, all its units together.
    counts : sequence of int
        Units behind each contribution; the exponent law counts each unit as a source.
    rule : Summation
        With any rule but PHASOR the harmonics are magnitudes with angle zero; the fundamental keeps its
        phasor sum, because an overestimated fundamental would raise the demand current and hide distortion.

    Returns
    -------
    array of complex, shape (3, 50)
    """
    if len(parts) == 0:
        return np.zeros((3, MAX_ORDER), dtype=np.complex128)
    total: ComplexArray = np.sum(parts, axis=0)
    if rule is Summation.PHASOR:
        return total
    alpha = np.ones(MAX_ORDER) if rule is Summation.ARITHMETIC else summation_exponents()
    units = np.array(counts)[:, None, None]
    powers = np.sum(units * (np.abs(parts) / units) ** alpha, axis=0)
    total[:, 1:] = (powers ** (1.0 / alpha))[:, 1:]
    return total


def lengthened(total: ComplexArray, parts: ComplexArray) -> ComplexArray:
    """Harmonics of a total with parts of unknown angle added in phase with it.

    Parameters
    ----------
    total : array of complex, shape (3, 50)
    parts : array of complex, shape (loads, 3, 50)
        Their fundamental is not counted.
    """
    size = np.abs(total)
    direction = np.where(size > 0.0, total / np.where(size > 0.0, size, 1.0), 1.0)
    more = np.abs(parts).sum(axis=0)
    more[:, 0] = 0.0
    return np.asarray(total + more * direction)


def spectrum_currents(flow: Flow, without_angle: bool = False) -> list[LoadCurrent]:
    """Currents of the loads of a network with their own spectrum, angle zero where none is known.

    Parameters
    ----------
    flow : Flow
        With the fundamental voltages on which the loads keep their power.
    without_angle : bool
        Only orders without a known angle, of loads that have some.
    """
    network, found = flow.network, []
    for load in network.spectrum_loads:
        if without_angle and not load.unknown.any():
            continue
        volts = complex(flow.volts[POSITIVE, 0, network.index(load.bus)])
        amps = complex(np.conj(load.power / (3.0 * volts)))
        known = np.zeros(MAX_ORDER, np.complex128) if without_angle else load.known
        shares = known * np.exp(1j * ORDERS * np.angle(volts)) + load.unknown
        phase = Spectrum(np.concatenate([[amps], abs(amps) * shares[1:]]))
        found.append(LoadCurrent.balanced(load.name, load.bus, phase))
    return found


def combined(values: Sequence[float], order: int, rule: Summation = Summation.EXPONENTS) -> float:
    """Sum of magnitudes of one order without angles.

    Parameters
    ----------
    values : sequence of float
        Magnitudes, 0 or more.
    order : int
        2 to 50.
    rule : Summation
        EXPONENTS or ARITHMETIC.

    Raises
    ------
    InputError
        A negative magnitude, an order outside its range, or the phasor rule.

    Examples
    --------
    Law of IEC TR 61000-3-6 (exponents from one source; sums computed):

    >>> [round(combined(v, h), 3) for v, h in (([10, 10], 7), ([10, 10], 11), ([5, 3], 5))]
    [16.407, 14.142, 6.645]
    """
    h = whole_number("order", order, least=2, most=MAX_ORDER)
    if rule is Summation.PHASOR:
        raise InputError("rule", str(rule), "exponents or arithmetic, which need no angles")
    alpha = 1.0 if rule is Summation.ARITHMETIC else float(summation_exponents()[h - 1])
    powers = [number("values", value, least=0) ** alpha for value in values]
    return float(sum(powers) ** (1.0 / alpha))


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
    loads: Sequence[LoadCurrent],
    network: NodalNetwork,
    pcc: str,
    order: int,
    summation: Summation = Summation.PHASOR,
) -> tuple[Contribution, ...]:
    """What each load adds to one order at a PCC, the largest share first.

    With phasors the share is the component of a current along the sum, ``Re(I_k conj(S)) / |S|^2``, so that
    the shares add up to 100 %; without angles it is the magnitude over the sum of magnitudes.

    Parameters
    ----------
    loads : sequence of LoadCurrent
        Angles against the nominal voltage of their bus, as in a solved plant.
    network : NodalNetwork
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
    through = currents_through(loads, network, pcc)[:, :, h - 1]
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
