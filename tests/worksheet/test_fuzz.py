"""Random arguments of every kind to every function: a finite result or a reasoned error, in bounded time.

XLCALC_FUZZ_SETS in the environment sets how many argument sets there are in all, XLCALC_FUZZ_SEED where they
start; a failure prints the arguments.
"""

from __future__ import annotations

import faulthandler
import math
import os
import sys
import time
import zlib
from functools import cache

import numpy as np
import pytest

from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.kinds import Choice, Kind, Number, Text, Whole
from xlcalc.schema.tables import NamedValues, Records, StackedTables
from xlcalc.schema.values import CellError, ErrorCode, Grid, Scalar, Value
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.number_ranges import Monthly, Phasors, Row
from xlcalc.worksheet.ranges import PercentSpectrum, SpectrumRange
from xlcalc.worksheet.registry import WorksheetFunction

SETS = int(os.environ.get("XLCALC_FUZZ_SETS", "700"))
SEED = int(os.environ.get("XLCALC_FUZZ_SEED", "20260"))
LONGEST_SECONDS = 30.0
HANG_SECONDS = 300.0

ODD_SCALARS: tuple[Scalar, ...] = (
    None,
    "",
    " ",
    "text",
    "6",
    "=1+1",
    "nan",
    "\x00",
    "é" * 300,
    True,
    False,
    0.0,
    -0.0,
    -1.0,
    1e-320,
    5e-324,
    1e15,
    1e300,
    -1e308,
    0.5,
    6,
    10**30,
    float("inf"),
    float("-inf"),
    float("nan"),
    CellError(ErrorCode.NA, "elsewhere"),
)


class Maker:
    """Draws raw arguments: sound ones of a kind, or odd ones."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def changed_example(self, function: WorksheetFunction) -> list[Value]:
        """Arguments of the worked example with some of its cells scaled or replaced."""
        share = float(self.rng.choice([0.01, 0.04, 0.15]))

        def changed(cell: Scalar) -> Scalar:
            if not self.chance(share):
                return cell
            if isinstance(cell, float) and self.chance(0.85):
                return cell * float(10.0 ** self.rng.normal(0.0, 0.4))
            return self.scalar()

        return [
            [[changed(cell) for cell in row] for row in value] if isinstance(value, list) else changed(value)
            for value in example_arguments(function)
        ]

    def arguments(self, function: WorksheetFunction) -> list[Value]:
        if self.chance(0.3):
            return self.changed_example(function)
        oddness = self.rng.choice([0.0, 0.15, 0.6])
        most = len(function.arguments) if function.max_args is not None else function.min_args + 3
        count = int(self.rng.integers(function.min_args, most + 1))
        if self.chance(0.02):
            count = int(self.rng.integers(0, most + 2))
        declared = [function.arguments[min(i, len(function.arguments) - 1)] for i in range(count) if most]
        return [self.argument(argument, oddness) for argument in declared]

    def argument(self, argument: Argument, oddness: float) -> Value:
        if not argument.required and self.chance(0.3):
            return None
        if self.chance(oddness):
            return self.odd(argument.kind)
        return self.sound(argument.kind, oddness)

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def odd(self, kind: Kind) -> Value:
        way = self.rng.integers(0, 4)
        if way == 0:
            bad = kind.bad_values
            return bad[int(self.rng.integers(0, len(bad)))].raw
        if way == 1:
            return self.grid()
        return self.scalar()

    def scalar(self) -> Scalar:
        if self.chance(0.5):
            return ODD_SCALARS[int(self.rng.integers(0, len(ODD_SCALARS)))]
        return float(self.rng.choice([-1.0, 1.0]) * 10.0 ** self.rng.uniform(-12, 12))

    def grid(self) -> Grid:
        rows, columns = int(self.rng.integers(1, 7)), int(self.rng.integers(1, 5))
        return [[self.scalar() for _ in range(columns)] for _ in range(rows)]

    def sound(self, kind: Kind, oddness: float) -> Value:
        if isinstance(kind, Number):
            return self.number(kind)
        if isinstance(kind, Whole):
            return float(kind.low + kind.step * self.rng.integers(0, (kind.high - kind.low) // kind.step + 1))
        if isinstance(kind, Choice):
            return str(self.rng.choice(kind.options))
        if isinstance(kind, Text):
            return str(self.rng.choice(["a", "pump 1", "=1+1", "ü"]))
        if isinstance(kind, NamedValues):
            return self.named(kind, oddness)
        if isinstance(kind, Records):
            return self.records(kind, oddness)
        if isinstance(kind, Row):
            count = kind.least + int(self.rng.integers(0, 60))
            return [[float(value)] for value in 10.0 * np.abs(self.rng.normal(size=count))]
        if isinstance(kind, Phasors):
            turn = self.rng.normal(0.0, 5.0, size=3) + np.array([0.0, -120.0, 120.0])
            return [[float(230.0 + self.rng.normal()), float(angle)] for angle in turn]
        if isinstance(kind, StackedTables):
            return self.stacked(kind, oddness)
        if isinstance(kind, SpectrumRange):
            return self.spectrum(oddness, percent=isinstance(kind, PercentSpectrum))
        if isinstance(kind, Monthly):
            return [[float(self.rng.uniform(0, 500)) for _ in range(12)]]
        raise AssertionError(f"no maker for {type(kind).__name__}")

    def number(self, kind: Number) -> float:
        """At an end, evenly over the range, or evenly over its decades."""
        high = kind.high if math.isfinite(kind.high) else 1e12
        way = self.rng.integers(0, 8)
        if way == 0:
            return kind.low
        if way == 1:
            return high
        if way <= 3 or kind.low < 0:
            return float(self.rng.uniform(kind.low, high))
        low = max(kind.low, min(1e-3, high / 1e6))
        return float(min(max(low * (high / low) ** self.rng.random(), kind.low), high))

    def named(self, kind: NamedValues, oddness: float) -> Grid:
        optional = [field for field in kind.fields if not field.required]
        chosen = self.rng.choice(
            len(optional), min(len(optional), int(self.rng.integers(0, 6))), replace=False
        )
        fields = [field for field in kind.fields if field.required] + [optional[int(i)] for i in chosen]
        rows: Grid = [[field.name, self.cell(field, oddness)] for field in fields]
        if self.chance(oddness / 4):
            rows.append([self.scalar(), self.scalar()])
        self.rng.shuffle(rows)
        return rows

    def records(self, kind: Records, oddness: float) -> Grid:
        fields = [field for field in kind.fields if field.required or self.chance(0.5)]
        rows: Grid = [[field.name for field in fields]]
        for number in range(int(self.rng.integers(1, 5))):
            row: list[Scalar] = [self.cell(field, oddness / 3) for field in fields]
            row[0] = f"D{number}" if fields[0].name == kind.key else row[0]
            rows.append(row)
        return rows

    def stacked(self, kind: StackedTables, oddness: float) -> Grid:
        """Tables whose names are few, so that some of them fit together."""
        blocks: list[Grid] = []
        for section in kind.sections:
            if section.required or self.chance(0.3):
                rows = self.records(section.records, oddness / 4)
                for k, heading in enumerate(rows[0]):
                    if heading in ("bus", "from bus", "to bus", "name") and heading != section.records.key:
                        for row in rows[1:]:
                            row[k] = str(self.rng.choice(["D0", "D1"]))
                    if heading == "vector group":
                        for row in rows[1:]:
                            row[k] = str(self.rng.choice(["Dyn11", "Dd0", "Yd1"]))
                blocks.append([[section.title], *(rows[:2] if section.title == "utility" else rows), []])
        width = max(len(row) for block in blocks for row in block)
        return [[*row, *[None] * (width - len(row))] for block in blocks for row in block]

    def cell(self, field: Argument, oddness: float) -> Scalar:
        value = self.argument(field, oddness / 4)
        return value if not isinstance(value, list) else None

    def spectrum(self, oddness: float, percent: bool) -> Grid:
        orders = self.rng.choice(np.arange(1, 51), int(self.rng.integers(1, 51)), replace=False)
        if self.chance(0.8):
            orders = np.unique([1, *orders])
        size = 10.0 ** (self.rng.uniform(0, 2) if percent else self.rng.uniform(-6, 6))
        rows: Grid = [
            [float(h), float(size * self.rng.random() / h), float(self.rng.uniform(-360, 360))]
            for h in orders
        ]
        if percent and rows[0][0] == 1.0:
            rows[0][1] = float(self.rng.uniform(80, 120))
        if self.chance(0.2):
            rows.insert(0, ["order", "%", "deg"])
        if self.chance(oddness):
            rows[int(self.rng.integers(0, len(rows)))][int(self.rng.integers(0, 3))] = self.scalar()
        return rows


@cache
def example_arguments(function: WorksheetFunction) -> tuple[Value, ...]:
    """Raw arguments of the function's first example, as a host hands them over."""
    seen: list[list[Value]] = []

    class Recorder:
        name, min_args, max_args = function.name, function.min_args, function.max_args
        volatile, shape = function.volatile, function.shape

        def __call__(self, raw: list[Value]) -> Value:
            seen.append(list(raw))
            return function(raw)

    evaluate_formula(function.examples[0].formula, {**FUNCTIONS, function.name: Recorder()})
    return tuple(seen[-1])


def fault(result: object) -> str | None:
    """What is wrong with a result, if anything is."""
    if isinstance(result, list):
        if not result or len({len(row) for row in result}) != 1 or not result[0]:
            return "rows of unequal length, or none"
        return next((found for row in result for cell in row if (found := fault_of_cell(cell))), None)
    return fault_of_cell(result)


def fault_of_cell(cell: object) -> str | None:
    if isinstance(cell, CellError):
        return None if cell.reason.strip() else "an error without a reason"
    if isinstance(cell, bool | str) or cell is None:
        return (
            f"text {cell!r}"
            if str(cell).strip().casefold() in ("nan", "inf", "-inf", "none") and cell
            else None
        )
    if type(cell) not in (float, int):
        return f"a {type(cell).__name__}"
    return None if math.isfinite(cell) else f"{cell}"


FOUND = (
    ("HD_REACTOR_PCT", [24721.7, 7.9e-11, 5e-324, 5.2e-12]),
    (
        "HD_TRANSFORMER_LOAD_LIQUID",
        [[[1.0, 1000.0, 0.0], [46.0, 1e300, 0.0]], 0.5, 519.0, 0.0024, 95.8, 11.0],
    ),
    (
        "HD_SPECTRUM",
        [6.0, 1e-5, 0.0, 0.0, 100.0, [["capacitor resistance pct", 0.5], ["source x/r", 2.8]]],
    ),
)
"""Arguments that earlier runs of this test found to raise, each with the sizes of numbers that did it."""


@pytest.mark.parametrize(("name", "arguments"), FOUND)
def test_arguments_that_once_raised(name, arguments):
    result = FUNCTIONS[name](arguments)
    assert isinstance(result, CellError), result
    assert result.code == ErrorCode.NUM
    assert fault(result) is None


@pytest.mark.parametrize("name", FUNCTIONS)
def test_random_arguments(name, capsys):
    function = FUNCTIONS[name]
    rng = np.random.default_rng([SEED, zlib.crc32(name.encode())])
    maker = Maker(rng)
    sets = max(1, -(-SETS // len(FUNCTIONS)))
    results = errors = 0
    slowest = 0.0
    for number in range(sets):
        arguments = maker.arguments(function)
        faulthandler.dump_traceback_later(HANG_SECONDS, exit=True, file=sys.__stderr__)
        start = time.perf_counter()
        try:
            result = function(arguments)
        except Exception as problem:
            pytest.fail(f"{name}{arguments!r} (set {number}) raises {type(problem).__name__}: {problem}")
        finally:
            faulthandler.cancel_dump_traceback_later()
        slowest = max(slowest, time.perf_counter() - start)
        found = fault(result)
        assert found is None, f"{name}{arguments!r} (set {number}) gives {found}"
        assert slowest < LONGEST_SECONDS, f"{name}{arguments!r} (set {number}) takes {slowest:.1f} s"
        errors += isinstance(result, CellError)
        results += not isinstance(result, CellError)
    if "XLCALC_FUZZ_SETS" in os.environ:
        with capsys.disabled():
            print(f"\n{name}: {sets} sets, {results} results, {errors} errors, slowest {slowest:.3f} s")
    if name != "HD_VERSION" and sets >= 100:
        assert results, "no set of arguments gave a result: the maker draws nothing sound"
        assert errors, "no set of arguments was refused: the maker draws nothing odd"
