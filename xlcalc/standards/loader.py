"""Reads the tables of the standards from the package data: one frozen row per line, each with its origin."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources
from types import MappingProxyType

from xlcalc.core.errors import InputError

Row = Mapping[str, str]

NOT_STATED = "not stated"
ORIGIN_COLUMNS = ("standard", "edition", "clause", "verified", "confidence", "source")


class Verified(StrEnum):
    """How far a number was checked against something other than the licensed text."""

    CROSS_CHECKED = "cross-checked"
    ONE_SOURCE = "one source"
    FROM_MEMORY = "from memory"
    USER = "user"


_TRUST = (Verified.CROSS_CHECKED, Verified.USER, Verified.ONE_SOURCE, Verified.FROM_MEMORY)
_CONFIDENCE = ("", "high", "moderate", "low")


@dataclass(frozen=True)
class Origin:
    """Where a number comes from.

    Parameters
    ----------
    standard, edition, clause : str
        Document, edition and table or clause.
    verified : Verified
        State of verification.
    confidence : str
        "high", "moderate" or "low" for a number from memory, else empty.
    source : str
        What was read.
    superseded_by : str
        Edition that has replaced this one; empty where it is in force as far as known.
    """

    standard: str
    edition: str
    clause: str
    verified: Verified
    confidence: str = ""
    source: str = ""
    superseded_by: str = ""

    def __post_init__(self) -> None:
        if self.confidence not in _CONFIDENCE:
            raise InputError("confidence", self.confidence, "high, moderate, low or empty")

    @classmethod
    def of_row(cls, row: Row) -> Origin:
        return cls(
            standard=row["standard"],
            edition=row["edition"],
            clause=row["clause"],
            verified=Verified(row["verified"]),
            confidence=row["confidence"],
            source=row["source"],
            superseded_by=row.get("superseded_by", ""),
        )

    @property
    def needs_licensed_copy(self) -> bool:
        """True where fewer than two sources agree on the number, or a later edition was not seen."""
        return self.verified in (Verified.ONE_SOURCE, Verified.FROM_MEMORY) or bool(self.superseded_by)

    @property
    def verified_text(self) -> str:
        """How far the number was checked, and whether the edition has been replaced."""
        checked = f"{self.verified} ({self.confidence})" if self.confidence else str(self.verified)
        return f"{checked}; superseded by the {self.superseded_by} edition" if self.superseded_by else checked

    @property
    def text(self) -> str:
        """Document and clause in one line."""
        return f"{self.document} {self.clause}"

    @property
    def document(self) -> str:
        """Standard with its edition, or that none is stated."""
        if self.edition == NOT_STATED:
            return f"{self.standard} (edition {NOT_STATED})"
        return f"{self.standard}-{self.edition}" if self.edition else self.standard

    def _rank(self) -> tuple[int, int]:
        return _TRUST.index(self.verified), _CONFIDENCE.index(self.confidence)


@dataclass(frozen=True)
class Limit:
    """A limit with its origin; `value` in `unit`."""

    value: float
    origin: Origin
    unit: str = "%"


def weakest(clause_from: Origin, others: Iterable[Origin]) -> Origin:
    """`clause_from` with the least verified state among itself and the others that went into the number."""
    least = max((clause_from, *others), key=Origin._rank)
    return Origin(
        standard=clause_from.standard,
        edition=clause_from.edition,
        clause=clause_from.clause,
        verified=least.verified,
        confidence=least.confidence,
        source=least.source,
        superseded_by=clause_from.superseded_by,
    )


@cache
def read_table(name: str) -> tuple[Row, ...]:
    """All rows of one table of the package.

    Parameters
    ----------
    name : str
        File name without ``.csv``.

    Raises
    ------
    InputError
        There is no such table.
    """
    if name not in table_names():
        raise InputError("name", name, "one of " + ", ".join(table_names()))
    text = (resources.files("xlcalc.standards") / "tables" / f"{name}.csv").read_text("utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))


@cache
def table_names() -> tuple[str, ...]:
    """Names of the tables in the package, sorted."""
    folder = resources.files("xlcalc.standards") / "tables"
    return tuple(sorted(f.name.removesuffix(".csv") for f in folder.iterdir() if f.name.endswith(".csv")))


@cache
def rows_of_edition(name: str, edition: str) -> tuple[Row, ...]:
    """Rows of one edition of a table.

    Raises
    ------
    InputError
        The table has no such edition.
    """
    editions = editions_of(name)
    wanted = str(edition).strip()
    if wanted not in editions:
        raise InputError("edition", edition, "one of " + ", ".join(editions))
    return tuple(row for row in read_table(name) if row["edition"] == wanted)


@cache
def editions_of(name: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(row["edition"] for row in read_table(name)))


def column_number(row: Row, column: str) -> float:
    """A cell as a number; "inf" is infinity."""
    return math.inf if row[column] == "inf" else float(row[column])
