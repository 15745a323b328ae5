"""How the drives answer a small change of their EMF, and the step that this predicts for the whole plant.

A drive answers one order with all orders, and a voltage turned by 90 degrees differently, so the response is
a real matrix over real and imaginary parts. It is the derivative of the drive's solution, taken once for
each kind of drive and again where a prediction failed, and kept up to date by what each step teaches
(C. G. Broyden, Math. Comp. 19 (1965) 577-593, drive by drive; from memory). Only the speed of the iteration
depends on it, not its result.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from xlcalc.network.flow import NEGATIVE, POSITIVE, SEQUENCES
from xlcalc.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.study.coupling import CoupledPlant

PRESENT = 1e-7
SURPRISE = 0.1
WORTH_MEASURING = 1e-5
MEASURED_ALONE = 24
MEASURED_AT_ONCE = 6
FIRST_HIGHEST = 25
SHORTEST_REACH, FIRST_REACH, LONGEST_REACH = 1.0, 2.0, 64.0
"""How far a drive's current may go in one step, in its residual; grows where the prediction comes true."""

INNER_TOLERANCE = 1e-2
INNER_ITERATIONS = 80

_NATURAL = np.zeros((2, MAX_ORDER), dtype=bool)
_NATURAL[POSITIVE, 0::6] = True
_NATURAL[NEGATIVE, 4::6] = True


class Response:
    """Linear response of all drives of a plant around a state.

    Parameters
    ----------
    plant : CoupledPlant
        The plant.
    emf, drawn : arrays of complex, shape (groups, 2, 50)
        EMF of each group and the current it draws on it, where the search starts.
    later : array of complex, shape (groups, 2, 50)
        Currents further on; orders that appear in either are followed.
    """

    def __init__(
        self, plant: CoupledPlant, emf: ComplexArray, drawn: ComplexArray, later: ComplexArray
    ) -> None:
        from scipy import sparse

        self._plant = plant
        self.active = _present(drawn) | _present(later) | _NATURAL
        self._place = sparse.csr_matrix(
            (np.ones(len(plant.groups)), (plant.bus, np.arange(len(plant.groups)))),
            shape=(len(plant.network.buses), len(plant.groups)),
        )
        self._bus_ohms = self._active_impedances()
        self._amps = plant.watts / (3.0 * plant.nominal)
        self._local = (
            self._selected(np.broadcast_to(plant.local, drawn.shape)) * (self._amps / plant.nominal)[:, None]
        )
        self._turn = self._selected(plant.turn)
        self._kinds = [
            (group.front_end, behind) for group, behind in zip(plant.groups, plant.behind, strict=True)
        ]
        self._reach: FloatArray = np.full(len(plant.groups), FIRST_REACH)
        count = 2 * int(self.active.sum())
        self.matrix: FloatArray = np.zeros((len(plant.groups), count, count))
        everyone = list(range(len(plant.groups)))
        self._measure(everyone, undistorted(emf), len(everyone), FIRST_HIGHEST)
        self._emf = self._per_unit(emf, plant.nominal)
        self._drawn = self._per_unit(drawn, self._amps)

    def fits(self, drawn: ComplexArray) -> bool:
        """Whether all orders of these currents are among the active ones."""
        return not np.any(_present(drawn) & ~self.active)

    def learn(self, emf: ComplexArray, drawn: ComplexArray, measure: bool) -> None:
        """Bring the matrices up to date with the last change of EMF and current.

        Each is corrected so that it explains the change. With `measure` those that answered far from their
        prediction are measured again where they now are.
        """
        new_emf = self._per_unit(emf, self._plant.nominal)
        new_drawn = self._per_unit(drawn, self._amps)
        step = new_emf - self._emf
        change = new_drawn - self._drawn
        missing = change - self._times(step)
        square = np.sum(step**2, axis=1)
        usable = square > 1e-20
        rate = np.where(usable, 1.0 / np.where(usable, square, 1.0), 0.0)
        self.matrix += (missing * rate[:, None])[:, :, None] * step[:, None, :]
        self._emf, self._drawn = new_emf, new_drawn
        error = np.linalg.norm(missing, axis=1)
        surprised = error > SURPRISE * np.linalg.norm(change, axis=1)
        self._reach = np.clip(self._reach * np.where(surprised, 0.5, 2.0), SHORTEST_REACH, LONGEST_REACH)
        if not measure:
            return
        wrong = surprised & (error > WORTH_MEASURING)
        worst_first = [int(k) for k in np.argsort(-error * self._plant.weight) if wrong[k]]
        self._measure(worst_first, emf, MEASURED_AT_ONCE)

    def step(self, currents: ComplexArray, drawn: ComplexArray) -> ComplexArray:
        """Change of the currents after which drives and network are predicted to agree."""
        from scipy.sparse.linalg import LinearOperator, gmres

        residual = self._real(self._selected(drawn - currents) / self._amps[:, None])
        shape = residual.shape

        def deviation(flat: FloatArray) -> FloatArray:
            change = flat.reshape(shape)
            return np.asarray((change - self._times(self._emf_change(change))).ravel())

        operator = LinearOperator((residual.size, residual.size), matvec=deviation, dtype=float)
        solution, _ = gmres(
            operator, residual.ravel(), rtol=INNER_TOLERANCE, restart=INNER_ITERATIONS, maxiter=1
        )
        change = solution.reshape(shape)
        largest = self._reach * np.linalg.norm(residual, axis=1)
        length = np.linalg.norm(change, axis=1)
        change = change * np.minimum(1.0, largest / np.maximum(length, 1e-300))[:, None]
        full: ComplexArray = drawn - currents
        full[:, self.active] = self._complex(change) * self._amps[:, None]
        return full

    def _emf_change(self, change: FloatArray) -> FloatArray:
        """Change of every EMF, per unit, that a change of the currents, per unit, brings about."""
        amps = self._complex(change) * self._amps[:, None]
        at_buses = self._place @ (amps * self._turn * self._plant.units[:, None])
        volts = -np.matmul(self._bus_ohms, at_buses.T[:, :, None])[:, :, 0].T
        own = volts[self._plant.bus] * np.conj(self._turn) / self._plant.nominal[:, None]
        return self._plant.strength * self._real(own + self._local * amps / self._amps[:, None])

    def _times(self, vectors: FloatArray) -> FloatArray:
        return np.asarray(np.matmul(self.matrix, vectors[:, :, None])[:, :, 0])

    def _measure(self, groups: list[int], emf: ComplexArray, most: int, highest: int = MAX_ORDER) -> None:
        """Measure the groups of a short list each; of a long one, the first of each kind for all of it.

        After the first `most` measurements it stops. Orders above `highest` keep no response.
        """
        first: dict[object, int] = {}
        each_alone = len(groups) <= MEASURED_ALONE
        kind = {k: first.setdefault(k if each_alone else self._kinds[k], k) for k in groups}
        chosen = list(first.values())[:most]
        singles = self._singles(chosen, emf, highest)
        for k, representative in kind.items():
            if representative in singles:
                self.matrix[k] = self._turned(singles[representative], np.angle(emf[k, POSITIVE, 0]))

    def _singles(self, which: list[int], emf: ComplexArray, highest: int) -> dict[int, FloatArray]:
        """Change of current per change of EMF, per unit, with the fundamental at angle zero.

        For the natural orders; other orders, and a group without a solution there, keep no response.
        """
        if not which:
            return {}
        places = np.argwhere(_NATURAL[:, :highest])
        changes = [(int(column) + 1, SEQUENCES[row]) for row, column in places]
        answers = self._plant.responses(which, emf[which], changes)
        return {k: self._matrix(answer, places) for k, answer in zip(which, answers, strict=True)}

    def _matrix(self, answer: ComplexArray | None, places: npt.NDArray[np.int64]) -> FloatArray:
        count = int(self.active.sum())
        response = np.zeros((2 * count, 2 * count))
        if answer is None:
            return response
        position = np.cumsum(self.active.ravel()) - 1
        columns = position[places[:, 0] * MAX_ORDER + places[:, 1]]
        for ahead in (0, 1):
            change = answer[ahead][:, self.active]
            response[:count, columns + ahead * count] = change.real.T
            response[count:, columns + ahead * count] = change.imag.T
        return response

    def _turned(self, matrix: FloatArray, angle: float) -> FloatArray:
        """The response in a frame where the fundamental stands at `angle`."""
        orders = np.broadcast_to(np.arange(1, MAX_ORDER + 1), (2, MAX_ORDER))[self.active]
        turn = self._diagonal(np.exp(1j * orders * angle))
        return np.asarray(turn @ matrix @ turn.T)

    @staticmethod
    def _diagonal(values: ComplexArray) -> FloatArray:
        """Multiplication by complex values as a real matrix."""
        real, imaginary = np.diag(values.real), np.diag(values.imag)
        return np.block([[real, -imaginary], [imaginary, real]])

    def _active_impedances(self) -> ComplexArray:
        """Impedance matrix at each active sequence and order, shape (active, buses, buses)."""
        both = np.stack([self._plant.solver.impedance] * 2)
        both[POSITIVE, 0] = self._plant.solver.fundamental_impedance
        return np.asarray(both[self.active], np.complex128)

    def _selected(self, values: ComplexArray) -> ComplexArray:
        return np.asarray(values[:, self.active], np.complex128)

    def _per_unit(self, values: ComplexArray, base: FloatArray) -> FloatArray:
        return self._real(self._selected(values) / base[:, None])

    @staticmethod
    def _real(values: ComplexArray) -> FloatArray:
        return np.concatenate([values.real, values.imag], axis=1)

    @staticmethod
    def _complex(values: FloatArray) -> ComplexArray:
        half = values.shape[1] // 2
        return np.asarray(values[:, :half] + 1j * values[:, half:], np.complex128)


def undistorted(emf: ComplexArray) -> ComplexArray:
    """The positive-sequence fundamental alone."""
    pure = np.zeros_like(emf)
    pure[:, POSITIVE, 0] = emf[:, POSITIVE, 0]
    return pure


def _present(currents: ComplexArray) -> npt.NDArray[np.bool_]:
    """Orders that some group draws, shape (2, 50)."""
    scale = np.abs(currents[:, POSITIVE, :1])[:, None, :]
    return np.asarray((np.abs(currents) > PRESENT * scale).any(axis=0))
