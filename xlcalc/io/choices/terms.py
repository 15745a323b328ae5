"""The file of a choice: terms, margin, pins, filters and cases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from xlcalc.core.errors import InputError
from xlcalc.files.toml import read_toml
from xlcalc.io.lists.files import WORKBOOK_SUFFIXES
from xlcalc.io.lists.rawtable import plain_grid
from xlcalc.io.lists.xlsx_table import read_named_ranges
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.terms import CaseTerms, FilterTerms, PinTerms, Terms
from xlcalc.schema.assembly.terms import terms_from as terms_of_tables
from xlcalc.schema.fields import attributes
from xlcalc.schema.inputs.quantities import LOAD_PCT, MARGIN
from xlcalc.schema.inputs.terms import COLUMNS, TERMS, TERMS_TABLES
from xlcalc.schema.tables import Values, stacked_grid
from xlcalc.schema.values import Grid

TABLES: Final = ("money", "choice", "pins", "filters", "cases")
TERMS_RANGE: Final = "choice_terms"
GENERAL: Final = COLUMNS[TERMS]
MONEY: Final = tuple(field for field in GENERAL.fields if field.fills and field.fills.dataclass is Economics)
CHOICE: Final = (
    "margin pct",
    "margins pct",
    "pcc",
    "offer",
    "raise other limits",
    "rely on coupling",
    "keep scheduled",
    "equal drives",
    "capacitor standard",
)
PIN: Final = ("tags", "bus", "options")
FILTER: Final = ("bus", "covers", "offer", "required")
LOGICAL: Final = ("raise other limits", "rely on coupling", "keep scheduled", "equal drives", "required")
CASE: Final = ("site", "settings", "off", "load pct")


def read_terms(path: Path, drives: Sequence[Values] = ()) -> Terms:
    """Read and check a file of terms.

    Parameters
    ----------
    path : Path
        .toml with the tables ``[money]``, ``[choice]``, ``[[pins]]``, ``[[filters]]`` and ``[cases]``, or
        with the tables of the template choice_study; or a workbook made from that template.
    drives : sequence of mapping
        Checked rows of the schedule, whose loads the cases of the template scale.

    Raises
    ------
    InputError
        No such file, a name that means nothing, a value of the wrong kind, or no tariff.
    WorkbookFileError
        The file is not a valid workbook.
    """
    titles = [section.title for section in TERMS_TABLES.sections]
    if path.suffix.lower() in WORKBOOK_SUFFIXES:
        found = read_named_ranges(path, [TERMS_RANGE], titles)
        if not found:
            raise InputError("--terms", path.name, "a .toml file, or a workbook of the template choice_study")
        return _of_tables(plain_grid(found[TERMS_RANGE].rows), drives, "sheet Terms")
    content = read_toml(path, LOGICAL)
    if TERMS in content:
        _known(f"table in {path.name}", content, tuple(titles))
        return _of_tables(stacked_grid(TERMS_TABLES, content), drives, path.name)
    return terms_from(path.name, content)


def _of_tables(grid: Grid, drives: Sequence[Values], label: str) -> Terms:
    tables: Any = TERMS_TABLES.convert(grid, label)
    return terms_of_tables(tables, drives, label)


def terms_from(name: str, tables: Mapping[str, Any]) -> Terms:
    """Terms from the tables of a file; raises `InputError` as `read_terms`."""
    _known(f"table in {name}", tables, TABLES)
    choice = _table(tables.get("choice", {}), f"[choice] of {name}")
    _known(f"name in [choice] of {name}", choice, CHOICE)
    margin = choice.get("margin pct", 0.0)
    where = f"in [choice] of {name}"
    margins = _table(choice.get("margins pct", {}), f"margins pct {where}")
    return Terms(
        name=name,
        economics=_economics(name, tables),
        margin_pct=_margin(margin, f"margin pct {where}"),
        pcc=_texts(choice.get("pcc", []), f"pcc {where}"),
        offer=_texts(choice.get("offer", []), f"offer {where}"),
        raise_other_limits=_flag(choice.get("raise other limits", False), f"raise other limits {where}"),
        rely_on_coupling=_flag(choice.get("rely on coupling", True), f"rely on coupling {where}"),
        keep_scheduled=_flag(choice.get("keep scheduled", True), f"keep scheduled {where}"),
        equal_drives=_flag(choice.get("equal drives", True), f"equal drives {where}"),
        pins=tuple(_pin(item, f"[[pins]] number {n} of {name}") for n, item in _rows(tables, "pins", name)),
        filters=tuple(
            _filter(item, f"[[filters]] number {n} of {name}") for n, item in _rows(tables, "filters", name)
        ),
        cases=tuple(
            _case(case, item, name)
            for case, item in _table(tables.get("cases", {}), f"[cases] of {name}").items()
        ),
        margins_pct={bus: _margin(pct, f"margin pct at {bus} {where}") for bus, pct in margins.items()},
        capacitor_standard=_chosen("capacitor standard", choice, where),
        margin_place=f"margin pct {where}",
    )


def _economics(name: str, tables: Mapping[str, Any]) -> Economics:
    money = _table(tables.get("money", {}), f"[money] of {name}")
    _known(f"name in [money] of {name}", money, tuple(field.name for field in MONEY))
    if "price per kwh" not in money:
        raise InputError(
            f"price per kwh in [money] of {name}", None, "a tariff, without which losses cannot be compared"
        )
    values = {
        field.name: field.convert(money.get(field.name), f"{field.name} in [money] of {name}")
        for field in MONEY
    }
    return Economics(**attributes(MONEY, {**values, "currency": values["currency"] or ""}, Economics))


def _pin(item: object, place: str) -> PinTerms:
    table = _table(item, place)
    _known(f"name in {place}", table, PIN)
    tags = _texts(table.get("tags", []), f"tags of {place}")
    bus = _text(table.get("bus", ""), f"bus of {place}")
    if bool(tags) == bool(bus):
        raise InputError(place, "both" if tags else "neither", "either tags or a bus", wrong_kind=True)
    options = _texts(table.get("options", []), f"options of {place}")
    if not options:
        raise InputError(f"options of {place}", None, "one option or more")
    return PinTerms(tags, bus, options, place)


def _filter(item: object, place: str) -> FilterTerms:
    table = _table(item, place)
    _known(f"name in {place}", table, FILTER)
    bus = _text(table.get("bus", ""), f"bus of {place}")
    offer = _texts(table.get("offer", []), f"offer of {place}")
    if not bus or not offer:
        raise InputError(
            f"{'offer' if bus else 'bus'} of {place}", None, "a bus, and one active filter or more"
        )
    covers = _texts(table.get("covers", []), f"covers of {place}")
    return FilterTerms(bus, covers, offer, _flag(table.get("required", False), f"required of {place}"), place)


def _case(case: str, item: object, name: str) -> CaseTerms:
    place = f"case {case} of {name}"
    table = _table(item, place)
    _known(f"name in {place}", table, CASE)
    loads = _table(table.get("load pct", {}), f"load pct of {place}")
    return CaseTerms(
        case,
        _table(table.get("site", {}), f"site of {place}"),
        _table(table.get("settings", {}), f"settings of {place}"),
        _texts(table.get("off", []), f"off of {place}"),
        {tag: LOAD_PCT.convert(value, f"load pct of {tag} in {place}") for tag, value in loads.items()},
    )


def _rows(tables: Mapping[str, Any], key: str, name: str) -> list[tuple[int, object]]:
    value = tables.get(key, [])
    if not isinstance(value, list):
        raise InputError(f"{key} of {name}", "no list", f"blocks that begin with [[{key}]]", wrong_kind=True)
    return list(enumerate(value, start=1))


def _table(value: object, place: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise InputError(place, str(value), "names and values", wrong_kind=True)
    return value


def _text(value: object, place: str) -> str:
    if not isinstance(value, str):
        raise InputError(place, str(value), "a text in quotes", wrong_kind=True)
    return value


def _texts(value: object, place: str) -> tuple[str, ...]:
    items: Sequence[object] = (
        [value] if isinstance(value, str) else value if isinstance(value, list) else [None]
    )
    if not all(isinstance(item, str) for item in items):
        raise InputError(place, str(value), "a list of texts", wrong_kind=True)
    return tuple(str(item) for item in items)


def _chosen(name: str, values: Mapping[str, Any], where: str) -> Any:
    return GENERAL.field(name).convert(values.get(name), f"{name} {where}")


def _margin(value: object, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise InputError(place, str(value), MARGIN.valid, wrong_kind=True)
    return float(MARGIN.convert(value, place))


def _flag(value: object, place: str) -> bool:
    if not isinstance(value, bool):
        raise InputError(place, str(value), "true or false", wrong_kind=True)
    return value


def _known(place: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for name in table:
        if name not in known:
            raise InputError(place, name, "one of " + ", ".join(known))
