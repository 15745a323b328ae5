"""Each field of a user is declared once, and the dataclass that it fills has the same range and default."""

from __future__ import annotations

import ast
import pkgutil
from collections.abc import Iterator
from dataclasses import MISSING, fields, replace
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

import xlcalc
from xlcalc.core.errors import InputError
from xlcalc.mitigation.offer.curves import CostFormula
from xlcalc.mitigation.offer.drive_options import ActiveFilter, DriveOption
from xlcalc.mitigation.offer.economics import Economics, Losses
from xlcalc.mitigation.offer.physics import DiodeFrontEnd, Residual, ResidualLine
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.network.branches import Line, TransformerBranch
from xlcalc.network.capacitors import CapacitorBank, TunedFilter
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import Generator, HarmonicCurrent, MotorLoad, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.three_winding import ThreeWindingTransformer
from xlcalc.network.topology import Bus
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.schema import inputs
from xlcalc.schema.fields import REQUIRED, Field
from xlcalc.schema.kinds import Choice, Number, Text, Whole
from xlcalc.schema.tables import NamedValues, Records, StackedTables
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive

FRONT_END = FrontEnd(6, 1.0, 3.0)
UTILITY = Utility(13.8e3, 1e12)  # as strong as may be: the least level is never above it
TRANSFORMER = Transformer(1.5e6, 5.75, 6.0, 13.8e3, 480.0)
NETWORK = NodalNetwork(utility=UTILITY, utility_bus="A", nodes=(Bus("A", 13.8e3),))
SAMPLES: dict[str, Any] = {
    type(sample).__name__: sample
    for sample in (
        FRONT_END,
        UTILITY,
        TRANSFORMER,
        FilterRating(10.0, tuned_order=5.0),
        ScheduledDrive("P-1", 100e3, FRONT_END),
        TransformerBranch("T1", "A", "B", TRANSFORMER),
        ThreeWindingTransformer(
            *("T3", ("A", "B", "C"), 2e6, 8.0, 8.0),
            *(15.6, 10.0, (20e3, 690.0, 690.0), (30.0, 0.0)),
        ),
        Line("C1", "A", "B", 0.1, 0.1),
        CapacitorBank("B1", "A", 300e3, 480.0),
        TunedFilter("F1", "A", 300e3, 480.0),
        StaticLoad("L1", "A", 100e3, 50e3),
        MotorLoad("M1", "A", 100e3),
        HarmonicCurrent(5, 20.0),
        Generator("G1", "A", 1e6, 480.0, 15.0),
        Bus("A", 480.0),
        NETWORK,
        PccOptions(),
        DiodeFrontEnd(),
        ResidualLine(100.0, 5, 3.0),
        Residual((ResidualLine(100.0, 5, 3.0),), "rated", "by hand"),
        DriveOption("none", DiodeFrontEnd()),
        ActiveFilter("AF", 100.0, ((5, 10.0),), "by hand"),
        CostFormula(),
        Losses(),
        Economics(0.1),
        Problem(
            drives=(ScheduledDrive("P-1", 100e3, FRONT_END, "A"),),
            options=(DriveOption("none", DiodeFrontEnd()),),
            cases=(LimitCase("normal", NETWORK, (PccOptions("A"),)),),
            economics=Economics(0.1),
        ),
    )
}

NONE_AT_ZERO = {
    "linear load kw": 0.1,
    "capacitor mvar": 0.001,
    "filter capacitor pct": 0.1,
    "filter tuned order": 1.01,
    "reactor pct": 0.01,
}
"""Fields whose 0, or blank, means that there is none of it, and a small value of one that there is."""

WIDER = frozenset(("source_xr", "reactor_xr", "choke_xr", "transformer_xr"))
"""Attributes with a wider range than what may be typed: textbook circuits have no resistance, and cables of a
plant raise the X/R at a bus."""

BEYOND = 1e15
TOGETHER = {"z_ps_pct", "z_pt_pct", "z_st_pct"}
"""Attributes that bound each other."""


def declared() -> Iterator[tuple[str, Field]]:
    """Every field of every range and table that the schema declares, with where it stands."""
    for module in pkgutil.iter_modules(inputs.__path__):
        for name, found in vars(import_module(f"xlcalc.schema.inputs.{module.name}")).items():
            for field in fields_in(found):
                yield f"{module.name}.{name}: {field.name}", field


def fields_in(found: object) -> tuple[Field, ...]:
    if isinstance(found, NamedValues | Records):
        return found.fields
    if isinstance(found, StackedTables):
        return tuple(field for section in found.sections for field in section.records.fields)
    return ()


FILLING = {
    place: field for field, place in {field: place for place, field in declared() if field.fills}.items()
}


def refused(field: Field, value: object) -> bool:
    """Whether the dataclass refuses a value of the attribute that the field fills."""
    assert field.fills is not None
    changed = TOGETHER if field.fills.attribute in TOGETHER else {field.fills.attribute}
    try:
        replace(SAMPLES[field.fills.dataclass.__name__], **dict.fromkeys(changed, value))
    except InputError:
        return True
    return False


@pytest.mark.parametrize("place", FILLING)
def test_a_dataclass_has_the_range_of_the_field_that_fills_it(place):
    field = FILLING[place]
    assert field.fills is not None
    kind, factor = field.kind, field.fills.factor
    if isinstance(kind, Text):
        return
    if isinstance(kind, Choice):
        assert not any(refused(field, option) for option in kind.options)
        assert refused(field, "no such word")
        return
    assert isinstance(kind, Number | Whole)
    low, high = (kind.low, kind.high) if isinstance(kind, Whole) else (kind.low * factor, kind.high * factor)
    step = kind.step if isinstance(kind, Whole) else 1e-3 * (high - low)
    above = isinstance(kind, Number) and kind.above
    assert not refused(field, high)
    assert not refused(field, NONE_AT_ZERO[field.name] * factor if field.name in NONE_AT_ZERO else low + step)
    if field.name not in NONE_AT_ZERO:
        assert refused(field, low) == above
    if refused(field, -BEYOND):
        assert refused(field, low - step)
    if refused(field, BEYOND) and field.fills.attribute not in WIDER:
        assert refused(field, high + step)


@pytest.mark.parametrize("place", FILLING)
def test_a_dataclass_has_the_default_of_the_field_that_fills_it(place):
    """Where it has one; a blank cell that stands for a value of the plant has none."""
    field = FILLING[place]
    assert field.fills is not None
    own = {f.name: f.default for f in fields(field.fills.dataclass)}[field.fills.attribute]
    if own is MISSING or own is None or field.default is None or field.default is REQUIRED:
        return
    expected = field.default * field.fills.factor if isinstance(field.default, float) else field.default
    assert own == expected


def test_a_name_of_an_attribute_has_one_range():
    """However many tables have it: what may be typed does not depend on where."""
    ranges: dict[tuple[str, str], set[tuple[float, float]]] = {}
    for field in FILLING.values():
        assert field.fills is not None
        if (
            isinstance(field.kind, Number | Whole)
            and field.name not in NONE_AT_ZERO
            and refused(field, BEYOND)
        ):
            ends = field.kind.low * field.fills.factor, field.kind.high * field.fills.factor
            ranges.setdefault((field.fills.owner, field.fills.attribute), set()).add(ends)
    assert {key: ends for key, ends in ranges.items() if len(ends) > 1} == {}


PACKAGE = Path(xlcalc.__file__).parent


def test_no_field_is_declared_outside_the_schema():
    """Arguments of worksheet functions are the only other inputs; they stand in the functions."""
    found = []
    for path in PACKAGE.rglob("*.py"):
        where = path.relative_to(PACKAGE).as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        imported = {
            alias.asname or alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("xlcalc.schema.")
            for alias in node.names
        }
        made = (
            {"Field"} if where.startswith("worksheet/functions/") else {"Number", "Whole", "Choice", "Field"}
        )
        if where.startswith("schema/"):
            continue
        found += [
            f"{where}:{node.lineno} {node.func.id}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            if node.func.id in made & imported
        ]
    assert found == []


def test_a_range_of_the_quantities_is_written_once():
    """What several fields share stands in `quantities`, and so do ranges of arguments that are equal."""
    shared = PACKAGE / "schema/inputs/quantities.py"
    named = {ast.unparse(kind) for kind in made_in(shared)} - {
        "Number(0, 20, '%')"
    }  # losses; others by chance
    found = {
        f"{path.relative_to(PACKAGE).as_posix()}:{kind.lineno} {ast.unparse(kind)}"
        for path in PACKAGE.rglob("*.py")
        if path != shared
        for kind in made_in(path)
        if ast.unparse(kind) in named
    }
    assert found == set()


def made_in(path: Path) -> Iterator[ast.Call]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and ast.unparse(node.func) in ("Number", "Whole"):
            yield node
