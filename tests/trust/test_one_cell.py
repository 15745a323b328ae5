"""One input cell deleted or corrupted at random never turns a study into a PASS without being named.

Plants and changes are drawn with a fixed seed. A change of a value into another plausible value cannot be
seen by anybody; what is drawn here is what slips of hand and file do: a cell that is emptied, a text, a
number with its unit behind it, another unit (times or by a thousand), percent as a fraction, another sign,
an error value, a name or heading that is mistyped.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

import pytest

from xlcalc.schema.values import CellError, ErrorCode
from xlcalc.standards.verdict import PASS
from xlcalc.worksheet.catalogue import FUNCTIONS

HEADINGS = (
    "tag",
    "quantity",
    "rating",
    "unit",
    "efficiency pct",
    "bus",
    "pulses",
    "line reactor pct",
    "dc choke pct",
    "load pct",
)
PLANTS = 24
CHANGES = 10

Table = list[list[Any]]
Inputs = dict[str, Table]


def plant(draw: random.Random) -> Inputs:
    kva = draw.choice((750, 1000, 1500, 2000))
    rows: Table = [list(HEADINGS)]
    for number in range(1, draw.randint(1, 4) + 1):
        rating = draw.choice((15, 30, 55, 90, 160))
        rows.append(
            [
                f"P-{number}",
                draw.choice((1, 2, 3)),
                rating,
                draw.choice(("kW", "hp")),
                draw.choice((93, 95, 97)),
                "main",
                draw.choice((6, 6, 12, 18)),
                draw.choice((1.5, 3, 5)),
                draw.choice((0, 2, 4)),
                draw.choice((40, 75, 100)),
            ]
        )
    site = [
        ["utility kv", draw.choice((11, 13.8))],
        ["utility mva", draw.choice((120, 250, 400))],
        ["transformer kva", kva],
        ["transformer z pct", draw.choice((5, 5.75, 6))],
        ["main bus volts", 480],
        ["linear load kw", draw.choice((150, 300, 450))],
        ["linear load pf", 0.85],
        ["capacitor mvar", draw.choice((0, 0, 0.1))],
    ]
    settings: Table = [
        ["edition", "2022"],
        ["unbalance pct", draw.choice((0.5, 1.0))],
        *([f"background {order}th pct", level] for order, level in ((5, 1.5), (7, 1), (11, 0.5), (13, 0.3))),
    ]
    return {"drives": rows, "site": site, "settings": settings}


def corruptions(draw: random.Random, value: Any) -> Any:
    """What a slip makes of a cell."""
    if isinstance(value, str):
        return draw.choice((None, "", value[:-1] + "?", CellError(ErrorCode.NA), 17.0))
    return draw.choice(
        (
            None,
            None,
            f"{value} x",
            str(value) + " kW",
            1000.0 * value,
            value / 1000.0,
            -float(value),
            value / 100.0,
            CellError(ErrorCode.DIV0),
        )
    )


def changes(draw: random.Random, inputs: Inputs) -> Iterator[tuple[str, int, int, Any]]:
    for _ in range(CHANGES):
        name = draw.choice(("drives", "drives", "site", "settings"))
        table = inputs[name]
        row = draw.randrange(len(table))
        column = draw.randrange(len(table[row]))
        yield name, row, column, corruptions(draw, table[row][column])


def study(inputs: Inputs, quantity: str) -> Any:
    return FUNCTIONS["HD_PCC_VALUE"]([inputs["drives"], inputs["site"], quantity, inputs["settings"]])


def names_of(inputs: Inputs, name: str, row: int, column: int) -> tuple[str, ...]:
    """By what a sentence may name the cell: its field, its tag, or its place."""
    table = inputs[name]
    if name == "drives":
        return (str(table[0][column]).removesuffix(" pct"), str(table[row][0]))
    return (str(table[row][0]).removesuffix(" pct"),)


@pytest.mark.parametrize("seed", range(PLANTS))
def test_no_change_of_one_cell_passes_unnamed(seed: int) -> None:
    draw = random.Random(f"one cell {seed}")
    inputs = plant(draw)
    before = study(inputs, "VERDICT")
    assert before in ("PASS", "FAIL", "NO VERDICT"), before
    if before == PASS:
        return
    for name, row, column, value in changes(draw, inputs):
        changed = {key: [list(line) for line in table] for key, table in inputs.items()}
        changed[name][row][column] = value
        after = study(changed, "VERDICT")
        assert isinstance(after, str), after
        if after != PASS:
            continue
        said = " ".join(str(study(changed, quantity)) for quantity in ("REMARKS", "ASSUMED"))
        wanted = names_of(inputs, name, row, column)
        then = inputs[name][row][column]
        what = f"{name} row {row} {wanted}: {then!r} -> {value!r} turned {before} into {after}"
        assert any(text.casefold() in said.casefold() for text in wanted), what
