"""The one registry of worksheet functions: declare a function once, every host reads it here."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from xlcalc.errors import InputError, NoSolutionError
from xlcalc.worksheet.arguments import Argument, error_in
from xlcalc.worksheet.values import CellError, ErrorCode, Grid, Scalar, Value, all_numbers

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
    `InputError` or `NoSolutionError`.
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
        first_error = next((e for e in map(error_in, arguments) if e is not None), None)
        if first_error is not None:
            return first_error
        try:
            return _plain(self.implementation(*self._converted(arguments)), self.name)
        except InputError as problem:
            return CellError(
                ErrorCode.VALUE if problem.wrong_kind else ErrorCode.NUM, f"{self.name}: {problem}"
            )
        except NoSolutionError as problem:
            return CellError(ErrorCode.NUM, f"{self.name}: {problem}")
        except (ArithmeticError, ValueError) as problem:
            reason = f"these numbers are too large or too small to compute with ({problem})"
            return CellError(ErrorCode.NUM, f"{self.name}: {reason}")

    def _converted(self, raw: Sequence[Value]) -> list[object]:
        padded = [*raw, *[None] * (len(self.arguments) - len(raw))]
        last = self.arguments[-1] if self.variadic else None
        single = self.arguments[:-1] if last else self.arguments
        converted = [argument.convert(value) for argument, value in zip(single, padded, strict=False)]
        if last:
            converted += [last.convert(value) for value in padded[len(single) :]]
        return converted

    def _count_text(self) -> str:
        if self.max_args is None:
            return f"{self.min_args} or more arguments"
        if self.min_args == self.max_args:
            return f"{self.min_args} argument{'s' if self.min_args != 1 else ''}"
        return f"{self.min_args} to {self.max_args} arguments"


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
    for text in (function.summary, function.category, *(argument.help for argument in function.arguments)):
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
