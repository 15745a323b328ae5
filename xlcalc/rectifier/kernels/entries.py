"""The kernels that are called from outside, with addresses of arrays whose first axis is the circuit."""

from __future__ import annotations

import numpy as np

from xlcalc.rectifier.kernels.forcing import Forcing
from xlcalc.rectifier.kernels.integrate import run
from xlcalc.rectifier.kernels.jit import Address, array_at
from xlcalc.rectifier.kernels.layout import COLLAPSE, MEANS, NET, OK, RESPONSE_NODES, WORK
from xlcalc.rectifier.kernels.mode import build_mode
from xlcalc.rectifier.kernels.quadrature import Tally
from xlcalc.rectifier.kernels.shooting import (
    cold_start,
    copy_state,
    demand_row,
    held_parts,
    second_state,
    seed_directions,
    shoot,
)
from xlcalc.rectifier.kernels.symmetry import SECTOR, rows_of, turn_back_rows

_F, _I, _C = np.float64, np.int64, np.complex128


def batch(
    count: int,
    bridges: int,
    terms: int,
    sectors: int,
    warm_maps: int,
    max_iterations: int,
    given: int,
    wanted: int,
    points: int,
    nets_at: Address,
    work_at: Address,
    order_at: Address,
    theta_at: Address,
    y_at: Address,
    v_at: Address,
    z_at: Address,
    mask_at: Address,
    jacobian_at: Address,
    report_at: Address,
    current_at: Address,
    square_at: Address,
    mean_at: Address,
    extreme_at: Address,
    grid_at: Address,
    status_at: Address,
) -> None:
    """Solve circuits of equal shape, or draw their waveforms.

    Nets (b,) of dtype NET, work (1,) of dtype WORK, orders wanted (h,).
    In and out: theta (b,), y (b, 6n), v (b, 1), z (b, 4 terms), mask (b, n); and `load_current` of the nets
    whose load has a mean power. Out: jacobian (b, s, s) with s = 3n + 2 + 4 terms, report (b, 3), and the
    integrals of `Tally` over the map. With grid (b, points, 5 + n), see `quadrature`, and points > 0, the
    state given is followed for a cycle and not solved for.
    """
    diodes, states = 6 * bridges, 4 * terms
    size = 3 * bridges + 2 + states
    nets = array_at(nets_at, (count,), NET)
    wk = array_at(work_at, (1,), WORK)[0]
    orders = array_at(order_at, (wanted,), _I)
    all_theta = array_at(theta_at, (count, 1), _F)
    all_y = array_at(y_at, (count, diodes), _F)
    all_v = array_at(v_at, (count, 1), _F)
    all_z = array_at(z_at, (count, states), _F)
    all_mask = array_at(mask_at, (count, bridges), _I)
    jacobian = array_at(jacobian_at, (count, size, size), _F)
    report = array_at(report_at, (count, 3), _F)
    current = array_at(current_at, (count, bridges, 3, wanted), _C)
    square = array_at(square_at, (count, bridges, 3), _F)
    mean = array_at(mean_at, (count, MEANS), _F)
    extreme = array_at(extreme_at, (count, 2 + 3 * bridges), _F)
    grid = array_at(grid_at, (count, points, 5 + bridges), _F)
    status = array_at(status_at, (count,), _I)
    nothing = array_at(mean_at, (0, 0, 0, 0), _F)
    for b in range(count):
        net = nets[b]
        theta, y, v, z, mask = all_theta[b], all_y[b], all_v[b], all_z[b], all_mask[b]
        tally = Tally(orders, current[b], square[b], mean[b], extreme[b], grid[b])
        undriven = Forcing(orders[:0], net.emf[:0], orders[:0], nothing, net.emf[:0])
        span = sectors * SECTOR
        if points > 0:
            span = 6.0 * SECTOR
        else:
            quiet = Tally(orders[:0], current[b], square[b], mean[b], extreme[b], grid[b])
            if given == 0:
                cold_start(net, wk, theta[0], y, v, z, mask)
            status[b] = shoot(
                net,
                wk,
                sectors,
                warm_maps,
                max_iterations,
                theta,
                y,
                v,
                z,
                mask,
                jacobian[b],
                report[b],
                quiet,
                undriven,
            )
            if status[b] != OK:
                continue
        end_y, end_v, end_z, end_mask = second_state(wk, y, z, mask)
        copy_state(y, v, z, mask, end_y, end_v, end_z, end_mask)
        empty = rows_of(wk.phi, diodes + 1 + states, 0)
        status[b] = run(
            net, wk, theta[0], span, end_y, end_v, end_z, end_mask, empty, wk.gaps, tally, undriven
        )
        if status[b] == OK and net.load_power > 0.0 and extreme[b, 0] <= net.floor:
            status[b] = COLLAPSE


def respond(
    count: int,
    bridges: int,
    terms: int,
    sectors: int,
    changes: int,
    wanted: int,
    nets_at: Address,
    work_at: Address,
    order_at: Address,
    emf_at: Address,
    wanted_at: Address,
    turn_at: Address,
    theta_at: Address,
    y_at: Address,
    v_at: Address,
    z_at: Address,
    mask_at: Address,
    mapped_at: Address,
    integral_at: Address,
    size_at: Address,
    status_at: Address,
) -> None:
    """Follow the derivative of each orbit over its map, driven by each change of the EMF.

    In: nets (b,), work (1,), order (f,) and emf (b, f, 2) of the changes, wanted (h,) orders, space turn
    (RESPONSE_NODES, h), the orbit points theta (b,), y, v, z, mask as in `batch`. Out: size (b,) of the
    reduced state, s at most, with the load current as its last part where the load has a mean power; mapped
    (b, s, s + f), the derivative of the map and what each change adds; integral (b, 2, h, 2, s + f) over
    the map, see `Forcing`; status (b,).
    """
    diodes, states = 6 * bridges, 4 * terms
    largest = 3 * bridges + 2 + states
    nets = array_at(nets_at, (count,), NET)
    wk = array_at(work_at, (1,), WORK)[0]
    order = array_at(order_at, (changes,), _I)
    emf = array_at(emf_at, (count, changes, 2), _C)
    orders = array_at(wanted_at, (wanted,), _I)
    turn = array_at(turn_at, (RESPONSE_NODES, wanted), _C)
    theta = array_at(theta_at, (count,), _F)
    all_y = array_at(y_at, (count, diodes), _F)
    all_v = array_at(v_at, (count, 1), _F)
    all_z = array_at(z_at, (count, states), _F)
    all_mask = array_at(mask_at, (count, bridges), _I)
    mapped = array_at(mapped_at, (count, largest, largest + changes), _F)
    integral = array_at(integral_at, (count, 2, wanted, 2, largest + changes), _F)
    size = array_at(size_at, (count,), _I)
    status = array_at(status_at, (count,), _I)
    none = array_at(turn_at, (0, 0, 0), _C)
    for b in range(count):
        net = nets[b]
        y, v, z, mask = all_y[b], all_v[b], all_z[b], all_mask[b]
        end_y, end_v, end_z, end_mask = second_state(wk, y, z, mask)
        copy_state(y, v, z, mask, end_y, end_v, end_z, end_mask)
        phi, m = seed_directions(net, wk, diodes, states, mask, changes)
        size[b] = m + 1 + states + held_parts(net)
        quiet = Tally(orders[:0], none, mapped[b], wk.gaps, wk.gaps, mapped[b])
        forcing = Forcing(order, emf[b], orders, integral[b], turn)
        status[b] = run(
            net,
            wk,
            theta[b],
            sectors * SECTOR,
            end_y,
            end_v,
            end_z,
            end_mask,
            phi,
            wk.gaps,
            quiet,
            forcing,
        )
        if status[b] != OK:
            continue
        turn_back_rows(wk, phi, bridges, sectors)
        build_mode(net, mask, wk)
        if net.mean_power > 0.0:
            demand_row(net, wk, sectors * SECTOR, mapped[b, m + 1 + states], phi.shape[1])
        for c in range(phi.shape[1]):
            for p in range(m):
                mapped[b, p, c] = phi[wk.loop_diode[p], c]
            for r in range(1 + states):
                mapped[b, m + r, c] = phi[diodes + r, c]
