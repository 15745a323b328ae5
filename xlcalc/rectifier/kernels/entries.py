"""The kernels that Python calls: a batch of circuits of one shape, and the waveform of one solution."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from xlcalc.rectifier.kernels.forcing import undriven
from xlcalc.rectifier.kernels.integrate import COLLAPSE, OK, run
from xlcalc.rectifier.kernels.jit import Array, entry, source_fingerprint
from xlcalc.rectifier.kernels.quadrature import Tally, no_tally
from xlcalc.rectifier.kernels.shooting import SECTOR, cold_start, shoot


def _build_batch(fingerprint: int) -> Callable[..., Any]:
    @entry
    def batch(
        nets: Array,
        work: Array,
        bridges: int,
        sectors: int,
        warm_maps: int,
        max_iterations: int,
        given: bool,
        orders: Array,
        theta: Array,
        y: Array,
        v: Array,
        z: Array,
        mask: Array,
        jacobian: Array,
        report: Array,
        current: Array,
        square: Array,
        mean: Array,
        extreme: Array,
        grid: Array,
        status: Array,
    ) -> None:
        """Solve circuits of equal shape, or draw their waveforms; first axis of every array: the circuit.

        nets (b,) of dtype NET, work (1,) of dtype WORK, orders (h,) wanted.
        In and out: theta (b, 1), y (b, 6n), v (b, 1), z (b, 4 terms), mask (b, n).
        Out: jacobian (b, s, s) with s = 3n + 1 + 4 terms, report (b, 3), and the integrals of `Tally` over
        the map. With grid (b, points, 5), see `Tally.sample`, and points > 0, the state given is followed
        for a cycle and not solved for.
        """
        if fingerprint < 0:
            return
        wk = work[0]
        empty = np.zeros((6 * bridges + 1 + z.shape[1], 0))
        gaps = np.zeros(4)
        none = no_tally()
        nothing = undriven()
        for b in range(nets.size):
            net = nets[b]
            span = sectors * SECTOR
            if grid.shape[1] > 0:
                span = 6.0 * SECTOR
            else:
                if not given:
                    cold_start(net, theta[b, 0], y[b], v[b], z[b], mask[b])
                status[b] = shoot(
                    net,
                    wk,
                    sectors,
                    warm_maps,
                    max_iterations,
                    theta[b],
                    y[b],
                    v[b],
                    z[b],
                    mask[b],
                    jacobian[b],
                    report[b],
                    empty,
                    none,
                    nothing,
                )
                if status[b] != OK:
                    continue
            tally = Tally(orders, current[b], square[b], mean[b], extreme[b], grid[b])
            end_y = y[b].copy()
            end_v = v[b].copy()
            end_z = z[b].copy()
            end_mask = mask[b].copy()
            status[b] = run(
                net, wk, theta[b, 0], span, end_y, end_v, end_z, end_mask, empty, gaps, tally, nothing
            )
            if status[b] == OK and net.load_power > 0.0 and extreme[b, 0] <= net.floor:
                status[b] = COLLAPSE

    return batch


batch = _build_batch(source_fingerprint())
