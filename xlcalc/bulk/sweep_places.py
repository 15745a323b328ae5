"""The places that a sweep judges, such as the PCCs of each case of a plant, in its table of combinations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd

KEYS: Final = ("case", "pcc")
MARGIN: Final = "margin pct of limit"
POOR_SHARE: Final = 5.0


def by_place(samples: pd.DataFrame) -> Iterator[tuple[Mapping[str, str], pd.DataFrame]]:
    """What tells a place apart, and its combinations; one blank mapping where there is one place alone."""
    keys = [key for key in KEYS if key in samples]
    if not keys:
        yield {}, samples
        return
    for values, table in samples.groupby(keys, sort=False):
        yield dict(zip(keys, map(str, values), strict=True)), table


def place_name(place: Mapping[Any, Any]) -> str:
    """A place in words, such as ``Mill, weak supply``."""
    return ", ".join(str(place[key]) for key in reversed(KEYS) if key in place)


def weakest_first(samples: pd.DataFrame) -> list[Mapping[str, str]]:
    """Places in the order of the margin that 95 % of their combinations keep, the smallest first."""

    def kept(table: pd.DataFrame) -> float:
        margins = table[MARGIN].dropna().to_numpy(float) if MARGIN in table else np.array([])
        return float(np.percentile(margins, POOR_SHARE)) if len(margins) else np.inf

    return [place for place, _ in sorted(by_place(samples), key=lambda pair: kept(pair[1]))]
