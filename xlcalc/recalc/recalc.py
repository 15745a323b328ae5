"""Recalculates a whole workbook file and writes the values back, everything else untouched."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from functools import partial
from itertools import chain
from pathlib import Path

import xlcalc
from xlcalc.core.progress import Progress, collector_paused
from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.cellnames import CellRange, Position, cell_name
from xlcalc.recalc.delivery.lasting import lasting
from xlcalc.recalc.evaluation.calculation import Calculation
from xlcalc.recalc.evaluation.content import BookContent, SheetContent
from xlcalc.recalc.evaluation.dependents import Cell
from xlcalc.recalc.evaluation.engine import EngineError
from xlcalc.recalc.evaluation.evaluated import Evaluated, positions
from xlcalc.recalc.evaluation.feeding.prepared import Prepared
from xlcalc.recalc.inputs import FAULT, MERGED, Fault, merged_inputs
from xlcalc.recalc.leftout import left_out
from xlcalc.recalc.protocol import EvaluatedFunction, Witness
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.reasons import Reasons
from xlcalc.recalc.report import REFUSED, Issue, RecalculationReport, WrongInput
from xlcalc.recalc.typedresults import TYPED_OVER, typed_over
from xlcalc.recalc.verdicts import verdict_cells
from xlcalc.recalc.verification.verify import Verifier
from xlcalc.recalc.withheld import state_reason, withhold
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.recalc.xlsx.writing.patch import SheetPatch
from xlcalc.recalc.xlsx.writing.reasons_sheet import ReasonRow
from xlcalc.schema.values import CellError

__all__ = ["RecalculationReport", "recalculate"]


@collector_paused()
def recalculate(
    source: Path,
    target: Path | None,
    functions: Mapping[str, EvaluatedFunction],
    *,
    progress: Progress | None = None,
    reasons_sheet: bool = False,
    stamp: str | None = None,
    now: datetime | None = None,
    witness: Witness | None = None,
    constants: bool = False,
) -> RecalculationReport:
    """Evaluate every formula of a workbook and write its values.

    Parameters
    ----------
    source : Path
        An .xlsx or .xlsm file.
    target : Path or None
        The file to write; None writes in place. Either way the file appears complete or not at all.
    functions : mapping of name to EvaluatedFunction
        Offered to the formulas under their names.
    progress : callable, optional
        Called with the calls of `functions` done and expected; what it raises stops the run.
    reasons_sheet : bool
        Also write the issues into a sheet of the target.
    stamp : str, optional
        Short ASCII text kept with the file; by default the version of the package and the time.
    now : datetime, optional
        What NOW and TODAY give; by default the local time. RAND gives the same numbers in every run.
    witness : Witness, optional
        Another program that computes a copy; formulas for which it shows another value are refused.
    constants : bool
        Write a copy with values in place of the formulas that call `functions`.

    Returns
    -------
    RecalculationReport
        A formula that cannot be evaluated for certain keeps its value, as does everything that depends on it.

    Raises
    ------
    WorkbookFileError
        For a file that is not a valid workbook, or cannot be written.
    InputError
        The witness cannot compute the copy.
    """
    clock = _Stopwatch()
    package = WorkbookPackage.open(source, check_cells=False)
    with package.claim(target) as held:
        book = read_book(package, plain=True)
        if package.workbook.precision_as_displayed:
            raise WorkbookFileError(
                package.path, "it rounds values to what its cells show, which is not supported"
            )
        clock.lap("read")
        own_names = {name: text for (sheet, name), text in book.names.items() if not sheet}
        merged = merged_inputs(package, own_names)
        over = (*typed_over(book), *left_out(_typed_cells(book), own_names))
        calculation = Calculation(
            book,
            functions,
            now,
            {**_stated(MERGED, merged), **_stated(TYPED_OVER, over)},
            recording=witness is not None,
        )
        calculation.prepare()
        clock.lap("prepare")
        expected = calculation.expected_calls
        try:
            engine = calculation.evaluate(_ticker(calculation, expected, progress))
        except EngineError as problem:
            raise WorkbookFileError(package.path, f"the formulas cannot be evaluated: {problem}") from None
        clock.lap("evaluate")
        outcome = calculation.collect(engine)
        del engine
        verification = None
        if witness is not None:
            clock.lap("collect")
            verification = Verifier(package, calculation, outcome, witness, functions).run()
            clock.lap("verify")
        reasons, owners = _explain(book, calculation, outcome)
        found = _faults(calculation, outcome, (*merged, *over))
        withheld = withhold(package, calculation, outcome, faulty=bool(found))
        issues = tuple(_issues(book, calculation, outcome, reasons, owners))
        wrong = (*found, *_wrong_inputs(calculation, issues, reasons))
        why = wrong[0].sentence if wrong else _refusal(issues)
        if found or withheld:
            state_reason(calculation, outcome, why)
        fault = found[0].sentence if found else ""
        verdicts = verdict_cells(calculation, outcome, reasons, withheld=withheld, fault=fault, why=why)
        patches = _patches(calculation, outcome)
        changes = lasting(package, calculation, outcome, functions, constants=constants)
        clock.lap("collect")
        changed = held.save(
            patches,
            stamp=stamp or f"xlcalc {xlcalc.__version__} {datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}",
            reasons=[_row(issue) for issue in issues] if reasons_sheet else None,
            changes=changes,
        )
        clock.lap("write")
    calls = calculation.calls
    refused = sum(issue.refused for issue in issues)
    return RecalculationReport(
        target=target if target is not None else source,
        formulas=len(calculation.prepared),
        evaluated=len(calculation.prepared) - refused,
        changed=changed,
        refused=refused,
        errors=len(issues) - refused,
        issues=issues,
        wrong_inputs=wrong,
        verdicts=verdicts,
        without_answer=len(calls.instead),
        own_calls=calls.total,
        distinct_calls=calls.distinct,
        seconds=clock.laps,
        verification=verification,
        notes=tuple(changes.notes),
    )


def _typed_cells(book: BookContent) -> dict[str, Callable[[], dict[Position, object]]]:
    """What is typed on each sheet, by row and column."""

    def cells(sheet: SheetContent) -> dict[Position, object]:
        return {(row, column): value for row, column, value in sheet.every_constant()}

    return {sheet.name: partial(cells, sheet) for sheet in book.sheets}


def _stated(formula: str, faults: Sequence[Fault]) -> dict[str, str]:
    """The formula of a cell for what no formula can see, and the text that it is to give."""
    return {formula: '"' + faults[0].sentence.replace('"', '""') + '"'} if faults else {}


def _refusal(issues: Iterable[Issue]) -> str:
    """The first refusal that does not follow from another one."""
    first = next((i for i in issues if i.refused and not i.reason.startswith("it depends on")), None)
    return f"{first.address} cannot be evaluated: {first.reason}" if first is not None else ""


def _faults(calculation: Calculation, outcome: Evaluated, stated: Sequence[Fault]) -> tuple[WrongInput, ...]:
    """Merged cells among the inputs, values typed over formulas, and data where none is read."""
    found = [WrongInput(fault.place, fault.sentence, 0) for fault in stated]
    cell = calculation.named_cell(FAULT)
    if cell is not None:
        sheet, row, column = cell
        values = outcome.values.get(sheet, {})
        value = values.get((row, column), "")
        if isinstance(value, str) and value and all(value != fault.sentence for fault in stated):
            found.append(WrongInput(value.split(": ")[0], value, 0))
    return tuple(found)


class _Stopwatch:
    def __init__(self) -> None:
        self.laps: dict[str, float] = {}
        self._last = time.perf_counter()

    def lap(self, stage: str) -> None:
        now = time.perf_counter()
        self.laps[stage] = self.laps.get(stage, 0.0) + now - self._last
        self._last = now


def _ticker(calculation: Calculation, expected: int, progress: Progress | None) -> Callable[[], None] | None:
    if progress is None:
        return None

    def tick() -> None:
        progress(min(calculation.calls.total, expected), expected)

    return tick


def _patches(calculation: Calculation, outcome: Evaluated) -> dict[str, SheetPatch]:
    """New values by sheet."""
    spills: dict[str, dict[Position, CellRange]] = {}
    for identity, area in outcome.spills.items():
        spills.setdefault(calculation.prepared[identity].sheet, {})[area.first_row, area.first_col] = area
    return {sheet: SheetPatch(values, spills.get(sheet, {})) for sheet, values in outcome.values.items()}


def _issues(
    book: BookContent,
    calculation: Calculation,
    outcome: Evaluated,
    reasons: Reasons,
    owners: Mapping[Cell, int],
) -> Iterator[Issue]:
    """Refused cells and error values, sheet by sheet in the order of the cells."""
    found: dict[str, list[tuple[int, int, Issue]]] = {sheet.name: [] for sheet in book.sheets}
    for identity, reason in outcome.refused.items():
        item = calculation.prepared[identity]
        row, col = item.source.row, item.source.col
        found[item.sheet].append((row, col, _issue(item, row, col, REFUSED, reason)))
    for cell, identity in owners.items():
        sheet, row, col = cell
        error = reasons.error(cell)
        item = calculation.prepared[identity]
        cause = reasons.cause(cell)
        typed = cause.cell if cause.typed else ""
        issue = _issue(item, row, col, error.code.value, reasons.reason(cell), typed)
        found[sheet].append((row, col, issue))
    for listed in found.values():
        for _, _, issue in sorted(listed, key=lambda entry: entry[:2]):
            yield issue


def _explain(
    book: BookContent, calculation: Calculation, outcome: Evaluated
) -> tuple[Reasons, dict[Cell, int]]:
    errors: dict[Cell, CellError] = {}
    for sheet in book.sheets:
        for row, col, constant in calculation.error_constants(sheet):
            errors[sheet.name, row, col] = constant
    owners: dict[Cell, int] = {}
    padding: set[Cell] = set()
    shown = (calculation.prepared[identity] for listed in outcome.errors.values() for identity in listed)
    for item in chain(calculation.prepared.listed, shown):
        if item.identity in outcome.refused:
            continue
        area = outcome.spills.get(item.identity, item.area)
        for row, col in positions(area):
            value = outcome.values[item.sheet].get((row, col))
            if isinstance(value, CellError):
                cell = (item.sheet, row, col)
                errors[cell] = value
                owners[cell] = item.identity
                if calculation.is_padding(item, row, col):
                    padding.add(cell)
    nodes = calculation.nodes() if owners else {}
    calls, typed = calculation.calls, calculation.typed
    recorded = {
        identity: [*calls.reasons.get(identity, ()), *said] for identity, said in calls.instead.items()
    }

    def text_in(cell: Cell) -> str:
        value = typed.constant(cell)
        return value.strip() if isinstance(value, str) and not typed.is_formula(cell) else ""

    reasons = Reasons(errors, owners, nodes, {**calls.reasons, **recorded}, text_in)
    return reasons, {cell: identity for cell, identity in owners.items() if cell not in padding}


def _wrong_inputs(
    calculation: Calculation, issues: Iterable[Issue], reasons: Reasons
) -> tuple[WrongInput, ...]:
    """The input cells that errors and verdicts without an answer come from."""
    dependents = Counter(issue.typed for issue in issues if issue.typed)
    calls = calculation.calls
    causes: dict[str, str] = {}
    for listed in chain(calls.instead.values(), calls.reasons.values()):
        for error in listed:
            cause = reasons.cause_of(error)
            if cause.typed:
                causes.setdefault(cause.cell, cause.sentence)
    for cause in reasons.causes():
        if cause.typed:
            causes.setdefault(cause.cell, cause.sentence)
    used = [cell for cell in causes if dependents[cell]]
    used += [cell for cell in _refused_inputs(calculation, reasons) if not dependents[cell]]
    wrong = [WrongInput(cell, causes[cell], dependents[cell]) for cell in dict.fromkeys(used)]
    return tuple(sorted(wrong, key=lambda item: -item.dependents))


def _refused_inputs(calculation: Calculation, reasons: Reasons) -> Iterator[str]:
    """Input cells for which a function gave a text in place of an error."""
    for listed in calculation.calls.instead.values():
        for error in listed:
            cause = reasons.cause_of(error)
            if cause.typed:
                yield cause.cell


def _issue(item: Prepared, row: int, col: int, outcome: str, reason: str, typed: str = "") -> Issue:
    return Issue(item.sheet, cell_name(row, col), "=" + item.source.text, outcome, reason, typed)


def _row(issue: Issue) -> ReasonRow:
    return ReasonRow(issue.sheet, issue.cell, issue.formula, issue.outcome, issue.reason, issue.typed)
