"""Symmetrical components by order; phase shifts of transformers, as a turn and as vector groups."""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ComplexArray

_A = np.exp(2j * np.pi / 3)
_TO_SEQUENCE = np.array([[1, 1, 1], [1, _A, _A**2], [1, _A**2, _A]]) / 3.0
_TO_PHASES = np.array([[1, 1, 1], [1, _A**2, _A], [1, _A, _A**2]])


def components(phases: ComplexArray) -> ComplexArray:
    """Zero, positive and negative sequence of phases a, b, c; both of shape (..., 3, n)."""
    return np.asarray(_TO_SEQUENCE @ phases, dtype=np.complex128)


def phases_of(sequences: ComplexArray) -> ComplexArray:
    """Phases a, b, c of zero, positive and negative sequence; both of shape (..., 3, n)."""
    return np.asarray(_TO_PHASES @ sequences, dtype=np.complex128)


def natural_sequence(order: int) -> int:
    """Sequence of an order in a balanced system: 1 for h = 3k + 1, -1 for h = 3k - 1, 0 for h = 3k.

    Examples
    --------
    >>> [natural_sequence(h) for h in (1, 2, 3, 5, 7)]
    [1, -1, 0, -1, 1]
    """
    return (0, 1, -1)[order % 3]


def to_common_frame(phases: ComplexArray, shift_deg: float) -> ComplexArray:
    """Line currents of a load as seen from a bus whose voltage lags the load's by `shift_deg`.

    The load's angles are against its own voltage. Two turns meet: the whole waveform is earlier by the shift
    (order h turns by ``h shift``), and the transformer turns the positive sequence back by the shift, the
    negative sequence forward by it. A zero sequence does not pass: three-wire loads have none. So the 5th and
    7th of two equal groups 30 degrees apart meet in opposition, the 11th and 13th in phase.

    Parameters
    ----------
    phases : array of complex, shape (..., 3, n)
        Orders 1..n of phases a, b, c.
    shift_deg : float
        Angle by which the load's voltage leads that of the bus (positive sequence).

    Returns
    -------
    array of complex, shape (..., 3, n)

    Examples
    --------
    >>> one = np.zeros((3, 7), dtype=complex)
    >>> one[:, 4] = np.exp(-2j * np.pi / 3 * 5 * np.arange(3))
    >>> one[:, 6] = np.exp(-2j * np.pi / 3 * 7 * np.arange(3))
    >>> to_common_frame(one, 30.0)[0, [4, 6]].real.round(6).tolist()
    [-1.0, -1.0]
    """
    orders = np.arange(1, phases.shape[-1] + 1)
    sequences = components(phases)
    sequences[..., 0, :] = 0.0
    sequences[..., 1, :] *= frame_turn(orders, 1, shift_deg)
    sequences[..., 2, :] *= frame_turn(orders, -1, shift_deg)
    return phases_of(sequences)


def frame_turn(orders: npt.ArrayLike, sequence: int, shift_deg: float) -> ComplexArray:
    """``exp(j (h - s) shift)``: from a load's frame to that of a bus whose voltage lags by `shift_deg`.

    Parameters
    ----------
    orders : array_like of int, shape (h,)
    sequence : int
        1 positive, -1 negative.
    shift_deg : float

    Returns
    -------
    array of complex, shape (h,)
    """
    turn = (np.asarray(orders) - sequence) * np.radians(shift_deg)
    return np.asarray(np.exp(1j * turn), dtype=np.complex128)


_GROUP = re.compile(r"^(D|YN|Y|ZN|Z)(d|yn|y|zn|z|a)(\d{1,2})$")
_THREE = re.compile(r"^(D|YN|Y|ZN|Z)((?:d|yn|y|zn|z)\d{1,2})((?:d|yn|y|zn|z)\d{1,2})$")
_VALID = "a vector group such as Dyn11, Yd1, Dd0 or YNa0"
_MOST_FROM_CLOCK = 30.0
_VALID_THREE = "a vector group of three windings such as Dd0yn11 or YNd11d0"


def phase_shift_deg(group: str) -> float:
    """Angle by which the secondary voltage leads the primary one (positive sequence).

    The clock number counts steps of 30 degrees by which the low-voltage winding lags.

    Parameters
    ----------
    group : str
        Primary winding in capitals (D, Y, YN, Z, ZN), secondary in small letters (a: an autotransformer),
        clock number 0 to 11.

    Returns
    -------
    float
        Degrees, above -180 to 180.

    Raises
    ------
    InputError
        Not a vector group, or a clock number that these two windings cannot have: a delta and a star differ
        by odd numbers, two windings of one kind by even ones, and a zigzag counts as the other kind of star.

    Examples
    --------
    >>> [phase_shift_deg(group) for group in ("Dd0", "Dy1", "Dyn11", "Dyn5", "YNd1")]
    [0.0, -30.0, 30.0, -150.0, -30.0]
    """
    found = _GROUP.match(group.strip()) if isinstance(group, str) else None
    if found is None:
        raise InputError("vector_group", group, _VALID, wrong_kind=True)
    primary, secondary, clock = found.group(1)[0], found.group(2)[0].upper(), int(found.group(3))
    if clock > 11:
        raise InputError("vector_group", group, "a clock number from 0 to 11", wrong_kind=True)
    if secondary == "A" and clock:
        valid = "clock number 0 for an autotransformer; its own angle goes into 'shift deg'"
        raise InputError("vector_group", group, valid, wrong_kind=True)
    if clock % 2 != _odd(primary, secondary):
        parity = "an odd" if _odd(primary, secondary) else "an even"
        raise InputError(
            "vector_group", group, f"{parity} clock number for these two windings", wrong_kind=True
        )
    return 0.0 - 30.0 * clock if clock < 6 else 360.0 - 30.0 * clock


def zero_sequence_passes(group: str) -> bool:
    """Whether zero-sequence voltage passes from primary to secondary.

    Only between two led-out star points, and through an autotransformer, which isolates nothing.

    Examples
    --------
    >>> [zero_sequence_passes(group) for group in ("YNyn0", "Yyn0", "Dyn11", "YNd1", "Da0")]
    [True, False, False, False, True]
    """
    return re.match(r"^(YNyn|[A-Z]+a)\d", group.strip()) is not None


def own_shift_deg(group: str, shift_deg: float | None) -> float:
    """Phase shift of windings that no clock number expresses; None takes that of the clock number.

    Parameters
    ----------
    group : str
        With the clock number that is nearest.
    shift_deg : float or None
        Angle by which the secondary voltage leads, degrees.

    Raises
    ------
    InputError
        Not a vector group, or an angle further than 30 degrees from its clock number.

    Examples
    --------
    >>> own_shift_deg("Dz0", -7.5), own_shift_deg("Dy1", None)
    (-7.5, -30.0)
    """
    clock = phase_shift_deg(group)
    if shift_deg is None:
        return clock
    if abs((shift_deg - clock + 180.0) % 360.0 - 180.0) > _MOST_FROM_CLOCK:
        valid = f"within {_MOST_FROM_CLOCK:g} degrees of the {clock:g} degrees of {group.strip()}"
        raise InputError("shift_deg", shift_deg, valid)
    return shift_deg


def three_winding_groups(group: str) -> tuple[str, str]:
    """Vector groups of the pairs primary-secondary and primary-tertiary of a three-winding transformer.

    Raises
    ------
    InputError
        Not a vector group of three windings; the clock numbers are checked by `phase_shift_deg`.

    Examples
    --------
    >>> three_winding_groups("Dd0yn11")
    ('Dd0', 'Dyn11')
    """
    found = _THREE.match(group.strip()) if isinstance(group, str) else None
    if found is None:
        raise InputError("vector_group", group, _VALID_THREE, wrong_kind=True)
    return found.group(1) + found.group(2), found.group(1) + found.group(3)


def _odd(primary: str, secondary: str) -> bool:
    """A winding contributes 30 degrees where its legs carry line-to-line voltages or a zigzag of them."""
    quarter = {"D": 1, "Y": 0, "Z": 1}
    if secondary == "A":
        return False
    return (quarter[primary] + quarter[secondary]) % 2 == 1
