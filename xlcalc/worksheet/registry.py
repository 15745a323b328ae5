"""The one registry of worksheet functions: declare a function once, every host reads it here."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from xlcalc.core.errors import InputError, NoSolutionError, Place
from xlcalc.schema.places import Corner
from xlcalc.schema.values import CellError, ErrorCode, Grid, Scalar, Value, all_numbers
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.trouble import error_among, explained, located, with_corners

PREFIX = "HD_"
NAME_PATTERN = re.compile(rf"{PREFIX}[A-Z][A-Z0-9_]*\Z")
MAX_HELP_LENGTH = 255
MAX_NAMES_LENGTH = 254
RESERVED_WORDS = frozenset(
    """
    and as boolean byref byte byval call case const currency date declare dim do double each else elseif
    end enum erase error event exit false for function get global gosub goto if implements in integer is
    let lib like long loop lset me mod new next not nothing null object on open option optional or
    paramarray preserve print private property public redim rem resume return rset select set single
    static step stop string sub then to true type until variant wend while with xor caller
    """.split()
)

Refusal = Callable[[Sequence[Value], CellError], Value | None]
"""What stands in place of an error, from the raw arguments and the error; None where the error stays."""


@dataclass(frozen=True)
class Example:
    """A worked example: a formula without references to cells, and what it gives."""

    formula: str
    result: float | str
    source: str = ""


@dataclass(frozen=True)
class Shape:
    """Shape of an array result; `rows` is None where it depends on the input."""

    rows: int | None
    columns: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class WorksheetFunction:
    """One worksheet function as every host sees it.

    `implementation` receives checked Python values and returns a number, a text or rows; it raises
    `InputError` or `NoSolutionError`. Whenever there is an error, `refused` is asked with the raw arguments
    and the error; what it gives stands in its place.

    A range of settings may say where the other arguments stand: `drives at` is the sheet and cell, such as
    ``Drives!A10``, in which the range of the argument `drives` begins. Reasons then name the cell.
    """

    name: str
    category: str
    summary: str
    gives: str
    arguments: tuple[Argument, ...]
    implementation: Callable[..., float | str | Grid]
    examples: tuple[Example, ...]
    shape: Shape | None = None
    volatile: bool = False
    notes: str = ""
    refused: Refusal | None = None

    def __post_init__(self) -> None:
        _check_declaration(self)

    @property
    def variadic(self) -> bool:
        return bool(self.arguments) and self.arguments[-1].repeats

    @property
    def min_args(self) -> int:
        return sum(argument.required for argument in self.arguments)

    @property
    def max_args(self) -> int | None:
        """None for a function that takes any number of arguments."""
        return None if self.variadic else len(self.arguments)

    @property
    def about(self) -> str:
        """What a function wizard shows."""
        return f"{self.summary}. Gives: {self.gives}."

    @property
    def signature(self) -> str:
        shown = [a.name if a.required else f"[{a.name}]" for a in self.arguments]
        return f"{self.name}({', '.join(shown)}{', ...' if self.variadic else ''})"

    def __call__(self, raw: Sequence[Value]) -> Value:
        """Check raw cell values, compute, and give plain Python; never raises.

        Parameters
        ----------
        raw : sequence of Value
            One entry per argument as written in the formula: None where it was left out or blank, a scalar,
            or a list of row lists for a range.
        """
        arguments = list(raw)
        while arguments and arguments[-1] is None and len(arguments) > self.min_args:
            arguments.pop()
        if len(arguments) < self.min_args or (self.max_args is not None and len(arguments) > self.max_args):
            return CellError(
                ErrorCode.VALUE, f"{self.name} takes {self._count_text()}; {len(arguments)} given"
            )
        corners: dict[str, Corner] = {}
        try:
            arguments = with_corners(self.arguments, arguments, corners)
            result = error_among(self.arguments, arguments) or self._computed(arguments)
        except InputError as problem:
            result = _error(problem)
        if isinstance(result, CellError):
            return self._told(arguments, result, corners)
        return result

    def _computed(self, raw: Sequence[Value]) -> Value:
        padded = [*raw, *[None] * (len(self.arguments) - len(raw))]
        repeated = [self.arguments[-1]] * (len(padded) - len(self.arguments)) if self.arguments else []
        declared = [*self.arguments, *repeated]
        converted: list[object] = []
        try:
            for argument, value in zip(declared, padded, strict=True):
                converted.append(argument.convert(value))
        except InputError as problem:
            return _error(explained(problem, declared, padded, len(converted)))
        try:
            return _plain(self.implementation(*converted), self.name)
        except InputError as problem:
            return _error(located(problem, self.arguments, converted))
        except NoSolutionError as problem:
            found = located(InputError("", "", "", message=str(problem)), self.arguments, converted)
            return CellError(ErrorCode.NUM, str(problem), found.place, found.after_cell)
        except (ArithmeticError, ValueError) as problem:
            reason = f"these numbers are too large or too small to compute with ({problem})"
            return CellError(ErrorCode.NUM, reason)

    def _told(self, raw: Sequence[Value], error: CellError, corners: Mapping[str, Corner]) -> Value:
        """The error with the cell that was typed where it is known, or what stands in its place."""
        passed_on = error.place is not None and not error.after_cell
        shown = _named(error) if passed_on else error
        corner = corners.get(shown.place.argument) if shown.place is not None else None
        if corner is not None and shown.place is not None:
            shown = shown.at(corner.cell(shown.place))
        instead = self.refused(raw, shown) if self.refused is not None else None
        if instead is not None:
            return instead
        if passed_on:
            return error
        return shown if shown.typed else replace(shown, reason=f"{self.name}: {shown.reason}")

    def _count_text(self) -> str:
        if self.max_args is None:
            return f"{self.min_args} or more arguments"
        if self.min_args == self.max_args:
            return f"{self.min_args} argument{'s' if self.min_args != 1 else ''}"
        return f"{self.min_args} to {self.max_args} arguments"


def _error(problem: InputError) -> CellError:
    code = ErrorCode.VALUE if problem.wrong_kind else ErrorCode.NUM
    return CellError(code, str(problem), problem.place, problem.after_cell)


def _named(error: CellError) -> CellError:
    """An error value among the arguments, with the cell that holds it in words."""
    place = error.place or Place()
    after = f" holds the error value {error.code}"
    where = f"row {place.row}, column {place.column} of {place.argument}" if place.row else place.argument
    return replace(error, reason=where + after, after_cell=after)


def collect(declared: Iterable[WorksheetFunction]) -> Mapping[str, WorksheetFunction]:
    """Read-only registry by name, in the order of declaration; refuses a name that is declared twice."""
    functions: dict[str, WorksheetFunction] = {}
    for function in declared:
        if function.name in functions:
            raise ValueError(f"{function.name} is declared twice")
        functions[function.name] = function
    return MappingProxyType(functions)


def _check_declaration(function: WorksheetFunction) -> None:
    """Refuse what one of the hosts could not register."""
    names = [argument.name for argument in function.arguments]
    problems = []
    if not NAME_PATTERN.match(function.name):
        problems.append("the name must be HD_ and capitals, digits or underscores")
    if len({name.casefold() for name in names}) != len(names):
        problems.append("two arguments differ only in case")
    for name in names:
        if not re.fullmatch(r"[a-z][a-z0-9_]*", name) or name in RESERVED_WORDS:
            problems.append(f"argument name {name} is not usable in every host")
    if len(names) + sum(map(len, names)) > MAX_NAMES_LENGTH:
        problems.append("the argument names are too long for a function wizard")
    helps = (argument.help for argument in function.arguments)
    for text in (function.about, function.category, *helps):
        if len(text) > MAX_HELP_LENGTH:
            problems.append(f"help text longer than {MAX_HELP_LENGTH} characters: {text[:40]}...")
    required = [argument.required for argument in function.arguments]
    if required != sorted(required, reverse=True):
        problems.append("a required argument follows an optional one")
    if any(argument.repeats for argument in function.arguments[:-1]):
        problems.append("only the last argument may repeat")
    if not function.examples:
        problems.append("an example is missing")
    if problems:
        raise ValueError(f"{function.name}: {'; '.join(problems)}")


def _plain(result: float | str | Grid, name: str) -> Value:
    """Plain Python numbers; a number that is not finite is an error, never a result."""
    if isinstance(result, str):
        return result
    if isinstance(result, list):
        if all_numbers(result):
            return result
        return [[_plain_cell(cell, name) for cell in row] for row in result]
    return _plain_cell(result, name)


def _plain_cell(cell: Scalar, name: str) -> Scalar:
    if cell is None or isinstance(cell, str | bool | CellError):
        return cell
    number = float(cell)
    if not math.isfinite(number):
        return CellError(ErrorCode.NUM, f"{name}: the result is not a finite number")
    return number
