"""The kernels that Python calls: a batch of circuits of one shape, and the waveform of one solution."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from xlcalc.rectifier.kernels.integrate import COLLAPSE, OK, run
from xlcalc.rectifier.kernels.jit import Array, entry, source_fingerprint
from xlcalc.rectifier.kernels.quadrature import MEANS, Tally
from xlcalc.rectifier.kernels.shooting import SECTOR, cold_start, shoot

_FINGERPRINT = source_fingerprint()


def _build_batch(fingerprint: int) -> Callable[..., Any]:
    @entry
    def batch(
        nets: Array,
        work: Array,
        bridges: int,
        sectors: int,
        warm_maps: int,
        given: bool,
        orders: Array,
        theta: Array,
        y: Array,
        v: Array,
        mask: Array,
        jacobian: Array,
        report: Array,
        current: Array,
        square: Array,
        mean: Array,
        extreme: Array,
        status: Array,
    ) -> None:
        """Solve circuits `first..` of equal shape; every array has the circuit as its first axis.

        nets (b,) of dtype NET, work (1,) of dtype WORK, orders (h,) wanted.
        In and out: theta (b, 1), y (b, 6n), v (b, 1), mask (b, n). Out: jacobian (b, 3n+1, 3n+1),
        report (b, 3), and the integrals of `Tally` over the map.
        """
        if fingerprint < 0:
            return
        wk = work[0]
        empty = np.zeros((6 * bridges + 1, 0))
        gaps = np.zeros(4)
        no_sample = np.zeros((0, 5))
        none = Tally(
            np.zeros(0, np.int64),
            np.zeros((1, 3, 1), np.complex128),
            np.zeros((1, 3)),
            np.zeros(MEANS),
            np.zeros(5),
            no_sample,
        )
        for b in range(nets.size):
            net = nets[b]
            if not given:
                cold_start(net, theta[b, 0], y[b], v[b], mask[b])
            status[b] = shoot(
                net,
                wk,
                sectors,
                warm_maps,
                theta[b],
                y[b],
                v[b],
                mask[b],
                jacobian[b],
                report[b],
                empty,
                none,
            )
            if status[b] != OK:
                continue
            tally = Tally(orders, current[b], square[b], mean[b], extreme[b], no_sample)
            end_y = y[b].copy()
            end_v = v[b].copy()
            end_mask = mask[b].copy()
            status[b] = run(
                net, wk, theta[b, 0], sectors * SECTOR, end_y, end_v, end_mask, empty, gaps, tally
            )
            if status[b] == OK and net.load_power > 0.0 and extreme[b, 0] <= net.floor:
                status[b] = COLLAPSE

    return batch


def _build_trace(fingerprint: int) -> Callable[..., Any]:
    @entry
    def trace(nets: Array, work: Array, theta: float, y: Array, v: Array, mask: Array, grid: Array) -> int:
        """Follow one circuit for a cycle from (theta, y, v, mask) and fill `grid`, see `Tally.sample`."""
        if fingerprint < 0:
            return -1
        bridges = mask.size
        tally = Tally(
            np.ones(1, np.int64),
            np.zeros((bridges, 3, 1), np.complex128),
            np.zeros((bridges, 3)),
            np.zeros(MEANS),
            np.zeros(2 + 3 * bridges),
            grid,
        )
        return run(
            nets[0],
            work[0],
            theta,
            6.0 * SECTOR,
            y.copy(),
            v.copy(),
            mask.copy(),
            np.zeros((6 * bridges + 1, 0)),
            np.zeros(4),
            tally,
        )

    return trace


batch = _build_batch(_FINGERPRINT)
trace = _build_trace(_FINGERPRINT)
