"""A field that a user fills in: name, kind, help and default, checked the same way in every host."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Final

from xlcalc.core.errors import InputError, Place
from xlcalc.schema.kinds import Kind, is_blank
from xlcalc.schema.values import Value


class _Required:
    def __repr__(self) -> str:
        return "REQUIRED"


REQUIRED: Final = _Required()


@dataclass(frozen=True)
class Fills:
    """The attribute of a dataclass that a field fills.

    Parameters
    ----------
    owner : str
        Module below `xlcalc` and name of the dataclass, which checks the same range.
    attribute : str
    factor : float
        One unit of the field in units of the attribute: 1000 for a field in kVA that fills VA.
    """

    owner: str
    attribute: str
    factor: float = 1.0

    @property
    def dataclass(self) -> type:
        """The dataclass itself; importing it loads its room."""
        module, _, name = self.owner.rpartition(".")
        found: type = getattr(import_module(f"xlcalc.{module}"), name)
        return found


@dataclass(frozen=True)
class Field:
    """One value that a user gives: a name of a range of settings, a column of a table, or an argument.

    Parameters
    ----------
    name : str
        As the user sees it, with its unit (``dc choke pct``).
    kind : Kind
        Says what a raw cell value must be and converts it.
    doc : str
        What it is, in one line.
    default : object
        Converted value that a blank or missing one stands for; `REQUIRED` where there is none.
    fills : Fills, optional
        The attribute of the dataclass that the value ends in.
    """

    name: str
    kind: Kind
    doc: str
    default: object = REQUIRED
    fills: Fills | None = None

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


def attributes(fields: Iterable[Field], values: Mapping[str, Any], owner: type) -> dict[str, Any]:
    """Attributes of a dataclass from the checked values of the fields that fill them.

    Parameters
    ----------
    fields : iterable of Field
        Those that fill another dataclass, or none, are passed over.
    values : mapping of str to value
        By the names of the fields; None stays None.
    owner : type
        The dataclass.
    """
    found = {}
    for field in fields:
        fills = field.fills
        if fills is not None and f"xlcalc.{fills.owner}" == f"{owner.__module__}.{owner.__name__}":
            value = values[field.name]
            found[fills.attribute] = value if value is None or fills.factor == 1.0 else fills.factor * value
    return found


def convert_at(field: Field, raw: Value, label: str, place: Place | None) -> object:
    """Checked value of a cell that stands at a place of a range.

    Raises
    ------
    InputError
        With that place.
    """
    try:
        return field.convert(raw, label)
    except InputError as problem:
        raise problem.placed(place) from None
