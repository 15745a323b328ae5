"""A computed workbook as the source of a submittal: what kind it is, its state, and what must be refused."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing.marks import Drawing
from xlcalc.drawing.single_line import single_line
from xlcalc.files.books import names
from xlcalc.files.books.names import area, bounds
from xlcalc.files.books.plant_names import VIEW_CASE
from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.typedresults import typed_over
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.schema.values import Grid
from xlcalc.standards.verdict import NO_VERDICT, PASS, printed
from xlcalc.studies.duty.schedule import of_each_kind
from xlcalc.studies.kinds import DriveKind, kinds_of
from xlcalc.workbooks.outcome import Judged, Outcome, read_outcome
from xlcalc.workbooks.pages.submittal_digest import BookRecord, read_twice, record_of
from xlcalc.workbooks.pages.submittal_plant import cover_values, plant_in
from xlcalc.workbooks.pages.submittal_proof import listed, prove
from xlcalc.workbooks.plant.case_outcomes import outcome_of_all_cases
from xlcalc.worksheet.functions.plant.magnetics import magnetics_rows

STAMP: Final = re.compile(r"xlcalc (?P<version>\S+) (?P<date>\d{4}-\d\d-\d\d)T(?P<time>\d\d:\d\d:\d\d)Z")
FIGURES: Final = (("TDD", "pcc_tdd", "pcc_limit_tdd"), ("voltage THD", "pcc_thdv", "pcc_limit_thdv"))
FINDING: Final = "pcc_finding"
BINDING: Final = "pcc_worst"
REMARKS: Final = "pcc_remarks"
CHOICE: Final = "choice_verdict"
AS_STORED: Final = "the equipment was judged in the case in view only, because no other case was calculated"
NOT_PRINTED: Final = (
    "Function reference",
    "Arrays",
    "Checks",
    "Case settings",
    "Element spectra",
    "Supply settings",
    "Workings",
)


@dataclass(frozen=True)
class CalculationStamp:
    """Version and time (UTC) of the last calculation, from the stamp of the file."""

    version: str
    date: str
    time: str

    @property
    def moment(self) -> datetime:
        """The same time where this program runs."""
        utc = datetime.fromisoformat(f"{self.date}T{self.time}+00:00")
        return datetime.fromtimestamp(utc.timestamp())


@dataclass(frozen=True)
class Source:
    """A computed workbook.

    Parameters
    ----------
    name : str
        Name of the file.
    book : Workbook
        Its values, without formulas; becomes the submittal.
    record : BookRecord
        Every input, formula and result.
    calculation : CalculationStamp
    summary : str
        What it found, in one line: the worst of everything that was judged.
    judged : tuple of Judged
        All that was judged, by what and case.
    remarks : str
        What qualifies the verdict: an estimated demand current, an assumed supply, example values.
    study : str
        Title of the study, blank where it has none.
    cover : mapping
        What the cover says of the document, by `COVER_FIELDS`.
    drawing : Drawing or None
        The single-line diagram.
    kinds : tuple of DriveKind
        Drives by kind, each with waveform and spectrum; empty for a choice, whose drives are to be changed.
    magnetics : list of list
        Rows of `HD_MAGNETICS` for one drive of every kind; empty for a choice.
    hertz : float
        Frequency of the plant.
    proven : int or None
        Results that were calculated again and agree; None where that was not asked for.
    """

    name: str
    book: Workbook
    record: BookRecord
    calculation: CalculationStamp
    summary: str
    judged: tuple[Judged, ...]
    remarks: str
    study: str
    proven: int | None
    cover: Mapping[str, str] = field(default_factory=dict)
    drawing: Drawing | None = None
    kinds: tuple[DriveKind, ...] = ()
    magnetics: Grid = field(default_factory=list)
    hertz: float = 0.0


def read_source(path: Path, proof: bool = True) -> Source:
    """Read a computed workbook.

    Parameters
    ----------
    path : Path
    proof : bool
        Calculate a copy and refuse results that do not follow from the inputs.

    Raises
    ------
    InputError
        It is of no known kind.
    WorkbookFileError
        It is not a valid workbook, was not computed by xlcalc or not since another program saved it, a value
        was typed over a formula, a cell to be printed has no value or an error, or a result does not follow
        from the inputs; cells are named.
    """
    package = WorkbookPackage.open(path)
    calculation = _calculation(path, package.stamp)
    formulas, values = read_twice(package)
    printed = {sheet.title for sheet in printed_sheets(values)}
    _refuse_typed(path, package)
    _refuse(path, package, values, printed)
    record = record_of(package, formulas, values)
    summary, judged = _summary(path, values, calculation.moment if proof else None)
    proven = prove(path, record, calculation.moment) if proof else None
    drawn = plant_in(values, path.name)
    chosen = CHOICE in values.defined_names
    return Source(
        name=path.name,
        book=values,
        record=record,
        calculation=calculation,
        summary=summary,
        judged=judged,
        remarks=_text(values, REMARKS, path.name),
        study=_text(values, names.TITLE, path.name),
        proven=proven,
        cover=cover_values(values, path.name),
        drawing=None if drawn is None else single_line(drawn.plant, drawn.pccs),
        kinds=() if drawn is None or chosen else kinds_of(drawn.plant),
        magnetics=[] if drawn is None or chosen else magnetics_rows(of_each_kind(drawn.plant)),
        hertz=0.0 if drawn is None else drawn.plant.network.hz,
    )


def printed_sheets(book: Workbook) -> list[Worksheet]:
    """The sheets that a submittal shows: those that are visible and not for the functions alone."""
    return [s for s in book.worksheets if s.sheet_state == "visible" and s.title not in NOT_PRINTED]


def print_cells(sheet: Worksheet) -> str:
    """Its print area, or all that is in use."""
    printed = sheet.print_area
    text = printed[0] if isinstance(printed, list) else printed
    cells = str(text).rpartition("!")[2].replace("$", "").split(",")[0] if text else _used(sheet)
    return cells if ":" in cells else f"{cells}:{cells}"


def _used(sheet: Worksheet) -> str:
    """From the first cell to the last row and column that show something."""
    filled = [
        (cell.row, cell.column) for row in sheet.iter_rows() for cell in row if cell.value not in (None, "")
    ]
    rows, columns = zip(*filled, strict=True) if filled else ((1,), (1,))
    return area(1, 1, max(rows), max(columns))


def _calculation(path: Path, stamp: str | None) -> CalculationStamp:
    found = STAMP.fullmatch(stamp or "")
    if found is None:
        found_stamp = "has no stamp of a calculation" if stamp is None else f"is stamped {stamp!r}"
        raise WorkbookFileError(
            path,
            f"it {found_stamp}; run xlcalc recalc {path.name} (a spreadsheet program that saves the "
            "workbook drops the stamp)",
        )
    return CalculationStamp(found["version"], found["date"], found["time"])


def _refuse_typed(path: Path, package: WorkbookPackage) -> None:
    """Name the cells in which a value was typed over a formula."""
    faults = typed_over(read_book(package, plain=True))
    if faults:
        raise WorkbookFileError(
            path,
            f"{faults[0].sentence}; a submittal prints computed results alone. Typed over formulas: "
            f"{listed([fault.place for fault in faults])}",
        )


def _refuse(path: Path, package: WorkbookPackage, book: Workbook, printed: set[str]) -> None:
    """Name the cells to be printed that hold no value or an error."""
    blank: list[str] = []
    wrong: list[str] = []
    for part in package.sheets:
        if part.name not in printed:
            continue
        sheet = book[part.name]
        left, top, right, bottom = bounds(print_cells(sheet))
        for cell in part.formulas:
            inside = top <= cell.row <= bottom and left <= cell.col <= right
            if not inside or sheet.row_dimensions[cell.row].hidden:
                continue
            if cell.text is None:
                blank.append(f"{part.name}!{cell.name}")
            elif cell.type == "e":
                wrong.append(f"{part.name}!{cell.name} {cell.text}")
    for what, cells in (("without a result", blank), ("errors", wrong)):
        if cells:
            raise WorkbookFileError(
                path,
                f"cells to be printed are {what}: {listed(cells)}; run xlcalc recalc --reasons {path.name}, "
                "which tells why",
            )


def _summary(path: Path, book: Workbook, moment: datetime | None) -> tuple[str, tuple[Judged, ...]]:
    """What the workbook found in one line, and all that it judged; without a moment nothing is calculated."""
    if "residual_basis" in book.defined_names and "Comparison" in book.sheetnames:
        return str(book["Comparison"]["A4"].value), ()
    if CHOICE in book.defined_names or {"Choice", "Verdicts"} <= set(book.sheetnames):
        return f"{book['Choice']['A4'].value}: {book['Choice']['B4'].value}", ()
    outcome = read_outcome(book, path.name)
    if VIEW_CASE not in book.defined_names:
        return _sentence(book, outcome, path.name), outcome.items
    if moment is not None:
        outcome = outcome_of_all_cases(path, book, moment)
    elif outcome.word == PASS:
        outcome = replace(outcome, stated=NO_VERDICT, stated_reason=AS_STORED)
    return outcome.sentence, outcome.items


def _sentence(book: Workbook, outcome: Outcome, file: str) -> str:
    """The outcome of a study of one PCC, with its figures."""
    if (finding := _text(book, FINDING, file)) and outcome.word != NO_VERDICT:
        return f"{outcome.word}: {finding}" if not outcome.items else f"{outcome.sentence}: {finding}"
    figures = [
        "{} {} % (limit {} %)".format(title, *_pair(_named(book, value, file), _named(book, limit, file)))
        for title, value, limit in FIGURES
        if value in book.defined_names
    ]
    if BINDING in book.defined_names:
        figures.append(f"binding: {_named(book, BINDING, file)}")
    if not figures or outcome.word == NO_VERDICT:
        return outcome.sentence
    return f"{outcome.sentence}: {', '.join(figures)}"


def _named(book: Workbook, name: str, file: str) -> Any:
    sheet, (column, row, _, _) = names.place(book, name, file)
    return sheet.cell(row, column).value


def _text(book: Workbook, name: str, file: str) -> str:
    return str(_named(book, name, file) or "") if name in book.defined_names else ""


def _pair(value: Any, limit: Any) -> tuple[str, str]:
    if isinstance(value, int | float) and isinstance(limit, int | float):
        return printed(value, limit, _number)
    return _number(value), _number(limit)


def _number(value: Any) -> str:
    return f"{value:.2f}" if isinstance(value, int | float) else str(value)
