"""Where the trouble with the arguments of a function stands, and what was probably meant."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from xlcalc.core.errors import InputError, Place
from xlcalc.schema.fields import Field
from xlcalc.schema.kinds import is_blank
from xlcalc.schema.places import Corner, PlacedValues, column_of, corner_of
from xlcalc.schema.tables import NamedValues, Records, StackedTables, normalised
from xlcalc.schema.values import CellError, Value
from xlcalc.worksheet.arguments import error_in

AT = " at"
_TABLE_CELL = re.compile(
    r"(?:cell (?P<letters>[A-Z]{1,3})|row )(?P<row>\d+) of table (?P<table>.+?) of (?P<argument>\w+)"
)
_NUMBERED_ROW = re.compile(
    r"(?P<column>.+?) of .+ in (?:cell [A-Z]{1,3}\d+, )?row (?P<row>\d+) of table (?P<table>[^;]+)\Z"
)
VALID_CORNER = "the sheet and the first cell of the range, such as Drives!A10, as text"


def with_corners(arguments: Sequence[Field], raw: Sequence[Value], corners: dict[str, Corner]) -> list[Value]:
    """The raw arguments without the settings for the places of ranges, which go into `corners`.

    Raises
    ------
    InputError
        Such a setting names no cell.
    """
    given = list(raw)
    known = {normalised(f"{argument.name}{AT}"): argument.name for argument in arguments}
    for number, (argument, value) in enumerate(zip(arguments, raw, strict=False)):
        if not (isinstance(argument.kind, NamedValues) and isinstance(value, list)):
            continue
        kept = [list(row) for row in value]
        own = {normalised(field.name) for field in argument.kind.fields}
        for index, row in enumerate(kept):
            key = normalised(row[0]) if len(row) == 2 and isinstance(row[0], str) else ""
            name = known.get(key) if key not in own else None
            if name is None or isinstance(row[1], CellError):
                continue
            corner = corner_of(str(row[1])) if not is_blank(row[1]) else None
            if corner is not None:
                corners.setdefault(name, corner)
            elif not is_blank(row[1]):
                place = Place(argument.name, index + 1, 2, f"{name}{AT}", number)
                label = f"{name}{AT} in {argument.name}"
                raise InputError(label, repr(row[1]), VALID_CORNER, wrong_kind=True, place=place)
            kept[index] = [None, None]
        given[number] = kept
    return given


def error_among(arguments: Sequence[Field], raw: Sequence[Value]) -> CellError | None:
    """The first error value among the raw arguments, with its place."""
    for number, value in enumerate(raw):
        argument = arguments[min(number, len(arguments) - 1)]
        error = error_in(value, argument.name, number)
        if error is not None:
            return error
    return None


def explained(
    problem: InputError, declared: Sequence[Field], raw: Sequence[Value], position: int
) -> InputError:
    """A refused argument with its place, and the argument it was probably meant for."""
    argument, given = declared[position], raw[position]
    if not argument.kind.takes_range:
        single = Place(argument.name, 1, 1, argument.name, position)
        return problem.placed(Place(argument.name, position=position) if isinstance(given, list) else single)
    placed = problem.of(argument.name, position)
    others = [] if is_blank(given) or argument.kind.recognises(given) else range(len(declared))
    other = next((n for n in others if n != position and declared[n].kind.recognises(given)), None)
    if other is None:
        return placed
    swapped = argument.kind.recognises(raw[other])
    message = f"{argument.name} is given a range that looks like {declared[other].name}" + (
        f": {argument.name} and {declared[other].name} are swapped" if swapped else ""
    )
    return InputError(
        placed.argument,
        placed.value,
        placed.valid,
        wrong_kind=True,
        place=Place(argument.name, position=position),
        message=f"{message}; valid: {argument.kind.valid}",
    )


def located(problem: InputError, arguments: Sequence[Field], converted: Sequence[object]) -> InputError:
    """A refusal of the calculation with its place, where its words name what was typed.

    Calculations name a setting as "x in site", a value of a row as "x of P1", an argument by its own name.
    """
    if problem.place is not None:
        owner = _owner(problem.place, converted)
        return problem if owner is None else problem.of(arguments[owner].name, owner)
    for position, argument in enumerate(arguments):
        if problem.argument == argument.name:
            return problem.placed(Place(argument.name, 1, 1, argument.name, position))
    text = problem.argument or str(problem)
    best: tuple[int, Place] | None = None
    for position, (argument, value) in enumerate(zip(arguments, converted, strict=False)):
        for weight, place in _mentioned(text, argument, value):
            if best is None or weight > best[0]:
                best = weight, place.of(argument.name, position)
    if best is None:
        return problem
    placed = problem.placed(best[1])
    return placed if best[1].field or best[1].row is None else placed.said(str(problem))


def _owner(place: Place, converted: Sequence[object]) -> int | None:
    """Position of the argument among whose values a place is."""
    for position, value in enumerate(converted):
        rows: list[object] = [value]
        if isinstance(value, Mapping) and not isinstance(value, PlacedValues):
            rows = [row for table in value.values() if isinstance(table, tuple) for row in table]
        elif isinstance(value, tuple):
            rows = list(value)
        for row in rows:
            if isinstance(row, PlacedValues) and any(place is known for known in row.places.values()):
                return position
    return None


def _mentioned(text: str, argument: Field, value: object) -> Iterator[tuple[int, Place]]:
    """Places that a text names, the closer match with the larger weight; without a field only the row is."""
    if isinstance(argument.kind, NamedValues) and isinstance(value, PlacedValues):
        for name, place in value.places.items():
            if text == f"{name} in {argument.name}" or text == name:
                yield 1000, place
        if text.endswith(f" in {argument.name}"):
            yield 0, Place(argument.name)
    elif isinstance(argument.kind, Records) and isinstance(value, tuple):
        yield from _rows(text, value, argument.kind.key, argument.name)
    elif isinstance(argument.kind, StackedTables) and isinstance(value, Mapping):
        match = _TABLE_CELL.search(text)
        if match is not None and match["argument"] == argument.name:
            column = column_of(match["letters"]) if match["letters"] else 1
            yield 500, Place(row=int(match["row"]), column=column, field=f"table {match['table']}")
        if numbered := _NUMBERED_ROW.match(text):
            for row in value.get(numbered["table"], ()):
                place = row.places.get(numbered["column"])
                if row["row"] == int(numbered["row"]) and place is not None:
                    yield 2000, place
        for section in argument.kind.sections:
            yield from _rows(text, value[section.title], section.records.key, section.title)


def _rows(text: str, rows: Sequence[PlacedValues], key: str, table: str) -> Iterator[tuple[int, Place]]:
    for row in rows:
        name = str(row.get(key) or "")
        if not name or re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text) is None:
            continue
        head, _, tail = text.partition(f" of {name}")
        if not tail and head == text:
            head, _, tail = text.partition(f" of drive {name}")
        weight = len(name) + (100 if table in tail else 0)
        place = row.places.get(head)
        if place is not None and place.column is not None:
            yield weight + 200, place
        elif re.search(rf"(?:of|drive|table|bus) {re.escape(name)}(?!\w)", text):
            at_key = row.places.get(key)
            if at_key is not None:
                yield weight, replace(at_key, field="")
