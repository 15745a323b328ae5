"""A percent of a reactor or choke, or the words of a nameplate in its place: yes, 3 % equivalent."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from xlcalc.schema.kinds import Number
from xlcalc.schema.values import Value

if TYPE_CHECKING:
    from xlcalc.equipment.nameplate import Habit

DC_CHOKE, LINE_REACTOR = "dc choke", "line reactor"
YES, UNKNOWN, EQUIVALENT = "yes", "unknown", "equivalent"
WORDS: Final = {
    "yes": YES,
    "y": YES,
    "included": YES,
    "built in": YES,
    "built-in": YES,
    "integrated": YES,
    "unknown": UNKNOWN,
    "not known": UNKNOWN,
    "?": UNKNOWN,
    "no": "",
    "n": "",
    "none": "",
}
"""What a cell may say, and what it means; blank is no such device."""

MOST_EQUIVALENT_PCT: Final = 15.0
_EQUIVALENT: Final = re.compile(
    r"(?P<pct>\d{1,2}(?:[.,]\d{1,2})?)\s*(?:%|pct|percent)?\s*(?:ac\s*)?(?:equivalent|equiv\.?|eq\.?)"
    r"(?:\s+(?:impedance|reactor|choke))?\Z",
    re.IGNORECASE,
)


class ByNameplate(float):
    """The typical percent of a device of which only words are known.

    Parameters
    ----------
    device : str
        "line reactor" or "dc choke".
    given : str
        "yes", "unknown" or "equivalent".
    stated_pct : float
        Of an equivalent.
    """

    device: str
    given: str
    stated_pct: float

    def __new__(cls, device: str, given: str, stated_pct: float = 0.0, kw: float = 0.0) -> ByNameplate:
        from xlcalc.equipment.nameplate import reactor_habit

        made = super().__new__(cls, reactor_habit(device, given, stated_pct, kw).typical)
        made.device, made.given, made.stated_pct = device, given, stated_pct
        return made

    def __reduce__(self) -> tuple[type[ByNameplate], tuple[str, str, float]]:
        return ByNameplate, (self.device, self.given, self.stated_pct)

    @property
    def text(self) -> str:
        """As a list has it.

        Examples
        --------
        >>> ByNameplate("dc choke", "equivalent", 3.0).text, ByNameplate("dc choke", "yes").text
        ('3 % equivalent', 'yes')
        """
        return f"{self.stated_pct:g} % equivalent" if self.given == EQUIVALENT else self.given

    def habit(self, kw: float) -> Habit:
        """Typical value and range for a drive of a rated DC-link power, kW."""
        from xlcalc.equipment.nameplate import reactor_habit

        return reactor_habit(self.device, self.given, self.stated_pct, kw)

    def at(self, kw: float) -> ByNameplate:
        """The same for a drive of a rated DC-link power, kW."""
        return ByNameplate(self.device, self.given, self.stated_pct, kw)


def read_words(text: str, device: str) -> float | None:
    """The words of a cell about a device; None for any other text.

    Examples
    --------
    >>> read_words("Yes", "dc choke"), read_words("no", "dc choke"), read_words("3 %", "dc choke")
    (3.0, 0.0, None)
    >>> read_words("3% equiv.", "line reactor"), read_words("40 % equivalent", "line reactor")
    (3.0, None)
    """
    plain = text.strip().casefold()
    if plain in WORDS:
        return ByNameplate(device, WORDS[plain]) if WORDS[plain] else 0.0
    match = _EQUIVALENT.match(plain)
    stated = float(match["pct"].replace(",", ".")) if match else 0.0
    return ByNameplate(device, EQUIVALENT, stated) if 0.5 <= stated <= MOST_EQUIVALENT_PCT else None


COLUMN: Final = "said in words"
"""Column of tables that keep numbers only: what was said in words, by field."""


def words_text(row: Mapping[str, object]) -> str:
    """All words of a row, as one text; empty without any.

    Examples
    --------
    >>> words_text({"dc choke pct": ByNameplate("dc choke", "yes"), "load pct": 80.0})
    'dc choke pct=yes'
    """
    return "|".join(f"{name}={value.text}" for name, value in row.items() if isinstance(value, ByNameplate))


def with_words(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row of such a table with its words back in place of their typical numbers.

    Examples
    --------
    >>> with_words({"dc choke pct": 4.5, "said in words": "dc choke pct=3 % equivalent"})["dc choke pct"].text
    '3 % equivalent'
    """
    found = dict(row)
    for part in filter(None, str(found.pop(COLUMN, "")).split("|")):
        name, _, text = part.partition("=")
        found[name] = read_words(text, name.removesuffix(" pct"))
    return found


@dataclass(frozen=True)
class NameplatePercent(Number):
    """A percent of a device, or the words of its nameplate, which become a `ByNameplate`."""

    device: str = ""

    @property
    def valid(self) -> str:
        return f"{super().valid}, or yes, no, unknown, '3 % equivalent'"

    def convert(self, value: Value, name: str) -> float:
        if isinstance(value, str):
            said = read_words(value, self.device)
            if said is not None:
                return said
        return super().convert(value, name)
