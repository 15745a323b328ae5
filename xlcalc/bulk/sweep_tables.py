"""What a sweep says: levels that are not exceeded, and the inputs that matter most."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from scipy import stats

import xlcalc
from xlcalc.bulk.site_file import Site
from xlcalc.bulk.sweep_run import OUTPUTS
from xlcalc.bulk.sweep_spec import LATIN_HYPERCUBE, SweepSpec

LEVELS: Final = (("p50", 50.0), ("p95", 95.0), ("p99", 99.0), ("worst", 100.0))
CURVE: Final = tuple(range(0, 101, 2))
FEWEST_FOR_RANKS: Final = 3


def level_table(samples: pd.DataFrame) -> pd.DataFrame:
    """Least value, mean and the levels that 50, 95, 99 and 100 % of the combinations do not exceed.

    Percentiles interpolate linearly between combinations (numpy's default).
    """
    rows = []
    for name in OUTPUTS:
        values = samples[name].dropna().to_numpy(float)
        limits = samples[f"limit {name}"] if f"limit {name}" in samples else pd.Series(dtype=float)
        above = samples[name] > limits
        found = {level: np.percentile(values, share) if len(values) else np.nan for level, share in LEVELS}
        rows.append(
            {
                "quantity": name,
                "combinations": len(samples),
                "without a result": int(samples[name].isna().sum()),
                "least": values.min() if len(values) else np.nan,
                "mean": values.mean() if len(values) else np.nan,
                **found,
                "lowest limit": limits.min() if len(values) else np.nan,
                "above its limit pct": 100.0 * above.sum() / len(values) if len(values) else np.nan,
            }
        )
    return pd.DataFrame(rows)


def rank_table(spec: SweepSpec, samples: pd.DataFrame) -> pd.DataFrame:
    """Rank correlation (Spearman) of every input with each output, the most important input first.

    An input or output that does not vary has none. P values are those of independent draws.
    """
    solved = samples[samples["reason"] == ""]
    rows = []
    for given in spec.inputs:
        row: dict[str, object] = {"input": given.label}
        for name in OUTPUTS:
            rho, p = _spearman(solved[given.label].to_numpy(float), solved[name].to_numpy(float))
            row |= {f"rank correlation with {name}": rho, f"p value with {name}": p}
        rows.append(row)
    table = pd.DataFrame(rows)
    weight = table[[f"rank correlation with {name}" for name in OUTPUTS]].abs().max(axis=1).fillna(-1.0)
    return (
        table.assign(weight=weight)
        .sort_values("weight", ascending=False, kind="stable")
        .drop(columns="weight")
    )


def curve_table(samples: pd.DataFrame) -> pd.DataFrame:
    """Values that a share of the combinations does not exceed, for the chart."""
    table = pd.DataFrame({"not exceeded by pct": [float(share) for share in CURVE]})
    for name in OUTPUTS:
        values = samples[name].dropna().to_numpy(float)
        table[name] = np.percentile(values, CURVE) if len(values) else np.nan
    return table


def setup_table(spec: SweepSpec, site: Site) -> pd.DataFrame:
    """How the sweep was made, for those who read the result."""
    rows: list[tuple[str, str]] = [
        ("site", site.name),
        ("title", str(site.study.get("title", ""))),
        ("method", spec.method),
        *([("seed", str(spec.seed))] if spec.method == LATIN_HYPERCUBE else []),
        *((given.label, repr(given.distribution)) for given in spec.inputs),
        ("computed by", f"xlcalc {xlcalc.__version__}"),
    ]
    return pd.DataFrame(rows, columns=["what", "how"])


def _spearman(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    if len(x) < FEWEST_FOR_RANKS or np.ptp(x) == 0.0 or np.ptp(y) == 0.0:
        return np.nan, np.nan
    result = stats.spearmanr(x, y)
    return float(result.statistic), float(result.pvalue)
