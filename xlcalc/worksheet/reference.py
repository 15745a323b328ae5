"""The function reference, from the registry: Markdown for people, records for programs and sheets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches
from itertools import groupby

from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError
from xlcalc.schema.fields import Field
from xlcalc.schema.tables import NamedValues, Records, StackedTables
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import WorksheetFunction
from xlcalc.worksheet.trouble import AT

PLACE_HELP = "sheet and first cell of that range as text, such as Drives!A10; reasons then name the cell"


def record(function: WorksheetFunction) -> dict[str, object]:
    """One function as plain data, for JSON."""
    return {
        "name": function.name,
        "signature": function.signature,
        "category": function.category,
        "summary": function.summary,
        "gives": function.gives,
        "arguments": [
            {
                "name": a.name,
                "required": a.required,
                "repeats": a.repeats,
                "help": a.help,
                "fields": _fields(a),
            }
            for a in function.arguments
        ],
        "places": places_of(function)
        if any(isinstance(a.kind, NamedValues) for a in function.arguments)
        else [],
        "columns": list(function.shape.columns) if function.shape else [],
        "rows": function.shape.rows if function.shape else None,
        "examples": [
            {"formula": e.formula, "result": e.result, "source": e.source} for e in function.examples
        ],
        "notes": function.notes,
    }


def markdown(functions: Mapping[str, WorksheetFunction]) -> str:
    """The reference as one Markdown page; names and columns that several functions share are listed once."""
    first: dict[tuple[Field, ...], str] = {}
    lines = ["# Worksheet functions", "", CAUTION, ""]
    for category, group in groupby(functions.values(), key=lambda f: f.category):
        lines += [f"## {category}", ""]
        for function in group:
            lines += _function_lines(function, first)
    return "\n".join(lines).rstrip() + "\n"


def found_functions(functions: Mapping[str, WorksheetFunction], text: str) -> dict[str, WorksheetFunction]:
    """The function of that name, with or without its prefix; else all whose name or summary has the text.

    Raises
    ------
    InputError
        There is none.
    """
    asked = text.strip().upper()
    for name in (asked, f"HD_{asked}"):
        if name in functions:
            return {name: functions[name]}
    found = {
        name: function
        for name, function in functions.items()
        if asked and (asked in name or asked in function.summary.upper())
    }
    if found:
        return found
    close = get_close_matches(f"HD_{asked.removeprefix('HD_')}", functions, n=3)
    hint = f"such as {', '.join(close)}" if close else "or a word of its summary"
    raise InputError("NAME", text, f"the name of a function, {hint}")


def fields_of(argument: Argument) -> tuple[Field, ...]:
    """Names or columns that a range argument understands, with their table; empty for other arguments."""
    if isinstance(argument.kind, StackedTables):
        return tuple(
            replace(field, name=f"{section.title}: {field.name}")
            for section in argument.kind.sections
            for field in section.records.fields
        )
    return argument.kind.fields if isinstance(argument.kind, NamedValues | Records) else ()


def places_of(function: WorksheetFunction) -> list[str]:
    """Names in a range of settings for the places where the ranges of a function begin."""
    return [f"{argument.name}{AT}" for argument in function.arguments if argument.kind.takes_range]


def _fields(argument: Argument) -> list[dict[str, object]]:
    return [{"name": f.name, "required": f.required, "help": f.help} for f in fields_of(argument)]


def _function_lines(function: WorksheetFunction, first: dict[tuple[Field, ...], str]) -> list[str]:
    """Lines of one function; `first` holds where names and columns have been listed before."""
    lines = [
        f"### {function.name}",
        "",
        f"`{function.signature}`",
        "",
        function.about,
    ]
    if function.shape:
        rows = (
            "as many rows as the input asks for"
            if function.shape.rows is None
            else f"{function.shape.rows} rows"
        )
        lines[-1] += f" Array of {rows}, columns: {', '.join(function.shape.columns)}."
    if function.notes:
        lines += ["", function.notes]
    lines.append("")
    for argument in function.arguments:
        fields = fields_of(argument)
        there = first.setdefault(fields, function.name) if fields else function.name
        seen = "" if there == function.name else f"; the same as at [{there}](#{there.lower()})"
        optional = "" if argument.required else " (optional)"
        lines.append(f"- `{argument.name}`{optional}: {argument.help}{seen}")
        if not seen:
            for field in fields:
                lines.append(f"  - `{field.name}`{' (required)' if field.required else ''}: {field.help}")
        if isinstance(argument.kind, NamedValues):
            names = ", ".join(f"`{name}`" for name in places_of(function))
            lines.append(f"  - {names}: {PLACE_HELP}")
    if function.arguments:
        lines.append("")
    for example in function.examples:
        source = f" ({example.source})" if example.source else ""
        lines.append(f"Example: `{example.formula}` gives {example.result}{source}.")
    return [*lines, ""]
