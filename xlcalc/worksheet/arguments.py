"""Arguments of worksheet functions, and errors that stand in them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from xlcalc.core.errors import Place
from xlcalc.schema.fields import Field
from xlcalc.schema.values import CellError, Value


@dataclass(frozen=True)
class Argument(Field):
    """One argument of a function; its name carries the unit (``_pct``, ``_mh``, ``_kva``).

    Parameters
    ----------
    repeats : bool
        True for the last argument of a function that takes any number of them; others as `Field`.
    """

    repeats: bool = False

    @classmethod
    def of(cls, field: Field) -> Argument:
        """An argument with the kind, range and help of a field."""
        return cls(**vars(field))


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
