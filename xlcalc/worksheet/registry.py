"""The one registry of worksheet functions: declare a function once, every host reads it here."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from xlcalc.errors import InputError, NoSolutionError
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.values import CellError, ErrorCode, Grid, Value

NAME_PATTERN = re.compile(r"HD_[A-Z][A-Z0-9_]*\Z")
MAX_HELP_LENGTH = 255
MAX_NAMES_LENGTH = 254
RESERVED_WORDS = frozenset(
    "and as boolean byref byte byval call case const currency date declare dim do double each else elseif end "
    "enum erase error event exit false for function get global gosub goto if implements in integer is let lib "
    "like long loop lset me mod new next not nothing null object on open option optional or paramarray preserve "
    "print private property public redim rem resume return rset select set single static step stop string sub "
    "then to true type until variant wend while with xor caller".split()
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


@dataclass(frozen=True)
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
            return CellError(ErrorCode.VALUE, f"{self.name} takes {self._count_text()}; {len(arguments)} given")
        converted: list[object] = []
        try:
            for index, declared in enumerate(self.arguments):
                if declared.repeats:
                    for value in arguments[index:]:
                        error = declared.error_in(value)
                        if error is not None:
                            return error
                        converted.append(declared.convert(value))
                    break
                value = arguments[index] if index < len(arguments) else None
                error = declared.error_in(value)
                if error is not None:
                    return error
                converted.append(declared.convert(value))
        except InputError as problem:
            return CellError(ErrorCode.VALUE if problem.wrong_kind else ErrorCode.NUM, f"{self.name}: {problem}")
        try:
            return finite_or_error(self.implementation(*converted), self.name)
        except InputError as problem:
            return CellError(ErrorCode.VALUE if problem.wrong_kind else ErrorCode.NUM, f"{self.name}: {problem}")
        except NoSolutionError as problem:
            return CellError(ErrorCode.NUM, f"{self.name}: {problem}")

    def _count_text(self) -> str:
        if self.max_args is None:
            return f"{self.min_args} or more arguments"
        if self.min_args == self.max_args:
            return f"{self.min_args} argument{'s' if self.min_args != 1 else ''}"
        return f"{self.min_args} to {self.max_args} arguments"
