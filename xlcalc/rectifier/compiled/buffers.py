"""The arrays that one call of the compiled batch kernel reads and fills."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.rectifier.compiled.machine_code import call
from xlcalc.rectifier.kernels.layout import MEANS, WORK
from xlcalc.rectifier.result import ComplexArray, FloatArray, IntArray, OrbitPoint

MAX_ITERATIONS = 60
START_ANGLE = 0.11  # radians, away from the switching instants of the usual circuits


@dataclass(frozen=True)
class Buffers:
    """First axis: the circuit. See `kernels.entries.batch` for the shapes."""

    theta: FloatArray
    currents: FloatArray
    volts: FloatArray
    terms: FloatArray
    conducting: IntArray
    jacobian: FloatArray
    report: FloatArray
    current: ComplexArray
    square: FloatArray
    mean: FloatArray
    extreme: FloatArray
    grid: FloatArray
    status: IntArray
    load_current: FloatArray

    @classmethod
    def cold(cls, count: int, bridges: int, orders: int, terms: int) -> Buffers:
        """For `count` circuits that start from the kernel's own guess."""
        n = bridges
        size = 3 * n + 2 + 4 * terms
        extreme = np.zeros((count, 2 + 3 * n))
        extreme[:, 0] = np.inf
        return cls(
            theta=np.full((count, 1), START_ANGLE),
            currents=np.zeros((count, 6 * n)),
            volts=np.zeros((count, 1)),
            terms=np.zeros((count, 4 * terms)),
            conducting=np.zeros((count, n), np.int64),
            jacobian=np.zeros((count, size, size)),
            report=np.zeros((count, 3)),
            current=np.zeros((count, n, 3, orders), np.complex128),
            square=np.zeros((count, n, 3)),
            mean=np.zeros((count, MEANS)),
            extreme=extreme,
            grid=np.zeros((count, 0, 5)),
            status=np.zeros(count, np.int64),
            load_current=np.zeros(count),
        )

    @classmethod
    def tracing(cls, points: Sequence[OrbitPoint], grid: FloatArray) -> Buffers:
        """For the waveform over one cycle from known points; `grid` (circuits, angles, 5 + bridges)."""
        blank = cls.from_points(points, 1)
        return cls(**{**vars(blank), "grid": grid})

    @classmethod
    def from_points(cls, points: Sequence[OrbitPoint], orders: int) -> Buffers:
        """For circuits that start from the given points."""
        blank = cls.cold(len(points), points[0].conducting.size, orders, points[0].terms.size // 4)
        for i, point in enumerate(points):
            blank.theta[i, 0] = point.theta
            blank.currents[i] = point.currents
            blank.volts[i] = point.volts
            blank.terms[i] = point.terms
            blank.conducting[i] = point.conducting
            blank.load_current[i] = point.load_current
        return blank

    def run(
        self,
        nets: npt.NDArray[np.void],
        sectors: int,
        warm_maps: int,
        given: bool,
        orders: IntArray,
        max_iterations: int = MAX_ITERATIONS,
    ) -> None:
        """Call the kernel; the interpreter lock is free meanwhile."""
        count, bridges = self.conducting.shape
        nets = with_currents(nets, self.load_current)
        integers = (
            count,
            bridges,
            self.terms.shape[1] // 4,
            sectors,
            warm_maps,
            max_iterations,
            int(given),
            orders.size,
            self.grid.shape[1],
        )
        arrays = (
            nets,
            np.zeros(1, WORK),
            orders,
            self.theta,
            self.currents,
            self.volts,
            self.terms,
            self.conducting,
            self.jacobian,
            self.report,
            self.current,
            self.square,
            self.mean,
            self.extreme,
            self.grid,
            self.status,
        )
        call("batch", integers, arrays)
        self.load_current[:] = nets["load_current"]

    def point(self, i: int) -> OrbitPoint:
        return OrbitPoint(
            theta=float(self.theta[i, 0]),
            currents=self.currents[i].copy(),
            volts=self.volts[i].copy(),
            terms=self.terms[i].copy(),
            conducting=self.conducting[i].copy(),
            load_current=float(self.load_current[i]),
        )


def with_currents(nets: npt.NDArray[np.void], currents: FloatArray) -> npt.NDArray[np.void]:
    """A copy in which the loads of constant mean power draw these currents."""
    made = nets.copy()
    made["load_current"] = np.where(nets["mean_power"] > 0.0, currents, nets["load_current"])
    return made
