"""Rows of totals, which people write below the drives of a list."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

_TOTAL: Final = re.compile(
    r"(grand |sub[- ]?)?(total|totals|sum|gesamt|summe|zwischensumme)\b", re.IGNORECASE
)
LABELS: Final = ("tag", "description")
TOLERANCE: Final = 0.006
"""Totals are rounded."""

Value = float | str | None


def total_rows(numbers: Sequence[int], values: Mapping[str, Sequence[Value]]) -> dict[int, str]:
    """Rows that hold the total of rows above them, by their place, with their label.

    A row is one if it is called so and has no pulse number, and if what it holds is a sum of the rows above:
    ratings or counts, each once or times its quantity, of all drives or of those since the last such row.
    What is called a total but is no such sum stays a row, so that nobody overlooks it.

    Parameters
    ----------
    numbers : sequence of int
        Row numbers of the file.
    values : mapping of field to sequence
        Converted values, None where blank.

    Examples
    --------
    >>> values = {"tag": ["A", "B", "Total:"], "rating": [75.0, 110.0, 185.0], "pulses": [6.0, 6.0, None]}
    >>> total_rows([2, 3, 4], values)
    {2: 'row 4 (Total:) is the total of the rows above'}
    """
    blank: Sequence[Value] = [None] * len(numbers)
    pulses, rating, quantity = (values.get(name, blank) for name in ("pulses", "rating", "quantity"))
    found: dict[int, str] = {}
    since = 0
    for k, number in enumerate(numbers):
        label = next((str(text) for name in LABELS if (text := values.get(name, blank)[k]) is not None), "")
        if pulses[k] is not None or not _TOTAL.match(label.strip()):
            continue
        for first in (0, since):
            rows = [i for i in range(first, k) if i not in found]
            counts = [_number(quantity[i], 1.0) for i in rows]
            rated = [_number(rating[i], 0.0) for i in rows]
            weighted = sum(one * count for one, count in zip(rated, counts, strict=True))
            if rows and _is_sum(rating[k], (sum(rated), weighted)) and _is_sum(quantity[k], (sum(counts),)):
                found[k] = f"row {number} ({label}) is the total of the rows above"
                break
        since = k + 1 if k in found else since
    return found


def _number(value: Value, blank: float) -> float:
    return value if isinstance(value, float) else blank


def _is_sum(value: Value, sums: Sequence[float]) -> bool:
    """Whether a cell is blank or one of the sums."""
    return value is None or (
        isinstance(value, float) and any(abs(value - one) <= TOLERANCE * abs(one) for one in sums)
    )
