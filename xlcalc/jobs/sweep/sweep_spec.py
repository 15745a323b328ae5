"""What a sweep varies, from a TOML file.

.. code-block:: toml

    [sweep]
    method = "latin hypercube"      # or "grid"
    samples = 200
    seed = 1
    solution = "uncoupled"          # or "coupled"; blank: the quick estimate

    [site]
    "utility mva" = { low = 80, high = 200 }
    "transformer z pct" = { tolerance_pct = 10 }

    [settings]
    "unbalance pct" = { low = 0, likely = 0.5, high = 2 }
    "background 5th pct" = { mean = 1.5, sd = 0.5 }

    [drives]
    "load pct" = { factor = { low = 0.6, high = 1.0 }, each = true }    # else one factor for all

    [drives."M-101"]
    "line reactor pct" = { values = [3, 5] }
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from scipy.stats import qmc

from xlcalc.core.checks import whole_number
from xlcalc.core.errors import InputError
from xlcalc.core.plausible import Stated
from xlcalc.core.spectrum import FloatArray
from xlcalc.files.toml import read_toml
from xlcalc.jobs.sweep.distributions import Distribution, Normal, Range, Triangle, Values
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.settings import PLANT_SETTINGS, SOLUTION
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.kinds import Number, Whole, one_of
from xlcalc.schema.tables import normalised

MOST_SAMPLES: Final = 1_000_000
LATIN_HYPERCUBE, GRID = "latin hypercube", "grid"
SECTIONS: Final = ("sweep", "site", "settings", "drives")
OPTIONS: Final = ("method", "samples", "seed", SOLUTION.name)
COUPLED: Final = "coupled"
EACH: Final = "each"
FORMS: Final = (
    "{low, high}, {low, likely, high}, {mean, sd}, {values}, {tolerance_pct}, or {factor} with one of these"
)


@dataclass(frozen=True)
class Input:
    """An input that varies.

    Parameters
    ----------
    section : str
        ``site``, ``settings``, ``drives``, or a table of a plant such as ``transformers``.
    field : Field
        The declared name.
    distribution : Distribution
        Of its value, or of what its value is multiplied by.
    factor : bool
        True where the distribution is that of a factor.
    tag : str
        The one drive or row that it belongs to; empty for all of them.
    """

    section: str
    field: Field
    distribution: Distribution
    factor: bool = False
    tag: str = ""

    @property
    def label(self) -> str:
        """Name in results."""
        if self.section in ("site", "settings"):
            of = ""
        elif self.section == "drives":
            of = f" of {self.tag or 'all drives'}"
        elif self.tag:
            of = f" of {self.tag} in {self.section}"
        else:
            of = f" of the {self.section}" if self.section == "utility" else f" of all {self.section}"
        return self.field.name + of + (" (factor)" if self.factor else "")

    def value(self, drawn: float, base: object) -> float | int:
        """The input's value for a drawn number.

        Raises
        ------
        InputError
            The result is outside the range of the input.
        """
        if self.factor and not isinstance(base, int | float):
            raise InputError(self.label, "a factor", "a range, because the site and schedule give no value")
        value = drawn * float(base) if self.factor else drawn  # type: ignore[arg-type]
        return self.field.convert(Stated(value))  # type: ignore[return-value]


@dataclass(frozen=True)
class SweepSpec:
    """What varies, and how many combinations are taken.

    Parameters
    ----------
    inputs : tuple of Input
        At least one.
    method : str
        ``latin hypercube`` or ``grid``.
    samples, seed : int
        Of the Latin hypercube.
    solution : str, optional
        "coupled" or "uncoupled", where the file says.
    """

    inputs: tuple[Input, ...]
    method: str = LATIN_HYPERCUBE
    samples: int = 200
    seed: int = 1
    solution: str | None = None

    def __post_init__(self) -> None:
        if not self.inputs:
            raise InputError("sweep", "without inputs", "one varying input or more")
        if self.method not in (LATIN_HYPERCUBE, GRID):
            raise InputError("method", self.method, f"{LATIN_HYPERCUBE} or {GRID}")
        whole_number("samples", self.samples, least=2, most=MOST_SAMPLES)
        whole_number("seed", self.seed, least=0)
        if self.solution is not None:
            SOLUTION.convert(self.solution, "solution in sweep")

    def drawn(self) -> FloatArray:
        """One row per combination, one column per input.

        Raises
        ------
        InputError
            A grid with too many points, or of an input that has none.
        """
        if self.method == LATIN_HYPERCUBE:
            sampler = qmc.LatinHypercube(len(self.inputs), rng=np.random.default_rng(self.seed))
            shares = sampler.random(self.samples)
            columns = [i.distribution.quantile(shares[:, k]) for k, i in enumerate(self.inputs)]
            return np.column_stack(columns)
        points = [i.distribution.points() for i in self.inputs]
        count = int(np.prod([len(p) for p in points], dtype=float))
        if count > MOST_SAMPLES:
            raise InputError("grid", f"of {count} points", f"up to {MOST_SAMPLES}, or the latin hypercube")
        return np.stack(np.meshgrid(*points, indexing="ij"), axis=-1).reshape(-1, len(points))


def read_spec(path: Path, bases: Mapping[str, Mapping[str, Any]], tags: Sequence[str]) -> SweepSpec:
    """Read a sweep.

    Parameters
    ----------
    path : Path
        TOML file as at the top of this module.
    bases : mapping of section to values
        Values of ``site`` and ``settings``, for tolerances.
    tags : sequence of str
        Tags of the schedule.

    Raises
    ------
    InputError
        The file is no TOML, a name is unknown or no number, or a range does not fit the input.
    """
    tables = spec_tables(path, SECTIONS)
    return SweepSpec(tuple(site_inputs(tables, bases, tags)), **sweep_options(tables))


def site_inputs(
    tables: Mapping[str, Mapping[str, Any]], bases: Mapping[str, Mapping[str, Any]], tags: Sequence[str]
) -> Iterator[Input]:
    """Inputs of all sections of a sweep of a site; raises `InputError` as `read_spec`."""
    yield from varied("site", SITE.fields, tables.get("site", {}), bases["site"])
    yield from varied("settings", PLANT_SETTINGS.fields, tables.get("settings", {}), bases["settings"])
    yield from drive_inputs(tables.get("drives", {}), tags)


def spec_tables(path: Path, sections: Sequence[str]) -> dict[str, dict[str, Any]]:
    """Tables of the file of a sweep; raises `InputError` for what is no TOML or no section."""
    tables = read_toml(path, (EACH,))
    for name, table in tables.items():
        if name not in sections or not isinstance(table, dict):
            raise InputError(f"table in {path.name}", name, f"one of {', '.join(sections)}")
    return tables


def sweep_options(tables: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """Values of the section ``sweep``; raises `InputError` for an unknown name."""
    options = dict(tables.get("sweep", {}))
    unknown = next((name for name in options if name not in OPTIONS), None)
    if unknown is not None:
        raise InputError("name in sweep", unknown, f"one of {', '.join(OPTIONS)}")
    return options


def drive_inputs(table: Mapping[str, Any], tags: Sequence[str]) -> Iterator[Input]:
    """Inputs of the section ``drives``, for all drives, each drive or under a tag; raises `InputError` as
    `read_spec`."""
    names = {normalised(field.name) for field in DRIVES.fields}
    known = {tag.casefold(): tag for tag in tags}
    common = {name: given for name, given in table.items() if normalised(name) in names}
    for name, given in common.items():
        forms, each = split_each(given, f"{name} in drives")
        for tag in without_own(tags, table, name) if each else [""]:
            yield from varied("drives", DRIVES.fields, {name: forms}, {}, tag)
    for tag, given in table.items():
        if tag in common:
            continue
        if tag.casefold() not in known or not isinstance(given, dict):
            raise InputError("name in drives", tag, "a column of numbers, or a tag of the schedule")
        yield from varied("drives", DRIVES.fields, given, {}, known[tag.casefold()])


def split_each(given: object, label: str) -> tuple[object, bool]:
    """Specification of a column for all rows of a table, and whether each row has a draw of its own.

    Raises
    ------
    InputError
        ``each`` is neither true nor false.
    """
    if not isinstance(given, dict) or EACH not in given:
        return given, False
    if not isinstance(given[EACH], bool):
        raise InputError(f"{EACH} of {label}", str(given[EACH]), "true or false", wrong_kind=True)
    return {name: value for name, value in given.items() if name != EACH}, given[EACH]


def without_own(names: Sequence[str], table: Mapping[str, Any], column: str) -> list[str]:
    """Drives or rows of a network without a specification of their own for a column."""
    own = {
        name.casefold()
        for name, forms in table.items()
        if isinstance(forms, dict) and normalised(column) in map(normalised, forms)
    }
    return [name for name in names if name.casefold() not in own]


def varied(
    section: str,
    fields: Sequence[Field],
    table: Mapping[str, Any],
    base: Mapping[str, Any],
    tag: str = "",
) -> Iterator[Input]:
    """Inputs of one section of the file; raises `InputError` as `read_spec`."""
    known = {normalised(f.name): f for f in fields if isinstance(f.kind, Number | Whole)}
    for name, given in table.items():
        key = normalised(name)
        if key not in known:
            raise InputError(f"name in {section}", name, one_of(list(known), key))
        yield _input(section, known[key], given, base, tag)


def _input(section: str, field: Field, given: object, base: Mapping[str, Any], tag: str) -> Input:
    label = f"{field.name} in {section}"
    if not isinstance(given, dict):
        raise InputError(label, str(given), FORMS, wrong_kind=True)
    if EACH in given:
        raise InputError(label, EACH, "a form without each, which is for all drives or rows of a network")
    factor = set(given) == {"factor"} and isinstance(given["factor"], dict)
    if set(given) == {"tolerance_pct"}:
        share = _number(given["tolerance_pct"], label) / 100.0
        distribution = _made(Range, label, 1.0 - share, 1.0 + share)
        factor = True
        if section != "drives" and not isinstance(base.get(field.name), int | float):
            raise InputError(label, "a tolerance", "a range, because the site gives no value")
    else:
        distribution = _distribution(given["factor"] if factor else given, field, label, factor)
    if factor and isinstance(field.kind, Whole):
        raise InputError(label, "a factor", "{values}, because only whole numbers fit")
    _check_ends(distribution, field, label, base.get(field.name) if factor else 1.0, factor)
    return Input(section, field, distribution, factor, tag)


def _distribution(given: Mapping[str, Any], field: Field, label: str, factor: bool) -> Distribution:
    names = set(given)
    if names == {"values"} and isinstance(given["values"], list):
        return _made(Values, label, tuple(_number(value, label) for value in given["values"]))
    number = {name: _number(value, label) for name, value in given.items() if name != "steps"}
    if isinstance(field.kind, Whole) and not factor:
        raise InputError(label, str(dict(given)), "{values}, because only whole numbers fit")
    if names in ({"low", "high"}, {"low", "high", "steps"}):
        return _made(Range, label, number["low"], number["high"], given.get("steps", Range.steps))
    if names == {"low", "likely", "high"}:
        return _made(Triangle, label, number["low"], number["likely"], number["high"])
    if {"mean", "sd"} <= names <= {"mean", "sd", "low", "high"}:
        ends = (field.kind.low, field.kind.high) if isinstance(field.kind, Number) else (0.0, np.inf)
        low, high = ends if not factor else (0.0, np.inf)
        ends = number.get("low", low), number.get("high", high)
        return _made(Normal, label, number["mean"], number["sd"], *ends)
    raise InputError(label, str(dict(given)), FORMS, wrong_kind=True)


def _made(kind: Callable[..., Distribution], label: str, *numbers: object) -> Distribution:
    """The distribution; what it refuses is named with the input."""
    try:
        return kind(*numbers)
    except InputError as problem:
        raise problem.renamed(f"{problem.argument} of {label}") from None


def _check_ends(distribution: Distribution, field: Field, label: str, base: object, factor: bool) -> None:
    if factor and not isinstance(base, int | float):
        return
    for end in distribution.points() if isinstance(distribution, Values) else distribution.bounds:
        if np.isfinite(end):
            field.convert(float(end) * float(base), label)  # type: ignore[arg-type]


def _number(value: object, label: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(label, str(value), "a number", wrong_kind=True)
    return float(value)
