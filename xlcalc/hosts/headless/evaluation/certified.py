"""Which ordinary functions are proved, with which kinds of arguments, and by whom.

`certified.csv` is written by the command that rebuilds the probe grid; nothing in it is kept by hand.
"""

from __future__ import annotations

import csv
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


class Row(NamedTuple):
    """Kinds of values for arguments of a function (0 is the call as documented) that a witness proved."""

    function: str
    witness: str
    arguments: tuple[int, ...]
    kinds: tuple[str, ...]


def rows() -> Iterator[Row]:
    """The table in the order of the functions."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        reader = csv.reader(file)
        next(reader)
        for function, witness, arguments, kinds in reader:
            yield Row(function, witness, tuple(map(int, arguments.split(";"))), tuple(kinds.split(";")))


@cache
def certified_names() -> frozenset[str]:
    """Functions whose documented use is proved."""
    return frozenset(row.function for row in rows() if 0 in row.arguments and row.witness != REFUSED)
