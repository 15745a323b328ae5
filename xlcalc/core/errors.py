"""Exceptions raised by calculations, and the place in the input that they name."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Place:
    """Where in the arguments of a worksheet function something stands.

    Parameters
    ----------
    argument : str
        Name of the argument; empty while that is not known.
    row, column : int or None
        Counted from 1 inside the range given; None for the range as a whole.
    field : str
        Name of the setting or column that the cell belongs to; empty where there is none.
    position : int or None
        Of the argument among those of the call, counted from 0; None while that is not known.
    """

    argument: str = ""
    row: int | None = None
    column: int | None = None
    field: str = ""
    position: int | None = None

    def of(self, argument: str, position: int) -> Place:
        """The same place in an argument of a call."""
        return replace(self, argument=argument, position=position)


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
    why : str
        What is wrong with the value, as it goes on after a comma: "which is no number".
    place : Place, optional
        Where it stands in the arguments of a worksheet function.
    message : str
        A whole sentence in place of the form "x is 7; valid: ...".

    Examples
    --------
    >>> print(InputError("pulses", 7, "a multiple of 6 from 6 to 48"))
    pulses is 7; valid: a multiple of 6 from 6 to 48
    >>> print(InputError("rating", "'15 HP'", "a number above 0", why="which is no number"))
    rating is '15 HP', which is no number; valid: a number above 0
    """

    def __init__(
        self,
        argument: str,
        value: object,
        valid: str,
        *,
        wrong_kind: bool | None = None,
        why: str = "",
        place: Place | None = None,
        message: str = "",
    ) -> None:
        self.argument = argument
        self.value = value
        self.valid = valid
        number = isinstance(value, int | float) and not isinstance(value, bool)
        self.wrong_kind = not number if wrong_kind is None else wrong_kind
        self.why = why
        self.place = place
        self.message = message
        super().__init__(message or f"{argument} is {self._shown('missing')}; valid: {valid}")

    @property
    def after_cell(self) -> str:
        """How the sentence goes on after the name of the cell where the trouble stands.

        Examples
        --------
        >>> print("Drives!D11" + InputError("x", "'15 HP'", "above 0", why="which is no number").after_cell)
        Drives!D11 is '15 HP', which is no number; valid: above 0
        """
        if self.message or (self.place is not None and self.place.row is None):
            return f": {self}"
        field = self.place.field if self.place is not None else ""
        return f" is {self._shown('blank')}; valid{f' for {field}' if field else ''}: {self.valid}"

    def _shown(self, nothing: str) -> str:
        value = self.value
        text = nothing if value is None else f"{value:.15g}" if isinstance(value, float) else f"{value}"
        return f"{text}, {self.why}" if self.why else text

    def renamed(self, argument: str) -> InputError:
        """The same refusal under another name of the argument.

        Examples
        --------
        >>> print(InputError("pulses", 7, "a multiple of 6 from 6 to 48").renamed("pulses of drive P1"))
        pulses of drive P1 is 7; valid: a multiple of 6 from 6 to 48
        """
        return self._changed(argument, self.place)

    def placed(self, place: Place | None) -> InputError:
        """The same refusal with the place where it stands, unless that is known already."""
        return self if place is None or self.place is not None else self._changed(self.argument, place)

    def of(self, argument: str, position: int) -> InputError:
        """The same refusal, its place in an argument of the function that was called."""
        return self._changed(self.argument, (self.place or Place()).of(argument, position))

    def said(self, message: str) -> InputError:
        """The same refusal in other words."""
        problem = self._changed(self.argument, self.place)
        problem.message, problem.args = message, (message,)
        return problem

    def _changed(self, argument: str, place: Place | None) -> InputError:
        return InputError(
            argument,
            self.value,
            self.valid,
            wrong_kind=self.wrong_kind,
            why=self.why,
            place=place,
            message=self.message,
        )


class NoSolutionError(ArithmeticError):
    """The inputs are valid one by one, but they have no trustworthy result; the message gives the reason."""
