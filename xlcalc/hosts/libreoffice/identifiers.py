"""Names under which LibreOffice knows the add-in and its functions."""

from __future__ import annotations

from collections.abc import Mapping

from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import WorksheetFunction

EXTENSION = "org.xlcalc.calc"
MODULES = ("org", "xlcalc", "calc")
INTERFACE = "XFunctions"
SERVICE = "org.xlcalc.calc.Functions"
JOB = "org.xlcalc.calc.Reopen"
REASON = "org.xlcalc.calc.Reason"
REPEATS = 30
"""How often a repeating argument may be given.

The interface lists it that many times: the program takes an argument of type "any number of values" for
single values, and computes a function over two ranges cell by cell instead of once.
"""


def method_name(function_name: str) -> str:
    """Method of the interface; its grammar allows no underscore in a name.

    Examples
    --------
    >>> method_name("HD_LIMIT_TDD")
    'hdlimittdd'
    """
    return function_name.replace("_", "").lower()


def parameter_name(position: int) -> str:
    """Parameter of a method by its position from 1, so that no argument name can be a reserved word."""
    return f"arg{position}"


def parameters(function: WorksheetFunction) -> list[tuple[str, Argument]]:
    """Name shown in the wizard and declaration of every parameter, a repeating argument spread out."""
    shown = [(argument.name, argument) for argument in function.arguments]
    if function.variadic:
        name, last = shown[-1]
        shown += [(f"{name}_{number}", last) for number in range(2, REPEATS + 1)]
    return shown


def methods(functions: Mapping[str, WorksheetFunction]) -> dict[str, WorksheetFunction]:
    """Functions by method name; two that differ in underscores only are refused."""
    named = {method_name(name): function for name, function in functions.items()}
    if len(named) != len(functions):
        raise ValueError("two functions differ in underscores only")
    return named
