"""Results of a sweep: levels that are not exceeded, and the inputs that matter most."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
from scipy import stats

import xlcalc
from xlcalc.io.plants.site import DriveSite
from xlcalc.jobs.sweep.sweep_model import DOUBT
from xlcalc.jobs.sweep.sweep_run import OUTPUTS
from xlcalc.jobs.sweep.sweep_spec import LATIN_HYPERCUBE, SweepSpec
from xlcalc.standards.verdict import AT_LIMIT

LEVELS: Final = (("p50", 50.0), ("p95", 95.0), ("p99", 99.0), ("worst", 100.0))
CURVE: Final = tuple(range(0, 101, 2))
FEWEST_FOR_RANKS: Final = 3
LIMIT: Final = "lowest limit "


def level_table(samples: pd.DataFrame) -> pd.DataFrame:
    """Least value, mean and the levels that 50, 95, 99 and 100 % of the combinations do not exceed.

    One row per quantity, and place where there are several. Percentiles interpolate linearly between
    combinations (numpy's default).
    """
    return pd.DataFrame(
        [
            {**place, "quantity": name, **_levels(table, name)}
            for place, table in by_place(samples)
            for name in OUTPUTS
        ]
    )


def _levels(samples: pd.DataFrame, name: str) -> dict[str, float]:
    values = samples[name].dropna().to_numpy(float)
    limits = samples[f"limit {name}"] if f"limit {name}" in samples else pd.Series(dtype=float)
    above = samples[name] > limits.reindex(samples.index) * (1.0 + AT_LIMIT)
    found = {level: np.percentile(values, share) if len(values) else np.nan for level, share in LEVELS}
    return {
        "combinations": len(samples),
        "without a result": int(samples[name].isna().sum()),
        "least": values.min() if len(values) else np.nan,
        "mean": values.mean() if len(values) else np.nan,
        **found,
        "lowest limit": limits.min() if len(values) else np.nan,
        "above its limit pct": 100.0 * above.sum() / len(values) if len(values) else np.nan,
    }


def failing_pct(samples: pd.DataFrame) -> float:
    """Share of the combinations with a result and without a doubt that a verdict fails; NaN without any."""
    judged = (
        samples["verdict"][~doubted(samples)].dropna() if "verdict" in samples else pd.Series(dtype=object)
    )
    return float(100.0 * (judged == "FAIL").mean()) if len(judged) else float("nan")


def doubted(samples: pd.DataFrame) -> pd.Series[bool]:
    """Which combinations have a result that nothing may be judged by."""
    if DOUBT not in samples:
        return pd.Series(False, index=samples.index)
    return samples[DOUBT].fillna("") != ""


def failing_anywhere_pct(samples: pd.DataFrame) -> float:
    """The same for combinations that fail at one place or more, of those with a result at every place."""
    if "combination" not in samples:
        return failing_pct(samples)
    sound = (samples["reason"] == "") & ~doubted(samples)
    kept = samples[sound.groupby(samples["combination"]).transform("all")]
    if kept.empty:
        return float("nan")
    return float(100.0 * (kept["verdict"] == "FAIL").groupby(kept["combination"]).any().mean())


def rank_table(spec: SweepSpec, samples: pd.DataFrame) -> pd.DataFrame:
    """Rank correlation (Spearman) of every input with each output, the most important input first.

    An input or output that does not vary has none. P values are those of independent draws. With several
    places the one with the smallest margin comes first.
    """
    tables = {place_name(place): (place, table) for place, table in by_place(samples)}
    return pd.concat(
        [_ranks(spec, *tables[place_name(place)]) for place in weakest_first(samples)], ignore_index=True
    )


def _ranks(spec: SweepSpec, place: Mapping[str, str], samples: pd.DataFrame) -> pd.DataFrame:
    solved = samples[samples["reason"] == ""]
    rows = []
    for given in spec.inputs:
        row: dict[str, object] = {"input": given.label}
        for name in OUTPUTS:
            rho, p = _spearman(solved[given.label].to_numpy(float), solved[name].to_numpy(float))
            row |= {f"rank correlation with {name}": rho, f"p value with {name}": p}
        rows.append({**row, **place})
    table = pd.DataFrame(rows)
    weight = table[[f"rank correlation with {name}" for name in OUTPUTS]].abs().max(axis=1).fillna(-1.0)
    return (
        table.assign(weight=weight)
        .sort_values("weight", ascending=False, kind="stable")
        .drop(columns="weight")
    )


def curve_table(samples: pd.DataFrame) -> pd.DataFrame:
    """Values that a share of the combinations does not exceed, for the chart.

    With several places one column for each of them and quantity, the smallest margin first; then the lowest
    limit of each quantity.
    """
    table = pd.DataFrame({"not exceeded by pct": [float(share) for share in CURVE]})
    tables = {place_name(place): part for place, part in by_place(samples)}
    for name in OUTPUTS:
        for place in map(place_name, weakest_first(samples)):
            values = tables[place][name].dropna().to_numpy(float)
            heading = f"{name} at {place}" if place else name
            table[heading] = np.percentile(values, CURVE) if len(values) else np.nan
    for name in OUTPUTS:
        limits = samples.get(f"limit {name}", pd.Series(dtype=float))
        table[f"{LIMIT}{name}"] = limits.min() if len(limits) else np.nan
    return table


def setup_table(
    spec: SweepSpec, site: DriveSite, cases: Mapping[str, str] | None = None, missing: Sequence[str] = ()
) -> pd.DataFrame:
    """How the sweep was made, for those who read the result; cases with the solution they have, and
    the rows of the schedule that are in no combination."""
    rows: list[tuple[str, str]] = [
        ("site", site.name),
        ("title", str(site.study.get("title", ""))),
        *((f"solution of {case}", solution) for case, solution in (cases or {}).items()),
        ("method", spec.method),
        *([("seed", str(spec.seed))] if spec.method == LATIN_HYPERCUBE else []),
        *((given.label, given.distribution.words) for given in spec.inputs),
        *(("missing: rejected row of the schedule", problem) for problem in missing),
        ("computed by", f"xlcalc {xlcalc.__version__}"),
    ]
    return pd.DataFrame(rows, columns=["what", "how"])


def _spearman(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    if len(x) < FEWEST_FOR_RANKS or np.ptp(x) == 0.0 or np.ptp(y) == 0.0:
        return np.nan, np.nan
    result = stats.spearmanr(x, y)
    return float(result.statistic), float(result.pvalue)


KEYS: Final = ("case", "pcc")
MARGIN: Final = "margin pct of limit"
POOR_SHARE: Final = 5.0


def by_place(samples: pd.DataFrame) -> Iterator[tuple[Mapping[str, str], pd.DataFrame]]:
    """Keys of each place with its combinations; one empty mapping where there is a single place."""
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
