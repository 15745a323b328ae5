"""The two ways in which a calculation says no."""

from __future__ import annotations


class InputError(ValueError):
    """An argument is outside what the calculation accepts.

    Parameters
    ----------
    argument : str
        Name of the argument as the caller knows it.
    value : object
        The value that was given.
    valid : str
        The valid range in words, with its unit.
    wrong_kind : bool
        True where the value is no number at all; without it the type of `value` tells.

    Examples
    --------
    >>> print(InputError("pulses", 7, "a multiple of 6 from 6 to 48"))
    pulses is 7; valid: a multiple of 6 from 6 to 48
    """

    def __init__(self, argument: str, value: object, valid: str, *, wrong_kind: bool | None = None) -> None:
        self.argument = argument
        self.value = value
        self.valid = valid
        number = isinstance(value, int | float) and not isinstance(value, bool)
        self.wrong_kind = not number if wrong_kind is None else wrong_kind
        shown = "missing" if value is None else f"{value:.15g}" if isinstance(value, float) else f"{value}"
        super().__init__(f"{argument} is {shown}; valid: {valid}")

    def renamed(self, argument: str) -> InputError:
        """The same refusal under another name of the argument.

        Examples
        --------
        >>> print(InputError("pulses", 7, "a multiple of 6 from 6 to 48").renamed("pulses of drive P1"))
        pulses of drive P1 is 7; valid: a multiple of 6 from 6 to 48
        """
        return InputError(argument, self.value, self.valid, wrong_kind=self.wrong_kind)


class NoSolutionError(ArithmeticError):
    """The inputs are valid one by one, but no trustworthy result exists for them; the message says why."""
