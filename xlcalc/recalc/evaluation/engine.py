"""The formula engine behind one small interface; no other module imports the library."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import formualizer

from xlcalc.recalc.evaluation.feeding.feed import Formula, SheetFeed, package_bytes
from xlcalc.schema.values import CellError, ErrorCode

_CODES = {
    "Div": ErrorCode.DIV0,
    "Na": ErrorCode.NA,
    "Name": ErrorCode.NAME,
    "Null": ErrorCode.NULL,
    "Num": ErrorCode.NUM,
    "Ref": ErrorCode.REF,
    "Value": ErrorCode.VALUE,
}
_KINDS = {code: kind for kind, code in _CODES.items()}
_CANCELLED: Any = {"type": "Error", "kind": "Cancelled"}
_RANDOM_SEED = 20_240_229
_FIRST_SHEET = "Sheet1"
_JOIN_SECONDS = 0.05

Raw = Any
"""What passes between engine and callback: None, float or int, str, bool, error dict, list of row lists."""

BLANK: Raw = formualizer.LiteralValue.empty()
"""What a callback returns for a blank cell; None would become zero."""


class EngineError(RuntimeError):
    """The engine could not load or evaluate the workbook; the message gives the reason."""


@dataclass(frozen=True)
class Unfit:
    """A result for which a file has no plain value: circular, cancelled, not implemented, does not fit."""

    kind: str


EngineValue = float | str | bool | CellError | Unfit | None


@dataclass(frozen=True, slots=True)
class Token:
    """One token of a formula; `kind` is operand, function, paren, array, separator or an operator."""

    text: str
    kind: str
    part: str


_TOKEN_KINDS = {
    "Operand": "operand",
    "Func": "function",
    "Paren": "paren",
    "Array": "array",
    "Sep": "separator",
    "OpPrefix": "prefix",
    "OpInfix": "infix",
    "OpPostfix": "postfix",
    "Whitespace": "space",
    "Literal": "operand",
}


def tokenize(formula: str) -> list[Token]:
    """Tokens of a formula that starts with an equals sign; raises `EngineError` on text that has none."""
    try:
        return [
            Token(token.value, _TOKEN_KINDS[str(token.token_type)], str(token.subtype).lower())
            for token in formualizer.tokenize(formula).tokens()
        ]
    except Exception as problem:
        raise EngineError(str(problem)) from None


def syntax_problem(formula: str) -> str | None:
    """Why the engine cannot parse the formula, or None where it can."""
    try:
        formualizer.parse(formula)
    except Exception as problem:
        return str(problem)
    return None


def constant_array(text: str) -> Raw:
    """What a callback gets for an array constant, such as ``{1,2;3,4}``; raises `EngineError` for another."""
    given: list[Raw] = []
    probe = formualizer.Workbook()
    probe.register_function("_XLC_GIVEN", given.append, min_args=1, max_args=1)
    probe.add_sheet("Given")
    probe.set_formula("Given", 1, 1, f"=_XLC_GIVEN({text})")
    probe.evaluate_all()
    if not given:
        raise EngineError(f"the array constant {text} cannot be read")
    return given[0]


def error_to_raw(error: CellError) -> dict[str, str]:
    return {"type": "Error", "kind": _KINDS[error.code]}


def error_from_raw(raw: Raw) -> CellError | None:
    """The error value behind what the engine passed, None for every other value."""
    if isinstance(raw, dict):
        return CellError(_CODES.get(raw.get("kind", ""), ErrorCode.VALUE))
    return None


def plain_content(raw: Raw) -> float | str | bool | CellError:
    """What a callback received, as the content of a cell."""
    error = error_from_raw(raw)
    if error is not None:
        return error
    return raw if isinstance(raw, bool | str) else float(raw)


class _Switch:
    """Whether an evaluation has been cancelled."""

    __slots__ = ("cancelled",)

    def __init__(self) -> None:
        self.cancelled = False


def _guarded(callback: Callable[..., Raw], switch: _Switch) -> Callable[..., Raw]:
    def call(*arguments: Raw) -> Raw:
        return _CANCELLED if switch.cancelled else callback(*arguments)

    return call


class Engine:
    """One calculation of one workbook: register functions, load, evaluate once, read.

    The native book holds the callbacks, and the garbage collector cannot look into it: a callback that
    referred to its engine would keep both, and every value of the workbook, until the process ends.
    """

    def __init__(self, *, date_1904: bool = False) -> None:
        self._date_1904 = date_1904
        self._functions: list[tuple[str, Callable[..., Raw], bool, bool]] = []
        self._clock: datetime | None = None
        self._switch = _Switch()
        self._book: Any = None

    def register(
        self, name: str, callback: Callable[..., Raw], *, volatile: bool = False, override: bool = False
    ) -> None:
        """Offer a function to the formulas; `override` replaces one that the engine has itself.

        `callback` must not refer to this engine.
        """
        self._functions.append((name, _guarded(callback, self._switch), volatile, override))

    @staticmethod
    def faulty(sheets: Sequence[SheetFeed]) -> list[tuple[str, int, int, str]]:
        """Sheet, row, column and problem of the formulas that `load` cannot take, found one by one."""
        found: list[tuple[str, int, int, str]] = []
        book = formualizer.Workbook(mode=formualizer.WorkbookMode.Ephemeral)
        for sheet in sheets:
            book.add_sheet(sheet.name)
        for sheet in sheets:
            for row, column, content in sheet.cells:
                if isinstance(content, Formula):
                    try:
                        book.set_formula(sheet.name, row, column, "=" + content.text)
                    except Exception as problem:
                        found.append((sheet.name, row, column, str(problem)))
        return found

    def set_clock(self, local_time: datetime) -> None:
        """Fix what NOW and TODAY give."""
        self._clock = local_time

    def load(self, sheets: Sequence[SheetFeed]) -> None:
        """Take the cells of all sheets; every formula has been checked with `syntax_problem` before."""
        settings = formualizer.EvaluationConfig()
        settings.enable_parallel = False
        settings.workbook_seed = _RANDOM_SEED
        if self._date_1904:
            settings.date_system = "1904"
        config = formualizer.WorkbookConfig(mode=formualizer.WorkbookMode.Ephemeral, eval_config=settings)
        try:
            self._book = formualizer.Workbook.from_bytes(
                package_bytes([_as_known(sheet) for sheet in sheets], self._date_1904), config=config
            )
            self._book.set_temporal_egress("serial")
            for name, callback, volatile, override in self._functions:
                self._book.register_function(
                    name,
                    callback,
                    min_args=0,
                    max_args=None,
                    volatile=volatile,
                    allow_override_builtin=override,
                )
        except Exception as problem:
            raise EngineError(str(problem)) from None
        clock = self._clock or datetime.now()
        self._book.set_deterministic_clock(clock.replace(tzinfo=UTC), "utc")

    def evaluate(self, on_tick: Callable[[], None] | None = None) -> None:
        """Evaluate everything in a worker thread, so that an interrupt is seen at once and cancels the work.

        `on_tick` is called in the calling thread about twenty times a second; what it raises stops the work.
        """
        failure: list[BaseException] = []

        def work() -> None:
            try:
                self._book.evaluate_all()
            except BaseException as problem:
                failure.append(problem)

        worker = threading.Thread(target=work, name="formula engine")
        worker.start()
        try:
            while worker.is_alive():
                worker.join(_JOIN_SECONDS)
                if on_tick is not None:
                    on_tick()
        except BaseException:
            while worker.is_alive():
                self.cancel()
                worker.join(_JOIN_SECONDS)
            raise
        if failure:
            raise EngineError(str(failure[0]))

    def evaluate_here(self) -> None:
        """Evaluate everything in the calling thread; for small work that nobody interrupts."""
        try:
            self._book.evaluate_all()
        except Exception as problem:
            raise EngineError(str(problem)) from None

    def renew(self, cells: Sequence[tuple[str, int, int, str]]) -> None:
        """Put formulas (sheet, row, column, text) in their place again: they are evaluated once more."""
        for sheet, row, column, text in cells:
            try:
                self._book.set_formula(_known_name(sheet), row, column, "=" + text)
            except Exception as problem:
                raise EngineError(str(problem)) from None

    def cancel(self) -> None:
        """Stop the evaluation that is running; safe from any thread, none of its values may be used."""
        self._switch.cancelled = True
        with contextlib.suppress(Exception):
            self._book.cancel()

    def rows(
        self, sheet: str, first_row: int, first_column: int, last_row: int, last_column: int
    ) -> Iterator[list[EngineValue]]:
        """Values of an area, row by row."""
        sheet = _known_name(sheet)
        area = formualizer.RangeAddress(sheet, first_row, first_column, last_row, last_column)
        for row in self._book.sheet(sheet).get_values(area):
            yield [_plain(value) if type(value) not in _PLAIN_TYPES else value for value in row]

    def spill_size(self, address: str) -> tuple[int, int] | None:
        """Rows and columns of the array that starts at a sheet-qualified address, if one does."""
        role = self._book.inspect_cell(address, include_values=False).cell.spill
        if role is None or role.extent is None:
            return None
        return _extent_size(role.extent)


def _known_name(name: str) -> str:
    """The name under which the engine keeps a sheet: it has one called Sheet1 before it reads any."""
    return _FIRST_SHEET if name.casefold() == _FIRST_SHEET.casefold() else name


def _as_known(sheet: SheetFeed) -> SheetFeed:
    return replace(sheet, name=_known_name(sheet.name))


_PLAIN_TYPES = frozenset({str, bool, type(None)})


def _plain(value: Raw) -> EngineValue:
    if isinstance(value, float):
        return value if value - value == 0.0 else Unfit("not a finite number")
    if isinstance(value, dict):
        kind = value.get("kind", "")
        return CellError(_CODES[kind]) if kind in _CODES else Unfit(kind)
    if isinstance(value, int):
        return float(value)
    return Unfit(type(value).__name__)


def _extent_size(extent: str) -> tuple[int, int]:
    first, _, last = extent.rpartition("!")[2].replace("$", "").partition(":")
    start = formualizer.CellRef.from_string(first)
    end = formualizer.CellRef.from_string(last or first)
    return end.row - start.row + 1, end.col - start.col + 1
