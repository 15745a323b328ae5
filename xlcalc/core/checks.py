"""Checks of single numbers, so that every refusal names the argument, the value and the valid range."""

from __future__ import annotations

import math
from numbers import Real

from xlcalc.core.errors import InputError


def number(
    argument: str,
    value: object,
    *,
    unit: str = "",
    above: float | None = None,
    least: float | None = None,
    most: float | None = None,
) -> float:
    """The value as a finite float inside the stated range.

    Parameters
    ----------
    argument : str
        Name of the argument for the message.
    value : object
        What was given.
    unit : str
        Unit for the message.
    above, least, most : float, optional
        Exclusive lower, inclusive lower and inclusive upper end of the range.

    Raises
    ------
    InputError
        Not a number, not finite, or outside the range.

    Examples
    --------
    >>> number("kva", -5, unit="kVA", above=0)
    Traceback (most recent call last):
    ...
    xlcalc.core.errors.InputError: kva is -5; valid: a number above 0 kVA
    """
    valid = _range_text(unit, above, least, most)
    if isinstance(value, bool) or not isinstance(value, Real):
        raise InputError(argument, value, valid, wrong_kind=True)
    result = float(value)
    inside = (
        math.isfinite(result)
        and (above is None or result > above)
        and (least is None or result >= least)
        and (most is None or result <= most)
    )
    if not inside:
        raise InputError(argument, value, valid)
    return result


def whole_number(argument: str, value: object, *, least: int, most: int | None = None) -> int:
    """The value as an int inside the stated range; 5.0 counts as 5.

    Raises
    ------
    InputError
        Not a number, not whole, or outside the range.
    """
    valid = f"a whole number of {least} or more" if most is None else f"a whole number from {least} to {most}"
    if isinstance(value, bool) or not isinstance(value, Real):
        raise InputError(argument, value, valid, wrong_kind=True)
    result = float(value)
    if not result.is_integer() or result < least or (most is not None and result > most):
        raise InputError(argument, value, valid)
    return int(result)


def _range_text(unit: str, above: float | None, least: float | None, most: float | None) -> str:
    tail = f" {unit}" if unit else ""
    if above is not None and most is not None:
        return f"above {above:g} up to {most:g}{tail}"
    if least is not None and most is not None:
        return f"{least:g} to {most:g}{tail}"
    if above is not None:
        return f"a number above {above:g}{tail}"
    if least is not None:
        return f"a number of {least:g} or more{tail}"
    if most is not None:
        return f"a number up to {most:g}{tail}"
    return f"a finite number{tail}"
