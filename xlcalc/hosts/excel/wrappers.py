"""Python functions in the form that xlwings registers, made from the registry."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any

from xlcalc.hosts.excel.cells import value_from_excel, value_to_excel
from xlcalc.hosts.memo import Memo
from xlcalc.worksheet.registry import WorksheetFunction

ARGUMENT_OPTIONS: Mapping[str, Any] = {"ndim": 2, "err_to_str": True}
"""Every argument arrives as rows of cells, and an error in a cell as its text, not as a blank."""

Wrapper = Callable[..., Any]


def wrapper(function: WorksheetFunction, memo: Memo) -> Wrapper:
    """Plain Python function with the name, signature and help of a worksheet function."""

    def call(*arguments: Any) -> Any:
        values = [value_from_excel(argument) for argument in arguments]
        if function.volatile:
            return value_to_excel(function(values))
        return value_to_excel(memo.result(function.name, values, lambda: function(values)))

    call.__name__ = call.__qualname__ = function.name
    call.__doc__ = function.about
    call.__annotations__ = {}
    call.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [
            inspect.Parameter(argument.name, inspect.Parameter.VAR_POSITIONAL)
            if argument.repeats
            else inspect.Parameter(
                argument.name,
                inspect.Parameter.POSITIONAL_OR_KEYWORD,
                default=inspect.Parameter.empty if argument.required else None,
            )
            for argument in function.arguments
        ]
    )
    return call


def decorated(xlwings: ModuleType, function: WorksheetFunction, memo: Memo) -> Wrapper:
    """The wrapper with the declarations of xlwings: category, options and help of every argument."""
    udf: Wrapper = wrapper(function, memo)
    for argument in function.arguments:
        udf = xlwings.arg(argument.name, doc=argument.help, **ARGUMENT_OPTIONS)(udf)
    udf = xlwings.func(category=function.category, volatile=function.volatile)(udf)
    return udf
