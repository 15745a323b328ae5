"""What the engine calls: our functions behind a memo, and the internal checks; reasons kept by formula."""

from __future__ import annotations

import marshal
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from xlcalc.recalc.evaluation.calling.typed import TypedCells
from xlcalc.recalc.evaluation.calling.verdicts import Said, said
from xlcalc.recalc.evaluation.engine import BLANK, Engine, Raw, error_from_raw, error_to_raw
from xlcalc.recalc.evaluation.feeding.held import Held
from xlcalc.recalc.evaluation.internal import (
    CAUGHT,
    DO,
    EMPTY,
    FAILED,
    FIRST,
    FIT,
    HEAD,
    HOLD,
    KEEP,
    MARK,
    ONE,
    ONWARD,
    SEEN,
    TEXT,
)
from xlcalc.recalc.evaluation.library.arrays import COMPUTED, listed
from xlcalc.recalc.evaluation.library.catalogue import DEFAULTING, LIBRARY, VECTORS
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    number_text,
)
from xlcalc.recalc.evaluation.ordinary import (
    ANY_ERROR,
    KIND_OF_ERROR,
    NO_BLANK,
    NO_CRITERION,
    NO_ERROR,
)
from xlcalc.recalc.protocol import EvaluatedFunction
from xlcalc.recalc.xlsx.cachedvalues import MAX_TEXT
from xlcalc.schema.values import CellError, ErrorCode, Grid, Refused, Scalar, Value, all_numbers
from xlcalc.worksheet.no_verdict import FAIL, NO_VERDICT, PASS

_REFUSED: Raw = {"type": "Error", "kind": "NImpl"}
_NA: Raw = error_to_raw(CellError(ErrorCode.NA))
_NUM: Raw = error_to_raw(CellError(ErrorCode.NUM))
_DIV0: Raw = error_to_raw(CellError(ErrorCode.DIV0))

_MOST_RANGES = 64
"""Ranges kept as our functions take them; the tables of a plant are handed to some two hundred calls."""

Identity = int


@dataclass
class Calls:
    """What happened while the engine worked: counts, reasons of errors and refusals by formula number.

    `instead` holds the errors for which a function gave a text, such as NO VERDICT, `verdicts` the verdicts,
    `given` what the calls of ours in a formula gave, where that is recorded.
    """

    total: int = 0
    distinct: int = 0
    reasons: dict[Identity, list[CellError]] = field(default_factory=dict)
    instead: dict[Identity, list[CellError]] = field(default_factory=dict)
    verdicts: dict[Identity, Said] = field(default_factory=dict)
    refusals: dict[Identity, str] = field(default_factory=dict)
    sizes: dict[Identity, tuple[int, int]] = field(default_factory=dict)
    given: dict[Identity, dict[int, Raw]] = field(default_factory=dict)

    def judged(self, formula: Identity, verdict: Said) -> None:
        """Keep the worst of the verdicts that a formula asks for."""
        known = self.verdicts.get(formula)
        if known is None or verdict.word == FAIL or known.word == PASS:
            self.verdicts[formula] = verdict


class Callbacks:
    """Registers our functions and the internal ones with an engine.

    Parameters
    ----------
    functions : mapping of name to EvaluatedFunction
        Offered under their plain names; the engine hands each what tells the calling formula first.
    placed : mapping of name to callable
        Functions of addresses, which are handed the number of the formula first.
    held : Held
        Arrays for which the formulas hold a text.
    caller : callable
        Number of the formula for what it hands over as such.
    typed : TypedCells
        Finds the cell that a refusal is about.
    recording : bool
        Keep what each call of ours gave.
    """

    def __init__(
        self,
        functions: Mapping[str, EvaluatedFunction],
        placed: Mapping[str, Callable[..., Raw]],
        held: Held,
        caller: Callable[[float], Identity],
        typed: TypedCells,
        *,
        recording: bool = False,
    ) -> None:
        self.calls = Calls()
        self._recording = recording
        self._functions = functions
        self._placed = placed
        self._memo: dict[bytes, tuple[Raw, tuple[CellError, ...], Said | None]] = {}
        self._ranges: dict[bytes, Value] = {}
        self._held = held
        self._caller = caller
        self._typed = typed

    def register(self, engine: Engine, called: Iterable[str], ordinary: Iterable[str]) -> None:
        """Offer the internal functions, and ours and the ordinary ones of the library by their names."""
        for name in ordinary:
            placed = self._placed.get(name)
            call = self._computed(name, LIBRARY[name]) if placed is None else self._addressed(name, placed)
            if name in VECTORS:
                engine.register(DO + name + ONWARD, self._passed_on(call))
                call = _shown_as_rows(call)
            engine.register(DO + name, call)
        engine.register(KEEP, self._held.keep_cells)
        engine.register(HEAD, self._held.head)
        for name in called:
            function = self._functions[name]
            call = self._own(name, function)
            if function.shape is not None:
                engine.register(HOLD + name, call, volatile=function.volatile)
                call = self._let_go(call)
            engine.register(name, call, volatile=function.volatile)
        engine.register(FIRST, _first)
        engine.register(FAILED, _failed)
        engine.register(SEEN, _seen)
        engine.register(FIT, self._fitted)
        for name, check in (
            (ONE, self._one),
            (TEXT, self._text),
            (CAUGHT, self._caught),
        ):
            engine.register(name, check)

    def _own(self, name: str, function: EvaluatedFunction) -> Callable[..., Raw]:
        """A call of ours; an array stays here and a short text goes through the engine for it."""

        def call(identity: float, number: float, *arguments: Raw) -> Raw:
            self.calls.total += 1
            try:
                key = marshal.dumps((name, arguments), 2)
                known = None if function.volatile else self._memo.get(key)
                if known is None:
                    self.calls.distinct += 1
                    given = self._given(arguments)
                    result = function(given)
                    raw, errors = _encoded(result)
                    verdict = said(name, function, given, result, NO_VERDICT)
                    known = self._held.keep(raw) if isinstance(raw, list) else raw, errors, verdict
                    self._memo[key] = known
            except Exception as problem:
                reason = f"{name} failed: {type(problem).__name__}: {problem}"
                known = *_encoded(CellError(ErrorCode.VALUE, reason)), None
            raw, errors, verdict = known
            if verdict is not None:
                self.calls.judged(self._caller(identity), verdict)
            shown = self._noted(raw, errors, identity, int(number), arguments) if errors else raw
            if self._recording:
                self._record(self._caller(identity), int(number), self._held.let_go(shown))
            return shown

        return call

    def _record(self, formula: Identity, number: int, value: Raw) -> None:
        """Keep what a call gave; nothing can stand for one that gave different values."""
        given = self.calls.given.setdefault(formula, {})
        given[number] = value if given.get(number, value) == value else None

    def _computed(self, name: str, function: Callable[..., Raw]) -> Callable[..., Raw]:
        """A call of an ordinary function of the library; what is not certain is refused."""
        left_out = LEFT_OUT if name in DEFAULTING else None

        def call(identity: float, *arguments: Raw) -> Raw:
            given = [self._plain(item, left_out) if type(item) is str else item for item in arguments]
            return self._certain(name, identity, function, given)

        return call

    def _addressed(self, name: str, function: Callable[..., Raw]) -> Callable[..., Raw]:
        """A call of a function that is handed the number of its formula first."""

        def call(identity: float, *arguments: Raw) -> Raw:
            given = [self._plain(item, LEFT_OUT) if type(item) is str else item for item in arguments]
            return self._certain(name, identity, function, [self._caller(identity), *given])

        return call

    def _certain(self, name: str, identity: float, function: Callable[..., Raw], given: list[Raw]) -> Raw:
        try:
            result = function(*given)
        except ErrorShown as problem:
            return problem.raw
        except Uncertain as problem:
            return self._refuse(identity, str(problem))
        except OverflowError:
            return _NUM
        except ZeroDivisionError:
            return _DIV0
        except Exception as problem:
            return self._refuse(identity, f"{name} failed: {type(problem).__name__}: {problem}")
        if type(result) is float and result - result != 0.0:
            return _NUM
        return BLANK if result is None else result

    def _plain(self, text: str, left_out: Raw) -> Raw:
        """An argument that came as text: left out, the text of kept cells, or itself."""
        if text == EMPTY:
            return left_out
        return self._held.take(text)

    def _passed_on(self, call: Callable[..., Raw]) -> Callable[..., Raw]:
        """The same call; an array goes to the next step as a text."""

        def passed(*given: Raw) -> Raw:
            result = call(*given)
            return self._held.pass_on(result) if isinstance(result, COMPUTED) else result

        return passed

    def _given(self, arguments: Iterable[Raw]) -> list[Value]:
        return [
            self._range(item) if isinstance(item, list) else _value(self._held.let_go(item))
            for item in arguments
        ]

    def _range(self, raw: Raw) -> Value:
        """What the engine passes of a range, as the registry takes it; equal ranges are made once."""
        key = marshal.dumps(raw, 2)
        known = self._ranges.get(key)
        if known is None:
            if len(self._ranges) >= _MOST_RANGES:
                self._ranges.clear()
            known = self._ranges[key] = _value(raw)
        return known

    def _noted(
        self, raw: Raw, errors: Iterable[CellError], identity: float, number: int, arguments: Iterable[Raw]
    ) -> Raw:
        """Keep the reasons of a call with the cells that were typed; returns what the cell shows."""
        formula = self._caller(identity)
        given = self._given(arguments)
        found = [self._typed.located(error, formula, number, given) for error in errors]
        if isinstance(raw, Refused):
            self.calls.instead.setdefault(formula, []).extend(found)
            if formula in self.calls.verdicts:
                self.calls.verdicts[formula] = replace(self.calls.verdicts[formula], reason=found[0].reason)
            return found[0].reason if raw.gives_reason else str(raw)
        self.calls.reasons.setdefault(formula, []).extend(found)
        return raw

    def _let_go(self, call: Callable[..., Raw]) -> Callable[..., Raw]:
        """The same call with the array itself."""
        return lambda *given: self._held.let_go(call(*given))

    def _refuse(self, identity: float, reason: str) -> Raw:
        self.calls.refusals[self._caller(identity)] = reason
        return _REFUSED

    def _one(self, identity: float, value: Raw = None) -> Raw:
        if isinstance(value, list):
            return self._refuse(identity, "several values where the file's formula shows one")
        return BLANK if value is None else value

    def _caught(self, identity: float, value: Raw = None, interest: float = ANY_ERROR) -> Raw:
        if interest == NO_BLANK and any(cell is None for cell in cells_of(value)):
            return self._refuse(identity, "a blank cell in an array whose values are counted")
        if not (isinstance(value, str) and value.startswith(MARK)):
            return BLANK if value is None else value
        kind = value.removeprefix(MARK)
        if interest == NO_CRITERION:
            return self._refuse(identity, "a criterion that is an error value")
        if interest in (NO_ERROR, NO_BLANK):
            return self._refuse(identity, "an error value among what is counted")
        if not kind and interest == KIND_OF_ERROR:
            return self._refuse(identity, "which error value is looked at cannot be told")
        return {"type": "Error", "kind": kind or "Value"}

    def _fitted(self, identity: float, value: Raw, rows: float, columns: float) -> Raw:
        """An array as a formula over fixed cells shows it: one row or column repeated, else #N/A."""
        source = value if isinstance(value, list) else [[value]]
        height, width = len(source), len(source[0])
        self.calls.sizes[self._caller(identity)] = (height, width)

        def at(row: int, column: int) -> Raw:
            row = 0 if height == 1 else row
            column = 0 if width == 1 else column
            return _blank_to_zero(source[row][column]) if row < height and column < width else _NA

        return [[at(row, column) for column in range(int(columns))] for row in range(int(rows))]

    def _text(self, identity: float, value: Raw = None) -> Raw:
        if isinstance(value, list):
            if all(type(item) is str and len(item) <= MAX_TEXT for row in value for item in row):
                return value
            return [[self._text(identity, item) for item in row] for row in value]
        if isinstance(value, bool):
            return "TRUE" if value else "FALSE"
        if isinstance(value, int | float):
            shown = number_text(float(value))
            if shown is None:
                return self._refuse(identity, f"how a spreadsheet writes {value!r} as text is not certain")
            return shown
        if isinstance(value, str) and len(value) > MAX_TEXT:
            return self._refuse(identity, f"a text of more than {MAX_TEXT} characters")
        return BLANK if value is None else value


def _seen(value: Raw = None) -> Raw:
    """An error value as a text that the engine passes on, everything else as it is."""
    if isinstance(value, dict):
        return MARK + str(value.get("kind", ""))
    return BLANK if value is None else value


def _shown_as_rows(call: Callable[..., Raw]) -> Callable[..., Raw]:
    """The same call, an array as the engine takes it."""

    def shown(*given: Raw) -> Raw:
        return listed(call(*given))

    return shown


def _failed(value: Raw = None) -> bool:
    return isinstance(value, dict)


def _first(value: Raw = None) -> Raw:
    return value[0][0] if isinstance(value, list) else value


def _blank_to_zero(value: Raw) -> Raw:
    return 0.0 if value is None else value


def _value(raw: Raw) -> Value:
    """What the engine passes, as the registry takes it."""
    if isinstance(raw, list):
        return raw if all_numbers(raw) else [[_scalar(cell) for cell in row] for row in raw]
    return _scalar(raw)


def _scalar(raw: Raw) -> Scalar:
    if isinstance(raw, dict):
        return error_from_raw(raw)
    if isinstance(raw, str):
        return None if raw == EMPTY else raw
    if raw is None or isinstance(raw, bool | float):
        return raw
    return float(raw)


def _encoded(value: Value) -> tuple[Raw, tuple[CellError, ...]]:
    """What the engine takes, and the errors in it that have a reason."""
    if isinstance(value, list) and all_numbers(value):
        return value, ()
    if isinstance(value, Refused):
        return value, (value.error,)
    errors: list[CellError] = []

    def plain(item: Scalar) -> Raw:
        if isinstance(item, CellError):
            errors.append(item)
            return error_to_raw(item)
        if isinstance(item, int | float) and not isinstance(item, bool):
            if not math.isfinite(item):
                return plain(CellError(ErrorCode.NUM, "the result is not a finite number"))
            return float(item)
        return "" if item is None else item

    raw = [[plain(item) for item in row] for row in _rows(value)] if isinstance(value, list) else plain(value)
    return raw, tuple(error for error in errors if error.reason)


def _rows(value: Grid) -> Grid:
    if not value or not value[0]:
        return [[CellError(ErrorCode.NA, "the result has no cells")]]
    return value
