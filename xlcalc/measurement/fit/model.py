"""Spectra of the operating points, computed by the engine for a vector of unknowns, and their derivatives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.measurement.fit.point import OperatingPoint
from xlcalc.measurement.fit.unknowns import FitSetting, Unknown
from xlcalc.network.sequence import components, natural_sequence
from xlcalc.rectifier.circuit import Circuit, emf_phasors
from xlcalc.rectifier.response import emf_responses
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import solve_many

STEP: Final = 1e-4
_SEQUENCES: Final = (1, -1)
_NOT_SOLVED: Final = 1e5


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """Voltage and current of one point in per unit, shape (2, n): positive and negative sequence."""

    state: SteadyState
    volts: ComplexArray
    amps: ComplexArray


class FitModel:
    """Residuals of a setting against operating points, over their errors.

    Parameters
    ----------
    setting : FitSetting
    points : sequence of OperatingPoint
    volts, amps : float
        Bases: nominal line-to-line voltage, V, and rated power over it, A.
    """

    def __init__(
        self, setting: FitSetting, points: Sequence[OperatingPoint], volts: float, amps: float
    ) -> None:
        self.setting, self.points, self.volts, self.amps = setting, points, volts, amps
        self._solved: tuple[bytes, list[SteadyState]] | None = None

    def residuals(self, vector: FloatArray) -> FloatArray:
        """Model less measurement over standard deviation; large and equal where there is no solution."""
        try:
            return np.concatenate(
                [self._over_error(k, self.predicted(vector, k)) for k in range(len(self.points))]
            )
        except (InputError, NoSolutionError):
            return np.full(8 * sum(point.orders.size for point in self.points), _NOT_SOLVED)

    def predicted(self, vector: FloatArray, point: int) -> Prediction:
        """Spectra of one operating point, computed by the engine.

        Raises
        ------
        InputError, NoSolutionError
            The numbers make no drive, or it has no steady state.
        """
        return self._prediction(vector, point, self.states(vector)[point])

    def states(self, vector: FloatArray) -> list[SteadyState]:
        """Steady states of all points."""
        key = vector.tobytes()
        if self._solved is None or self._solved[0] != key:
            before = self._solved[1] if self._solved is not None else []
            circuits = [self.setting.circuit(vector, k) for k in range(len(self.points))]
            near = dict(zip(circuits, before, strict=False))
            self._solved = (key, _all_of(solve_many(circuits, near=near)))
        return self._solved[1]

    def jacobian(self, vector: FloatArray) -> FloatArray:
        """Derivatives of `residuals`, shape (residuals, unknowns).

        Those by what the supply is are answers of the engine to changes of the EMF: a change of the source
        impedance acts as the voltage that the current drops in it. Those by the drive are differences.
        """
        try:
            states = self.states(vector)
            blocks = [self._block(vector, k, state) for k, state in enumerate(states)]
        except (InputError, NoSolutionError):
            return np.zeros((8 * sum(point.orders.size for point in self.points), vector.size))
        return np.concatenate(blocks)

    def _block(self, vector: FloatArray, point: int, state: SteadyState) -> FloatArray:
        wanted = [
            (k, unknown)
            for k, unknown in enumerate(self.setting.unknowns)
            if unknown.point in (-1, point) and unknown.name != "angle"
        ]
        turn = self._turn(vector, point)
        here = self._prediction(vector, point, state)
        columns: dict[int, tuple[ComplexArray, ComplexArray]] = {}
        supply = [(k, unknown) for k, unknown in wanted if unknown.of_supply]
        columns |= self._by_response(vector, point, state, supply)
        rest = [(k, unknown) for k, unknown in wanted if k not in columns]
        columns |= self._by_difference(vector, point, state, [k for k, _ in rest])
        found = np.zeros((8 * self.points[point].orders.size, vector.size))
        for k, (volts, amps) in columns.items():
            found[:, k] = self._whitened(point, volts * turn, amps * turn)
        angle = self.setting.index("angle", point=point)
        if angle is not None:
            slope = 1j * self.points[point].orders
            found[:, angle] = self._whitened(point, slope * here.volts, slope * here.amps)
        return found

    def _by_response(
        self, vector: FloatArray, point: int, state: SteadyState, wanted: Sequence[tuple[int, Unknown]]
    ) -> dict[int, tuple[ComplexArray, ComplexArray]]:
        """Changes of voltage and current by those unknowns of the supply to which the engine answers."""
        sectors = state.sectors
        places = [
            (h, s)
            for h in range(1, MAX_ORDER + 1)
            for s in _SEQUENCES
            if (h - s) * sectors % 6 == 0 and (sectors < 6 or h % 2)
        ]
        answers = emf_responses([state], places)[0]
        if answers is None:
            return {}
        circuit = state.circuit
        amps = _sequences(state.line_phasors)
        emf = _sequences(emf_phasors(circuit.supply, MAX_ORDER))
        found = {}
        for k, unknown in wanted:
            change, drop = self._change(vector, unknown, circuit, emf, amps)
            total = change - drop
            at_places = np.array([total[_SEQUENCES.index(s), h - 1] for h, s in places])
            if not np.isclose(np.sum(np.abs(at_places) ** 2), np.sum(np.abs(total) ** 2)):
                continue
            driven = np.einsum("p,psh->sh", at_places.real, answers[0])
            driven = driven + np.einsum("p,psh->sh", at_places.imag, answers[1])
            impedance = circuit.supply.impedance(np.arange(1, MAX_ORDER + 1))
            rows = self.points[point].orders - 1
            found[k] = ((total - impedance * driven)[:, rows], driven[:, rows])
        return found

    def _change(
        self, vector: FloatArray, unknown: Unknown, circuit: Circuit, emf: ComplexArray, amps: ComplexArray
    ) -> tuple[ComplexArray, ComplexArray]:
        """Change of the EMF, and of the drop in the source at a given current, by one unknown."""
        change, drop = np.zeros_like(emf), np.zeros_like(amps)
        orders = np.arange(1, MAX_ORDER + 1)
        supply = circuit.supply
        share = 2.0 * np.pi * supply.hz
        if unknown.name == "emf":
            change = emf / supply.volts
        elif unknown.name == "source":
            slope = 1j * share * orders * supply.inductance
            if self.setting.index("resistance") is None:
                slope = slope + supply.resistance
            drop = slope * amps
        elif unknown.name == "resistance":
            drop = amps / 100.0
        else:
            sequence = -1 if unknown.name == "unbalance" else natural_sequence(unknown.order)
            size = supply.volts / np.sqrt(3.0)
            change[_SEQUENCES.index(sequence), unknown.order - 1] = size * (
                1.0 if unknown.part == "real" else 1j
            )
        return change, drop

    def _by_difference(
        self, vector: FloatArray, point: int, state: SteadyState, places: Sequence[int]
    ) -> dict[int, tuple[ComplexArray, ComplexArray]]:
        """Central differences, or those to one side at a bound."""
        trials = []
        for k in places:
            low, high = self.setting.unknowns[k].bounds
            for sign in (1.0, -1.0):
                trial = vector.copy()
                trial[k] = np.clip(trial[k] + sign * STEP * max(1.0, abs(trial[k])), low, high)
                trials.append(trial)
        circuits = [self.setting.circuit(trial, point) for trial in trials]
        states = _all_of(solve_many(circuits, near=dict.fromkeys(circuits, state)))
        found = {}
        for row, k in enumerate(places):
            plus, minus = (
                self._prediction(trials[2 * row + side], point, states[2 * row + side], turned=False)
                for side in (0, 1)
            )
            step = trials[2 * row][k] - trials[2 * row + 1][k]
            found[k] = ((plus.volts - minus.volts) / step, (plus.amps - minus.amps) / step)
        return found

    def _prediction(
        self, vector: FloatArray, point: int, state: SteadyState, *, turned: bool = True
    ) -> Prediction:
        supply = state.circuit.supply
        amps = _sequences(state.line_phasors)
        emf = _sequences(emf_phasors(supply, MAX_ORDER))
        volts = emf - supply.impedance(np.arange(1, MAX_ORDER + 1)) * amps
        rows = self.points[point].orders - 1
        turn = self._turn(vector, point) if turned else np.ones(rows.size)
        return Prediction(state=state, volts=turn * volts[:, rows], amps=turn * amps[:, rows])

    def _turn(self, vector: FloatArray, point: int) -> ComplexArray:
        angle = self.setting.value(vector, "angle", 0.0, point=point)
        return np.asarray(np.exp(1j * self.points[point].orders * angle), np.complex128)

    def _over_error(self, point: int, found: Prediction) -> FloatArray:
        measured = self.points[point]
        return self._whitened(
            point, found.volts - measured.volts / self.volts, found.amps - measured.amps / self.amps
        )

    def _whitened(self, point: int, volts: ComplexArray, amps: ComplexArray) -> FloatArray:
        measured = self.points[point]
        parts = (
            volts / (measured.volts_error / self.volts),
            amps / (measured.amps_error / self.amps),
        )
        return np.concatenate([np.concatenate([p.real.ravel(), p.imag.ravel()]) for p in parts])


def _sequences(phases: ComplexArray) -> ComplexArray:
    return components(phases)[1:]


def _all_of(states: Sequence[SteadyState | NoSolutionError]) -> list[SteadyState]:
    found = []
    for state in states:
        if isinstance(state, NoSolutionError):
            raise state
        found.append(state)
    return found
