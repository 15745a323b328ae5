"""Vector groups of transformers: the phase shift that IEC 60076-1 writes as a clock number.

Polygon, zigzag and extended-delta windings give any other angle, which is told beside the group.
"""

from __future__ import annotations

import re

from xlcalc.errors import InputError

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
    """Phase shift of windings whose angle no clock number says; None takes that of the clock number.

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
