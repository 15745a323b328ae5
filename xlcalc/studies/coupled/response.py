"""How the drives answer a small change of their EMF, and the step that this predicts for the whole plant.

A drive answers one order with all orders, and a voltage turned by 90 degrees differently, so the response is
a real matrix over real and imaginary parts. It is the derivative of the drive's solution, taken again where
a prediction failed, and kept up to date by what each step teaches (C. G. Broyden, Math. Comp. 19 (1965)
577-593, drive by drive; from memory). Only the speed of the iteration depends on it, not its result.

All drives on a bus follow its voltage: the equations of a step have the bus voltages as their unknowns,
however many drives there are.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.network.flow import NEGATIVE, POSITIVE, SEQUENCES
from xlcalc.studies.coupled.coupling import CoupledPlant

BusVolts = Callable[[FloatArray], FloatArray]
"""Change of the bus voltages, per unit, for the part of it that currents make which do not depend on it."""

PRESENT = 1e-7
POOR_PREDICTION = 0.1
WORTH_MEASURING = 1e-6
NOTABLE = 0.02
"""Share of the largest wrong prediction, by power, from which one is worth measuring."""

FIRST_HIGHEST = 25
INNER_TOLERANCE = 1e-6
INNER_ITERATIONS = 100

_NATURAL = np.zeros((2, MAX_ORDER), dtype=bool)
_NATURAL[POSITIVE, 0::6] = True
_NATURAL[NEGATIVE, 4::6] = True


class Response:
    """Linear response of all drives of a plant around a state.

    Parameters
    ----------
    plant : CoupledPlant
        The plant.
    alone : array of complex, shape (groups, 2, 50)
        EMF of each group as if alone.
    emf, drawn : arrays of complex, shape (groups, 2, 50)
        EMF of each group and the current it draws on it, where the search starts. Orders that appear are
        followed.
    """

    def __init__(
        self, plant: CoupledPlant, alone: ComplexArray, emf: ComplexArray, drawn: ComplexArray
    ) -> None:
        from scipy import sparse

        self._plant = plant
        self.active = _present(drawn) | _NATURAL
        used, self._bus = np.unique(plant.bus, return_inverse=True)
        self._sum = sparse.csr_matrix(
            (np.ones(len(plant.groups)), (self._bus, np.arange(len(plant.groups)))),
            shape=(used.size, len(plant.groups)),
        )
        self._amps = plant.watts / (3.0 * plant.nominal)
        self._bus_ohms = self._active_impedances()[:, used[:, None], used]
        self._bus_nominal: FloatArray = np.zeros(used.size)
        self._bus_nominal[self._bus] = plant.nominal
        self._local = self._selected(np.broadcast_to(plant.local, drawn.shape))
        self._local = self._local * (self._amps / plant.nominal)[:, None]
        self._turn = self._selected(plant.turn)
        count = 2 * int(self.active.sum())
        self.matrix: FloatArray = np.zeros((len(plant.groups), count, count))
        self._emf = self._per_unit(emf, plant.nominal)
        self._drawn = self._per_unit(drawn, self._amps)
        self._strength = plant.strength
        self._changed = True
        pairs = zip(plant.groups, plant.behind, strict=True)
        self._kind = [(group.front_end, local) for group, local in pairs]
        self._by_kind: set[int] = set()
        self._first_measurement(alone, emf)

    def fits(self, drawn: ComplexArray) -> bool:
        """Whether all orders of these currents are among the active ones."""
        return not np.any(_present(drawn) & ~self.active)

    def learn(self, emf: ComplexArray, drawn: ComplexArray) -> None:
        """Correct each matrix so that it explains the last change of EMF and current."""
        new_emf = self._per_unit(emf, self._plant.nominal)
        new_drawn = self._per_unit(drawn, self._amps)
        step = new_emf - self._emf
        missing = new_drawn - self._drawn - _each(self.matrix, step)
        square = np.sum(step**2, axis=1)
        usable = square > 1e-20
        rate = np.where(usable, 1.0 / np.where(usable, square, 1.0), 0.0)
        self.matrix += (missing * rate[:, None])[:, :, None] * step[:, None, :]
        self._emf, self._drawn = new_emf, new_drawn
        self._changed = True

    def move(self, emf: ComplexArray, drawn: ComplexArray) -> None:
        """Go to another state without learning from the way there."""
        self._emf = self._per_unit(emf, self._plant.nominal)
        self._drawn = self._per_unit(drawn, self._amps)

    def put_back(self, groups: list[int], matrices: FloatArray) -> None:
        """Give groups the matrices that they had."""
        self.matrix[groups] = matrices
        self._changed = True

    def poorly_predicted(self, emf: ComplexArray, drawn: ComplexArray) -> list[int]:
        """Groups whose current on another EMF is far from the prediction and matters."""
        change = self._per_unit(drawn, self._amps) - self._drawn
        missing = change - _each(self.matrix, self._per_unit(emf, self._plant.nominal) - self._emf)
        error = np.linalg.norm(missing, axis=1)
        wrong = (error > POOR_PREDICTION * np.linalg.norm(change, axis=1)) & (error > WORTH_MEASURING)
        power = error * self._plant.weight * self._amps
        return [int(k) for k in np.flatnonzero(wrong & (power > NOTABLE * power.max()))]

    def measure(self, groups: list[int], emf: ComplexArray) -> None:
        """Take the derivatives of some groups on the EMF given, for all orders that are followed.

        Of several groups of one kind on one bus the first is measured for all; each of them where that was
        not good enough before.
        """
        first: dict[object, int] = {}
        stands_for = {
            k: k if k in self._by_kind else first.setdefault((self._kind[k], self._bus[k]), k) for k in groups
        }
        self._by_kind.update(k for k, measured in stands_for.items() if measured != k)
        self._measure(stands_for, emf, self.active)

    def _measure(
        self, stands_for: dict[int, int], emf: ComplexArray, followed: npt.NDArray[np.bool_]
    ) -> None:
        singles = self._singles(list(dict.fromkeys(stands_for.values())), emf, followed)
        for k, measured in stands_for.items():
            if measured in singles:
                self.matrix[k] = self._turned(singles[measured], k, np.angle(emf[k, POSITIVE, 0]))
        self._changed = True

    def correction(self, residual: ComplexArray) -> tuple[ComplexArray, float]:
        """Change of the currents after which drives and network are predicted to agree.

        Parameters
        ----------
        residual : array of complex, shape (groups, 2, 50)
            What the drives draw beyond the currents from which their EMF follow.

        Returns
        -------
        tuple of array and float
            The change, and the change of the bus voltages that comes with it, per unit: how far away the
            solution is.
        """
        own, admittance, volts_for = self._eliminated()
        flat = self._real(self._selected(residual * self._plant.turn) / self._amps[:, None])
        unfed = _each(own, flat)
        volts = volts_for(self._drop(self._gathered(unfed)))
        change = unfed + _each(admittance, volts[self._bus])
        full: ComplexArray = residual.copy()
        full[:, self.active] = self._complex(change) * np.conj(self._turn) * self._amps[:, None]
        return full, float(np.linalg.norm(volts))

    def _eliminated(self) -> tuple[FloatArray, FloatArray, BusVolts]:
        """Each group behind its bus: answer to a residual and to the bus voltage; and the bus voltages."""
        if self._changed or self._strength != self._plant.strength:
            count = self.matrix.shape[1]
            self._strength = self._plant.strength
            fed = self._strength * self.matrix
            half = count // 2
            real, imaginary = self._local.real[:, None, :], self._local.imag[:, None, :]
            before, behind = fed[:, :, :half], fed[:, :, half:]
            loop = np.concatenate([before * real + behind * imaginary, behind * real - before * imaginary], 2)
            own = np.linalg.inv(np.eye(count) - loop)
            admittance = np.matmul(own, fed)
            shape = (self._bus_nominal.size, count, count)
            scaled = admittance * (self._plant.units * self._amps)[:, None, None]
            at_buses = np.asarray(self._sum @ scaled.reshape(len(own), -1)).reshape(shape)
            self._solved = own, admittance, self._bus_volts(at_buses)
            self._changed = False
        return self._solved

    def _bus_volts(self, at_buses: FloatArray) -> BusVolts:
        """Solves for the bus voltages, from the solution of each bus as if the others stayed."""
        from scipy.sparse.linalg import LinearOperator, gmres

        buses, count, _ = at_buses.shape
        ohms = (np.diagonal(self._bus_ohms, axis1=1, axis2=2) / self._bus_nominal).T[:, :, None]
        real, imaginary = at_buses[:, : count // 2], at_buses[:, count // 2 :]
        drop = [ohms.real * real - ohms.imag * imaginary, ohms.imag * real + ohms.real * imaginary]
        alone = np.asarray(np.linalg.inv(np.eye(count) + np.concatenate(drop, axis=1)), np.float64)

        def operator(by_bus: Callable[[FloatArray], FloatArray]) -> LinearOperator:
            def product(flat: FloatArray) -> FloatArray:
                return by_bus(flat.reshape(buses, count)).ravel()

            return LinearOperator((buses * count, buses * count), matvec=product, dtype=float)

        whole = operator(lambda volts: volts - self._drop(_each(at_buses, volts)))
        nearly = operator(lambda volts: _each(alone, volts))

        def volts_for(driven: FloatArray) -> FloatArray:
            volts, _ = gmres(
                whole, driven.ravel(), rtol=INNER_TOLERANCE, restart=INNER_ITERATIONS, maxiter=1, M=nearly
            )
            return np.asarray(volts.reshape(driven.shape))

        return volts_for

    def _drop(self, amps: FloatArray) -> FloatArray:
        """Change of the bus voltages, per unit, that a change of the currents at the buses, A, makes."""
        volts = -np.matmul(self._bus_ohms, self._complex(amps).T[:, :, None])[:, :, 0].T
        return self._real(volts / self._bus_nominal[:, None])

    def _gathered(self, change: FloatArray) -> FloatArray:
        """Currents by bus, A, from those of one unit of each group, per unit."""
        return np.asarray(self._sum @ (change * (self._plant.units * self._amps)[:, None]))

    def _first_measurement(self, alone: ComplexArray, emf: ComplexArray) -> None:
        """Each group where it is; where many are of few kinds, one of each kind without distortion."""
        first: dict[object, int] = {}
        kind = [first.setdefault(one, k) for k, one in enumerate(self._kind)]
        if 2 * len(first) > len(kind):
            self._measure({k: k for k in range(len(kind))}, emf, _NATURAL)
            return
        low = _NATURAL & (np.arange(1, MAX_ORDER + 1) <= FIRST_HIGHEST)
        singles = self._singles(list(first.values()), undistorted(alone), low)
        for k, representative in enumerate(kind):
            angle = np.angle(alone[k, POSITIVE, 0])
            self.matrix[k] = self._turned(singles[representative], k, angle)

    def _singles(
        self, which: list[int], emf: ComplexArray, followed: npt.NDArray[np.bool_]
    ) -> dict[int, FloatArray]:
        """Change of current per change of EMF, per unit, with the fundamental at angle zero.

        Orders that are not followed, and a group without a solution there, keep no response.
        """
        if not which:
            return {}
        places = np.argwhere(followed)
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

    def _turned(self, matrix: FloatArray, k: int, angle: float) -> FloatArray:
        """Response of group k in the utility's frame; at its own bus the fundamental stands at `angle`."""
        orders = np.broadcast_to(np.arange(1, MAX_ORDER + 1), (2, MAX_ORDER))[self.active]
        turn = np.exp(1j * orders * angle) * self._turn[k]
        half = turn.size
        rows = (matrix[:half] + 1j * matrix[half:]) * turn[:, None]
        turned = np.concatenate([rows.real, rows.imag])
        ahead = (turned[:, :half] + 1j * turned[:, half:]) * turn
        return np.concatenate([ahead.real, ahead.imag], axis=1)

    def _active_impedances(self) -> ComplexArray:
        """Impedance matrix at each active sequence and order, shape (active, buses, buses)."""
        both = np.stack([self._plant.solver.impedance] * 2)
        both[POSITIVE, 0] = self._plant.solver.fundamental_impedance
        return np.asarray(both[self.active], np.complex128)

    def _selected(self, values: ComplexArray) -> ComplexArray:
        return np.asarray(values[:, self.active], np.complex128)

    def _per_unit(self, values: ComplexArray, base: FloatArray) -> FloatArray:
        return self._real(self._selected(values * self._plant.turn) / base[:, None])

    @staticmethod
    def _real(values: ComplexArray) -> FloatArray:
        return np.concatenate([values.real, values.imag], axis=1)

    @staticmethod
    def _complex(values: FloatArray) -> ComplexArray:
        half = values.shape[1] // 2
        return np.asarray(values[:, :half] + 1j * values[:, half:], np.complex128)


def _each(matrices: FloatArray, vectors: FloatArray) -> FloatArray:
    """Product of each matrix with its vector."""
    return np.asarray(np.matmul(matrices, vectors[:, :, None])[:, :, 0])


def undistorted(emf: ComplexArray) -> ComplexArray:
    """The positive-sequence fundamental alone."""
    pure = np.zeros_like(emf)
    pure[:, POSITIVE, 0] = emf[:, POSITIVE, 0]
    return pure


def _present(currents: ComplexArray) -> npt.NDArray[np.bool_]:
    """Orders that some group draws, shape (2, 50)."""
    scale = np.abs(currents[:, POSITIVE, :1])[:, None, :]
    return np.asarray((np.abs(currents) > PRESENT * scale).any(axis=0))
