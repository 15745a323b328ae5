"""The kernel that tells how a periodic orbit answers small changes of the EMF."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from xlcalc.rectifier.kernels.forcing import Forcing
from xlcalc.rectifier.kernels.integrate import OK, run
from xlcalc.rectifier.kernels.jit import Array, entry, source_fingerprint
from xlcalc.rectifier.kernels.nodes import NODES
from xlcalc.rectifier.kernels.quadrature import no_tally
from xlcalc.rectifier.kernels.shooting import SECTOR, seed_directions, turn_back_rows


def _build_respond(fingerprint: int) -> Callable[..., Any]:
    @entry
    def respond(
        nets: Array,
        work: Array,
        bridges: int,
        sectors: int,
        order: Array,
        emf: Array,
        wanted: Array,
        theta: Array,
        y: Array,
        v: Array,
        z: Array,
        mask: Array,
        mapped: Array,
        integral: Array,
        size: Array,
        status: Array,
    ) -> None:
        """Follow the derivative of each orbit over its map, driven by each change of the EMF.

        In: nets (b,), work (1,), order (f,), emf (b, f, 2), wanted (h,), the orbit points theta (b, 1), y, v,
        z, mask. Out: size (b,) of the reduced state, s at most; mapped (b, s, s + f), the derivative of the
        map and what each change adds to it; integral (b, s + f, 2, h) over the map; status (b,).
        """
        if fingerprint < 0:
            return
        wk = work[0]
        gaps = np.zeros(4)
        turn = np.zeros((NODES, wanted.size), np.complex128)
        for b in range(nets.size):
            net = nets[b]
            end_y, end_v, end_z, end_mask = y[b].copy(), v[b].copy(), z[b].copy(), mask[b].copy()
            phi, m = seed_directions(net, wk, end_y.size, end_z.size, end_mask, order.size)
            states = m + 1 + end_z.size
            size[b] = states
            forcing = Forcing(order, emf[b], wanted, integral[b], turn)
            status[b] = run(
                net,
                wk,
                theta[b, 0],
                sectors * SECTOR,
                end_y,
                end_v,
                end_z,
                end_mask,
                phi,
                gaps,
                no_tally(),
                forcing,
            )
            if status[b] != OK:
                continue
            turn_back_rows(phi, bridges, sectors)
            seed_directions(net, wk, end_y.size, end_z.size, mask[b], 0)
            for c in range(phi.shape[1]):
                for p in range(m):
                    mapped[b, p, c] = phi[wk.loop_diode[p], c]
                for r in range(1 + end_z.size):
                    mapped[b, m + r, c] = phi[end_y.size + r, c]

    return respond


respond = _build_respond(source_fingerprint())
