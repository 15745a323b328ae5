"""A recalculation held against another program, cell by cell."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.recalc.cellnames import Position, cell_name
from xlcalc.recalc.evaluation.calculation import Calculation
from xlcalc.recalc.evaluation.content import ArrayMark
from xlcalc.recalc.evaluation.dependents import CellSet
from xlcalc.recalc.evaluation.evaluated import Evaluated, positions
from xlcalc.recalc.evaluation.feeding.prepared import Prepared
from xlcalc.recalc.protocol import Witness
from xlcalc.recalc.reader import stored_values
from xlcalc.recalc.verification.agreement import explained, same
from xlcalc.recalc.verification.calls import function_names, with_constants
from xlcalc.recalc.verification.copying import Computed, Left, Written, copied_sheet
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.schema.values import CellError, ErrorCode, Scalar

OURS = "calls of our functions that cannot be written as a constant"
VOLATILE = "what changes with time or by chance"
_NAME = ErrorCode.NAME


@dataclass(frozen=True)
class CellDifference:
    """A cell for which two programs compute different values.

    Parameters
    ----------
    sheet, cell : str
    ours, theirs : str
        The values as text.
    follows : bool
        It uses another cell that differs.
    """

    sheet: str
    cell: str
    ours: str
    theirs: str
    follows: bool


@dataclass(frozen=True)
class Verification:
    """Results of another program for a recalculation.

    Parameters
    ----------
    program : str
        With its version.
    agreeing : int
        Formulas with the same value.
    differing : tuple of CellDifference
        One for each formula that differs; those are refused.
    explained : mapping of reason to int
        Formulas that differ for a known reason.
    not_compared : mapping of reason to int
        Formulas that the other program was given as constants.
    """

    program: str
    agreeing: int
    differing: tuple[CellDifference, ...] = ()
    explained: Mapping[str, int] = field(default_factory=dict)
    not_compared: Mapping[str, int] = field(default_factory=dict)

    def lines(self) -> list[str]:
        """What was found, for a person."""
        lines = [
            f"{self.program}: {self.agreeing:,} formulas agree, {len(self.differing):,} differ and keep "
            "their old values"
        ]
        lines += [f"  {count:,} differ only in {reason}" for reason, count in self.explained.items()]
        lines += [f"  {count:,} not compared: {reason}" for reason, count in self.not_compared.items()]
        return lines


class Verifier:
    """Compares one outcome with what a witness computes from the same file.

    Parameters
    ----------
    package : WorkbookPackage
    calculation : Calculation
        Evaluated, with the calls of our functions recorded.
    outcome : Evaluated
        Its values; formulas that differ are refused in it.
    witness : Witness
    ours : collection of str
        Names of our functions.
    """

    def __init__(
        self,
        package: WorkbookPackage,
        calculation: Calculation,
        outcome: Evaluated,
        witness: Witness,
        ours: Collection[str],
    ) -> None:
        self._package, self._calculation, self._outcome = package, calculation, outcome
        self._witness, self._ours = witness, frozenset(ours)
        self._names: dict[str, frozenset[str] | None] = {}
        self._constant: dict[int, str] = {}

    def run(self) -> Verification:
        """Compute the copy, compare, and refuse what differs."""
        items = [item for item in self._calculation.prepared if item.identity not in self._outcome.refused]
        formulas = {item.identity: self._formula(item) for item in items}
        with tempfile.TemporaryDirectory() as scratch:
            theirs = self._computed(Path(scratch), items, formulas)
            unknown = [item for item in items if self._unknown_there(item, formulas, theirs)]
            if unknown:
                for item in unknown:
                    self._constant[item.identity] = f"a function that {self._witness.name} lacks"
                    formulas[item.identity] = None
                theirs = self._computed(Path(scratch), items, formulas)
        return self._compared(items, formulas, theirs)

    def _formula(self, item: Prepared) -> str | None:
        """The formula as the witness gets it; None where it gets the value."""
        text, compiled = item.source.text, item.compiled
        if compiled.volatile:
            self._constant[item.identity] = VOLATILE
            return None
        if compiled.own_calls:
            given = self._calculation.calls.given.get(item.identity, {})
            changed = with_constants(text, self._ours, [call.name for call in compiled.own_calls], given)
            if changed is None:
                self._constant[item.identity] = OURS
                return None
            text = changed
        lacking = sorted((self._functions(text) or frozenset()) - self._witness.functions)
        if lacking:
            self._constant[item.identity] = f"{lacking[0]} is not in {self._witness.name}"
            return None
        return text

    def _functions(self, text: str) -> frozenset[str] | None:
        if text not in self._names:
            self._names[text] = function_names(text) if "(" in text else frozenset()
        return self._names[text]

    def _computed(
        self, folder: Path, items: list[Prepared], formulas: Mapping[int, str | None]
    ) -> dict[str, dict[Position, Scalar]]:
        cells: dict[str, dict[Position, Written]] = {sheet.name: {} for sheet in self._package.sheets}
        for item in self._calculation.prepared:
            written = cells[item.sheet]
            if item.identity in self._outcome.refused:
                written[item.source.row, item.source.col] = Left.AS_IT_WAS
            else:
                written.update(self._written(item, formulas[item.identity]))
        sheets = {
            sheet.name: copied_sheet(sheet.data, cells[sheet.name])
            for sheet in self._package.sheets
            if sheet.entry.kind == "worksheet"
        }
        source, target = folder / "workbook.xlsx", folder / "computed.xlsx"
        with source.open("wb") as file:
            file.writelines(self._package.with_sheets(sheets))
        self._witness.compute(source, target)
        computed = list(stored_values(WorkbookPackage.open(target)))
        found = dict(computed)
        if not sheets.keys() <= found.keys():
            if len(computed) != len(sheets):
                sentence = f"{self._witness.name} gives back other sheets than the workbook has"
                raise InputError(self._witness.name, None, "", message=sentence)
            found = {name: values for name, (_, values) in zip(sheets, computed, strict=True)}
        return found  # type: ignore[return-value]

    def _written(self, item: Prepared, formula: str | None) -> Iterator[tuple[Position, Written]]:
        area = self._outcome.spills.get(item.identity, item.area)
        first = (area.first_row, area.first_col)
        values = self._outcome.values[item.sheet]
        if area != item.area:
            yield from ((position, None) for position in positions(item.area))
        for position in positions(area):
            if formula is None:
                yield position, values.get(position)
            elif position != first:
                yield position, None
            else:
                array = item.source.mark is not ArrayMark.PLAIN
                yield position, Computed(formula, area if array else None)

    def _unknown_there(
        self,
        item: Prepared,
        formulas: Mapping[int, str | None],
        theirs: Mapping[str, Mapping[Position, Scalar]],
    ) -> bool:
        if formulas[item.identity] is None:
            return False
        place = (item.source.row, item.source.col)
        mine, other = self._outcome.values[item.sheet].get(place), theirs[item.sheet].get(place)
        return isinstance(other, CellError) and other.code is _NAME and not same(mine, other)

    def _compared(
        self,
        items: list[Prepared],
        formulas: Mapping[int, str | None],
        theirs: Mapping[str, Mapping[Position, Scalar]],
    ) -> Verification:
        reasons: Counter[str] = Counter()
        agreeing = 0
        differing: dict[int, tuple[Prepared, Position, Scalar, Scalar]] = {}
        for item in items:
            if formulas[item.identity] is None:
                continue
            found = self._first_difference(item, formulas[item.identity] or "", theirs[item.sheet])
            if isinstance(found, str):
                reasons[found] += 1
            elif found is None:
                agreeing += 1
            else:
                differing[item.identity] = (item, *found)
        return Verification(
            self._witness.name,
            agreeing,
            self._refused(differing),
            dict(reasons),
            dict(Counter(self._constant.values())),
        )

    def _first_difference(
        self, item: Prepared, formula: str, theirs: Mapping[Position, Scalar]
    ) -> tuple[Position, Scalar, Scalar] | str | None:
        """A cell that differs with both values, the known reason of a difference, or None."""
        values = self._outcome.values[item.sheet]
        known = ""
        for position in positions(self._outcome.spills.get(item.identity, item.area)):
            mine, other = values.get(position), theirs.get(position)
            if same(mine, other):
                continue
            if isinstance(mine, float) and isinstance(other, float) and self._noise(item, mine, other):
                continue
            known = explained(mine, other, self._functions(formula) or frozenset())
            if not known:
                return position, mine, other
        return known or None

    def _noise(self, item: Prepared, mine: float, other: float) -> bool:
        return same(mine, other, scale=self._calculation.largest(item, self._outcome))

    def _refused(
        self, differing: Mapping[int, tuple[Prepared, Position, Scalar, Scalar]]
    ) -> tuple[CellDifference, ...]:
        if not differing:
            return ()
        nodes = self._calculation.nodes()
        wrong = CellSet(
            (item.sheet, *position) for item, *_ in differing.values() for position in positions(item.area)
        )
        listed, reasons = [], {}
        for identity, (item, position, mine, other) in differing.items():
            ours, theirs = _shown(mine), _shown(other)
            follows = any(wrong.first_inside(*area) for area in nodes[identity].areas)
            listed.append(CellDifference(item.sheet, cell_name(*position), ours, theirs, follows))
            if not follows:
                at = "" if position == (item.source.row, item.source.col) else f" in {cell_name(*position)}"
                reasons[identity] = f"{self._witness.name} computes {theirs}{at}, not {ours}"
        self._calculation.refuse(self._outcome, reasons)
        return tuple(listed)


def _shown(value: Scalar) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, CellError):
        return value.code.value
    if isinstance(value, bool):
        return str(value).upper()
    return f"{value:.15g}" if isinstance(value, float) else f'"{value}"'
