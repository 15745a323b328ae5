"""Which ordinary functions are proved, with which kinds of arguments, and by whom; their reference.

`certified.csv` is written by the command that rebuilds the probe grid; nothing in it is kept by hand.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final, NamedTuple

COLUMNS: Final = ("function", "witness", "arguments", "kinds")
BOTH: Final = "LibreOffice and IronCalc"
LIBREOFFICE: Final = "LibreOffice"
IRONCALC: Final = "IronCalc"
DOCUMENTED: Final = "documented rule"
REFUSED: Final = "refused"
TESTED: Final = "tests only"
WITNESSES: Final = (BOTH, LIBREOFFICE, IRONCALC, DOCUMENTED, TESTED, REFUSED)
TABLE: Final = Path(__file__).with_name("certified.csv")


class CertifiedRow(NamedTuple):
    """Kinds of values for arguments of a function (0 is the call as documented) that a witness proved."""

    function: str
    witness: str
    arguments: tuple[int, ...]
    kinds: tuple[str, ...]


def rows() -> Iterator[CertifiedRow]:
    """The table in the order of the functions."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        reader = csv.reader(file)
        next(reader)
        for function, witness, arguments, kinds in reader:
            yield CertifiedRow(
                function, witness, tuple(map(int, arguments.split(";"))), tuple(kinds.split(";"))
            )


@cache
def certified_names() -> frozenset[str]:
    """Functions whose documented use is proved."""
    return frozenset(row.function for row in rows() if 0 in row.arguments and row.witness != REFUSED)


_INTRODUCTION = """## Ordinary functions in a recalculation

A recalculation without a spreadsheet program evaluates these functions of spreadsheet programs. Each
argument in turn was a number, zero, a text, a number or date as text, a logical, a blank, an error, a
range or an array; the result was held against LibreOffice and IronCalc, two programs that share nothing
with this one, or against the rule that Excel documents. What is refused keeps its old value and is
listed. The numbers before kinds of values are those of the arguments. Every other function is refused.
"""
_HEAD = (
    "| function | proved by | follows one of them or a documented rule | refused |",
    "| --- | --- | --- | --- |",
)


def ordinary_functions() -> str:
    """A section of the reference in Markdown."""
    by_function: defaultdict[str, list[CertifiedRow]] = defaultdict(list)
    for row in rows():
        by_function[row.function].append(row)
    return (
        "\n".join([_INTRODUCTION, *_HEAD, *(_line(name, by_function[name]) for name in sorted(by_function))])
        + "\n"
    )


def _line(name: str, found: list[CertifiedRow]) -> str:
    plain = [row for row in found if 0 in row.arguments]
    witness = plain[0].witness if plain else REFUSED
    others = [
        f"{row.witness}: {_where(row)}"
        for row in found
        if row.witness not in (BOTH, REFUSED, TESTED) and row.arguments != (0,)
    ]
    refused = [_where(row) for row in found if row.witness == REFUSED]
    return f"| `{name}` | {witness} | {'; '.join(others)} | {'; '.join(refused)} |"


def _where(row: CertifiedRow) -> str:
    places = ", ".join(str(place) for place in row.arguments if place)
    return f"{places} {', '.join(row.kinds)}".strip()
