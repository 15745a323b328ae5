"""A table with headings whose every cell can be named when it is wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from xlcalc.errors import InputError
from xlcalc.plausible import Stated, Usual, check, stated


@dataclass(frozen=True)
class Record:
    """A row below the headings.

    Parameters
    ----------
    place : str
        Where it stands, such as "row 7 of options.csv".
    cells : mapping of str to object
        Value by heading in small letters; blank cells are left out.
    places : mapping of str to str
        Place of single cells by heading, such as "cell C7 of sheet Options"; others are named by heading.
    """

    place: str
    cells: Mapping[str, object]
    places: Mapping[str, str]

    def where(self, heading: str) -> str:
        """The cell under a heading, for messages."""
        cell = self.places.get(heading)
        return f"{heading} ({cell})" if cell else f"{heading}, {self.place}"

    def text(self, heading: str, default: str | None = None) -> str:
        """Raises `InputError` for a blank cell without a default."""
        value = self.cells.get(heading)
        if value is None:
            if default is None:
                raise InputError(self.where(heading), None, "a text")
            return default
        return f"{value:g}" if isinstance(value, float) else str(value).strip()

    def number(self, heading: str, default: float | None = None) -> float:
        """Raises `InputError` for a text, and for a blank cell without a default."""
        value = self.cells.get(heading)
        if value is None:
            if default is None:
                raise InputError(self.where(heading), None, "a number")
            return default
        try:
            return float(value)  # type: ignore[arg-type]
        except (TypeError, ValueError):
            raise InputError(self.where(heading), value, "a number", wrong_kind=True) from None

    def usual(self, heading: str, usual: Usual, unit: str = "%", default: float | None = None) -> float:
        """As `number`; raises `InputError` for an unusual value, unless it is a text with its unit."""
        value = self.cells.get(heading)
        meant = stated(value, unit) if isinstance(value, str) else value
        if isinstance(meant, Stated):
            return meant
        return check(self.where(heading), self.number(heading, default), unit, usual)

    def whole(self, heading: str, default: int | None = None) -> int:
        """As `number`, without decimals."""
        value = self.number(heading, None if default is None else float(default))
        if not value.is_integer():
            raise InputError(self.where(heading), value, "a whole number")
        return int(value)

    def optional(self, heading: str) -> float | None:
        return None if self.cells.get(heading) is None else self.number(heading)

    def optional_usual(self, heading: str, usual: Usual, unit: str = "%") -> float | None:
        return None if self.cells.get(heading) is None else self.usual(heading, usual, unit)

    def has(self, *headings: str) -> bool:
        return any(heading in self.cells for heading in headings)

    def refuse(self, problem: InputError, heading: str) -> InputError:
        """The same refusal with the cell in front."""
        return problem.renamed(f"{problem.argument}, {self.where(heading)}")


@dataclass(frozen=True)
class Sheet:
    """A table.

    Parameters
    ----------
    name : str
        File, and sheet where there is one.
    headings : tuple of str
        In small letters.
    records : tuple of Record
        Rows that are not blank.
    """

    name: str
    headings: tuple[str, ...]
    records: tuple[Record, ...]

    def check_headings(self, known: Sequence[str], needed: Sequence[str]) -> None:
        """Raises `InputError` for a heading that means nothing, comes twice or is missing."""
        for heading in self.headings:
            if heading not in known:
                raise InputError(f"heading in {self.name}", heading, "one of " + ", ".join(known))
            if self.headings.count(heading) > 1:
                raise InputError(f"heading in {self.name}", f"{heading} twice", "each heading once")
        for heading in needed:
            if heading not in self.headings:
                raise InputError(f"heading {heading} in {self.name}", None, "a column of this name")
