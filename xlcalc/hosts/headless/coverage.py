"""The ordinary functions in the function reference: what is proved of each, by whom, and what is refused."""

from __future__ import annotations

from collections import defaultdict

from xlcalc.hosts.headless.evaluation.certified import BOTH, REFUSED, TESTED, Row, rows

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
    by_function: defaultdict[str, list[Row]] = defaultdict(list)
    for row in rows():
        by_function[row.function].append(row)
    return (
        "\n".join([_INTRODUCTION, *_HEAD, *(_line(name, by_function[name]) for name in sorted(by_function))])
        + "\n"
    )


def _line(name: str, found: list[Row]) -> str:
    plain = [row for row in found if 0 in row.arguments]
    witness = plain[0].witness if plain else REFUSED
    others = [
        f"{row.witness}: {_where(row)}"
        for row in found
        if row.witness not in (BOTH, REFUSED, TESTED) and row.arguments != (0,)
    ]
    refused = [_where(row) for row in found if row.witness == REFUSED]
    return f"| `{name}` | {witness} | {'; '.join(others)} | {'; '.join(refused)} |"


def _where(row: Row) -> str:
    places = ", ".join(str(place) for place in row.arguments if place)
    return f"{places} {', '.join(row.kinds)}".strip()
