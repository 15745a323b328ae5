"""The rotation by which a bridge is alike after every 60 degrees: of states, and of their derivatives."""

from __future__ import annotations

import numpy as np

from xlcalc.rectifier.kernels.jit import Array, Record, address_of, array_at, kernel

SECTOR = np.pi / 3.0


@kernel
def rows_of(space: Array, rows: int, columns: int) -> Array:
    """The beginning of a workspace as a matrix."""
    matrix: Array = array_at(address_of(space), (rows, columns), np.float64)
    return matrix


@kernel
def turn_back(wk: Record, y: Array, z: Array, mask: Array, sectors: int) -> None:
    """State `sectors` times 60 degrees later, expressed at the first angle.

    Per sector each upper diode takes the lower one of the phase before, and the other way round, and space
    vectors turn back by 60 degrees.
    """
    old = wk.six
    for _ in range(sectors % 6):
        for k in range(mask.size):
            for d in range(6):
                old[d] = y[6 * k + d]
            bits = mask[k]
            mask[k] = 0
            for x in range(3):
                y[6 * k + x] = old[3 + (x + 2) % 3]
                y[6 * k + 3 + x] = old[(x + 2) % 3]
                mask[k] |= (bits >> (3 + (x + 2) % 3) & 1) << x
                mask[k] |= (bits >> ((x + 2) % 3) & 1) << (3 + x)
    _turn_vectors(rows_of(z, z.size, 1), 0, sectors)


@kernel
def _turn_vectors(rows: Array, first: int, sectors: int) -> None:
    """Turn the states of the terms, from row `first` on: alpha real and imaginary, then beta."""
    c = np.cos(sectors * SECTOR)
    s = np.sin(sectors * SECTOR)
    for r in range(first, rows.shape[0], 4):
        for j in range(2):
            for d in range(rows.shape[1]):
                alpha = rows[r + j, d]
                beta = rows[r + 2 + j, d]
                rows[r + j, d] = c * alpha + s * beta
                rows[r + 2 + j, d] = c * beta - s * alpha


@kernel
def turn_back_rows(wk: Record, phi: Array, bridges: int, sectors: int) -> None:
    """The same for the rows of the derivative."""
    _turn_vectors(phi, 6 * bridges + 1, sectors)
    old = wk.six
    for _ in range(sectors % 6):
        for k in range(bridges):
            for c in range(phi.shape[1]):
                for d in range(6):
                    old[d] = phi[6 * k + d, c]
                for x in range(3):
                    phi[6 * k + x, c] = old[3 + (x + 2) % 3]
                    phi[6 * k + 3 + x, c] = old[(x + 2) % 3]
