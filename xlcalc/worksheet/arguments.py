"""Arguments of worksheet functions: name, kind, help and default, checked the same way in every host."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from xlcalc.errors import InputError, Place
from xlcalc.worksheet.kinds import Kind, is_blank
from xlcalc.worksheet.values import CellError, Value


class _Required:
    def __repr__(self) -> str:
        return "REQUIRED"


REQUIRED: Final = _Required()


@dataclass(frozen=True)
class Argument:
    """One argument of a function, one name of a settings range, or one column of a table.

    Parameters
    ----------
    name : str
        As the user sees it; function arguments carry their unit in the name (``_pct``, ``_mh``, ``_kva``).
    kind : Kind
        Says what a raw cell value must be and converts it.
    doc : str
        What it is, in one line.
    default : object
        Converted value that a blank or missing one stands for; `REQUIRED` where there is none.
    repeats : bool
        True for the last argument of a function that takes any number of them.
    """

    name: str
    kind: Kind
    doc: str
    default: object = REQUIRED
    repeats: bool = False

    @property
    def required(self) -> bool:
        return self.default is REQUIRED

    @property
    def help(self) -> str:
        """What it is, what is valid, and what a blank stands for."""
        text = f"{self.doc}; {self.kind.valid}"
        if not self.required and self.default is not None:
            text += f"; {self.kind.show(self.default)} if left out"
        return text

    def convert(self, raw: Value, label: str | None = None) -> object:
        """Checked Python value of a raw cell or range; `label` replaces the name in an error.

        Raises
        ------
        InputError
            Naming the argument, the value and the valid range.
        """
        name = label or self.name
        if is_blank(raw):
            if self.required:
                raise InputError(name, None, self.kind.valid)
            return self.default
        return self.kind.convert(raw, name)


def convert_at(argument: Argument, raw: Value, label: str, place: Place | None) -> object:
    """Checked value of a cell that stands at a place of a range.

    Raises
    ------
    InputError
        With that place.
    """
    try:
        return argument.convert(raw, label)
    except InputError as problem:
        raise problem.placed(place) from None


def error_in(raw: Value, argument: str = "", position: int | None = None) -> CellError | None:
    """The first error value in a raw cell or range, with its place in the argument."""
    if isinstance(raw, CellError):
        return replace(raw, place=Place(argument, 1, 1, position=position), after_cell="", typed="")
    if isinstance(raw, list):
        for row, cells in enumerate(raw, start=1):
            for column, cell in enumerate(cells, start=1):
                if isinstance(cell, CellError):
                    place = Place(argument, row, column, position=position)
                    return replace(cell, place=place, after_cell="", typed="")
    return None
