"""Spectral lines by least squares: for windows that end where the recording does."""

from __future__ import annotations

from typing import Final

import numpy as np
from threadpoolctl import threadpool_limits

from xlcalc.core.spectrum import ComplexArray, FloatArray

_FINE: Final = 32
"""Lines are turned in two steps, by multiples of it and by the rest: far fewer exponentials."""


def fitted_lines(samples: FloatArray, first: float, last: int, length: float) -> ComplexArray:
    """Lines of a window by least squares, for windows without samples on either side of them.

    Where the samples divide the window evenly this is the discrete Fourier transform. The products are
    small: a second thread in them costs more than it saves, and far more on a busy machine.

    Parameters
    ----------
    samples : array of float, shape (n, m)
        All samples in the window.
    first : float
        Instant of the first, as a share of the window.
    last : int
        Highest line.
    length : float
        Samples in a window, not always whole.

    Returns
    -------
    array of complex, shape (m, last + 1)
        As `Window.lines`.
    """
    import scipy

    angle = 2.0 * np.pi * (first + np.arange(samples.shape[0]) / length)
    missing = np.isnan(samples).any(axis=0)
    known = np.where(missing, 0.0, samples)
    fine = np.exp(-1j * np.outer(np.arange(_FINE), angle))
    coarse = np.exp(-1j * _FINE * np.outer(np.arange(last // _FINE + 1), angle))
    with threadpool_limits(limits=1, user_api="blas"):
        right = np.stack([((coarse * wave) @ fine.T).ravel()[: last + 1] for wave in known.T], axis=1)
        found = scipy.linalg.solve(
            _products(angle, last), np.concatenate([right.real, -right.imag[1:]]), assume_a="pos"
        )
    lines = np.zeros((samples.shape[1], last + 1), dtype=np.complex128)
    lines[:, 0] = found[0]
    lines[:, 1:] = (found[1 : last + 1] - 1j * found[last + 1 :]).T / np.sqrt(2.0)
    lines[missing] = np.nan
    return lines


def _products(angle: FloatArray, last: int) -> FloatArray:
    """Sums over evenly spaced angles of the products of cosines 0 to `last` and sines 1 to `last` of them."""
    order = np.arange(1, 2 * last + 1)
    step = 2.0 * np.pi if angle.size == 1 else (angle[-1] - angle[0]) / (angle.size - 1)
    series = (
        np.exp(1j * order * angle[0]) * np.expm1(1j * order * step * angle.size) / np.expm1(1j * order * step)
    )
    sums = np.concatenate([[angle.size], series])
    place = np.arange(last + 1)
    apart, both = place[:, None] - place, place[:, None] + place
    near, far = sums[np.abs(apart)], sums[both]
    cosines, sines = 0.5 * (near + far).real, 0.5 * (near - far).real
    mixed = 0.5 * (far.imag - np.sign(apart) * near.imag)
    return np.block([[cosines, mixed[:, 1:]], [mixed[:, 1:].T, sines[1:, 1:]]])
