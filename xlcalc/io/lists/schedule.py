"""A drive schedule read and checked; every row is accepted, or rejected with its reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.io.lists.convert import NUMBERS, Converted, convert
from xlcalc.io.lists.example_rows import ASSUMED, BLANK, EFFICIENCY, GIVEN, assumed_in
from xlcalc.io.lists.files import WORKBOOK_SUFFIXES, read_tables
from xlcalc.io.lists.layout import Layout, find_layout
from xlcalc.io.lists.numerals import Decimal
from xlcalc.io.lists.problems import RowError, shown
from xlcalc.io.lists.rawtable import RawTable
from xlcalc.io.lists.rules import KEY, PLACE, VOLTS_RATIO, failures
from xlcalc.io.lists.xlsx_table import read_drives
from xlcalc.io.plants.site import DriveSite
from xlcalc.schema.assembly.drive import INPUT_AMPS, efficiency_pct
from xlcalc.schema.assembly.front_end import check_filter
from xlcalc.schema.assembly.notes import FILLED_IN
from xlcalc.schema.inputs.drive import DRIVES, FILTER_FIELDS
from xlcalc.schema.kinds import one_of
from xlcalc.schema.nameplate import COLUMN as NAMEPLATE

SITE_FIELD = "site"
SHOWN_NAMEPLATES = 6
NOT_NEEDED_PCT = 100.0
"""Efficiency of a drive whose input current is given: it says the power of its link without one."""


@dataclass(frozen=True)
class Schedule:
    """All rows of a schedule.

    Parameters
    ----------
    name : str
        File and sheet.
    rows : DataFrame
        One row per drive of the file, indexed by row number, with the fields of `drives` (defaults filled in
        where the row is accepted), `site`, `description`, `volts` and the column `accepted`.
    carried : DataFrame
        Columns that mean nothing to the study, same index.
    problems : tuple of RowError
        Every bad cell, in the order of the rows.
    remarks : tuple of str
        What a reader of the results should know about the reading.
    """

    name: str
    rows: pd.DataFrame
    carried: pd.DataFrame
    problems: tuple[RowError, ...]
    remarks: tuple[str, ...]

    @property
    def accepted(self) -> pd.DataFrame:
        """Rows that can be solved."""
        return self.rows[self.rows["accepted"]]

    def reasons(self) -> dict[int, str]:
        """Problems of each rejected row as one text."""
        listed: dict[int, list[str]] = {}
        for problem in self.problems:
            text = f"{problem.column}: {problem.value or 'blank'}; valid: {problem.valid}"
            listed.setdefault(problem.row, []).append(text)
        return {row: " | ".join(texts) for row, texts in listed.items()}

    def rejecting(self, problems: Sequence[RowError]) -> Schedule:
        """The schedule with more problems, whose rows are then rejected too."""
        rows = self.rows.copy()
        rows.loc[[problem.row for problem in problems], "accepted"] = False
        together = sorted((*self.problems, *problems), key=lambda problem: problem.row)
        return Schedule(self.name, rows, self.carried, tuple(together), self.remarks)


def read_schedule(
    path: Path,
    sites: Sequence[DriveSite],
    *,
    sheet: str | None = None,
    decimal: Decimal | None = None,
    encoding: str | None = None,
) -> Schedule:
    """Read and check a schedule.

    Parameters
    ----------
    path : Path
        A table in any file that `read_tables` takes; headings as listed in
        `xlcalc/schema/lists/headings.csv`, in any order, with other lines above them and other columns
        beside them.
    sites : sequence of Site
        With several, the column ``site`` says which one a row belongs to.
    sheet, decimal, encoding
        What the file does not tell.

    Raises
    ------
    InputError
        The file as a whole cannot be used: unreadable, no headings, a column that is missing, twice there or
        probably misspelt. Bad rows are no reason: they are in `problems`.
    WorkbookFileError
        The file is not a valid workbook.
    """
    table, layout = find_table(path, sheet, encoding)
    return checked(table, layout, sites, decimal)


def checked(
    table: RawTable, layout: Layout, sites: Sequence[DriveSite], decimal: Decimal | None = None
) -> Schedule:
    """The schedule of a table whose columns are known; raises as `read_schedule`."""
    converted = convert(table, layout, decimal)
    if not converted.numbers:
        raise InputError(table.name, "without rows", "one row per drive below the headings")
    rows = converted.frame()
    for field in ("site", "description", "volts", *(field.name for field in DRIVES.fields)):
        if field not in rows:
            rows[field] = np.nan if field in NUMBERS else None
    rows[BLANK] = "|"
    for name in FILLED_IN:
        rows[BLANK] += np.where(rows[name].isna(), f"{name}|", "")
    problems = [*converted.problems, *_place(rows, sites, layout)]
    problems += _broken_rules(rows, sites, layout, problems)
    problems += misfits(rows[~rows.index.isin({problem.row for problem in problems})], layout)
    accepted = ~rows.index.isin({problem.row for problem in problems})
    rows = _with_defaults(rows, accepted).assign(accepted=accepted)
    remarks = [*table.remarks, *converted.remarks]
    assumed = assumed_in(rows)
    remarks += [assumed] if assumed else []
    remarks += nameplates_in(rows[accepted])
    if layout.unused:
        remarks.append("columns not used: " + ", ".join(column.heading for column in layout.unused))
    return Schedule(
        table.name, rows, _carried(converted), tuple(sorted(problems, key=lambda p: p.row)), tuple(remarks)
    )


def nameplates_in(rows: pd.DataFrame) -> list[str]:
    """A remark on rows that are known by their nameplates, for which typical values stand."""
    by_amps = rows["unit"] == INPUT_AMPS
    named = rows[by_amps | (rows[NAMEPLATE] != "")]
    if named.empty:
        return []
    told = [
        f"{tag} ({', '.join(filter(None, ['input current' if amps else '', *words.split('|')]))})"
        for tag, amps, words in zip(named["tag"], by_amps[named.index], named[NAMEPLATE], strict=True)
    ]
    more = f" and {len(told) - SHOWN_NAMEPLATES} more" if len(told) > SHOWN_NAMEPLATES else ""
    return [f"by nameplate, with typical values: {', '.join(told[:SHOWN_NAMEPLATES])}{more}"]


def find_table(path: Path, sheet: str | None, encoding: str | None) -> tuple[RawTable, Layout]:
    """The table of drives in a file and where its columns are; raises as `read_schedule`."""
    drives = read_drives(path, sheet) if path.suffix.lower() in WORKBOOK_SUFFIXES else None
    tables = (drives,) if drives is not None else read_tables(path, "DRIVES", sheet=sheet, encoding=encoding)
    found, incomplete = [], []
    for table in tables:
        try:
            layout = find_layout(table)
        except InputError as problem:
            incomplete.append(problem)
        else:
            found += [(table, layout)] if layout is not None else []
    if not found and len(incomplete) == 1:
        raise incomplete[0]
    if not found and incomplete:
        each = "; ".join(f"{problem.argument} is {problem.value}" for problem in incomplete)
        raise InputError("--sheet", f"missing, and no sheet is a whole schedule ({each})", "one sheet")
    if not found:
        raise InputError(path.name, "without headings of a drive schedule", "tag, rating, pulses and others")
    if len(found) > 1:
        names = ", ".join(table.name.rpartition(", sheet ")[2] for table, _ in found)
        raise InputError("--sheet", None, f"one of the sheets with drives: {names}")
    return found[0]


def _place(rows: pd.DataFrame, sites: Sequence[DriveSite], layout: Layout) -> list[RowError]:
    """Site and bus of every row, in place; the site decides on the bus of a row without one."""
    problems = []
    known = {site.name.casefold(): site for site in sites}
    if len(sites) == 1:
        rows[SITE_FIELD] = sites[0].name
    else:
        for number, name in rows[SITE_FIELD].items():
            if str(name or "").strip().casefold() not in known:
                valid = "one of " + ", ".join(site.name for site in sites)
                problems.append(RowError(int(str(number)), layout.heading(SITE_FIELD), shown(name), valid))
        rows[SITE_FIELD] = [
            known[key].name if (key := str(name or "").strip().casefold()) in known else None
            for name in rows[SITE_FIELD]
        ]
    by_name: Mapping[str, DriveSite] = {site.name: site for site in sites}
    place = rows.groupby([SITE_FIELD, "bus", "volts"], sort=False, dropna=False).ngroup()
    first = rows[~place.duplicated()]
    buses = [
        _bus(by_name[site], name, volts) if site in by_name else None
        for site, name, volts in zip(first[SITE_FIELD], first["bus"], first["volts"], strict=True)
    ]
    rows["given bus"] = rows["bus"]
    rows["bus"] = np.array(buses, object)[place]
    return problems


def _bus(site: DriveSite, name: object, volts: object) -> str | None:
    if name is not None:
        return site.bus_of(str(name))
    return site.bus_for(volts if isinstance(volts, float) and not np.isnan(volts) else None)


def _broken_rules(
    rows: pd.DataFrame, sites: Sequence[DriveSite], layout: Layout, known: Sequence[RowError]
) -> list[RowError]:
    """Failures of the schema that are not the consequence of a cell that could not be read."""
    by_name = {site.name: site for site in sites}
    nominal = {(site.name, bus): volts for site in sites for bus, volts in site.bus_volts.items()}
    in_site, tags = rows[SITE_FIELD].tolist(), rows["tag"].tolist()
    places = list(zip(in_site, rows["bus"].tolist(), strict=True))
    checked = rows.copy()
    checked[KEY] = [
        f"{site}\n{tag.casefold()}" if isinstance(tag, str) else None
        for site, tag in zip(in_site, tags, strict=True)
    ]
    checked[PLACE] = [f"{site}\n{bus}" if bus is not None else None for site, bus in places]
    checked[VOLTS_RATIO] = rows["volts"] / np.array([nominal.get(place, np.nan) for place in places])
    reported = {(problem.row, problem.column) for problem in known}
    ratings = {column.heading for column in layout.of("rating")}
    whole = layout.heading("rating")
    reported |= {(problem.row, whole) for problem in known if problem.column in ratings}
    numbers = rows.index.tolist()
    site_of, bus_of, given_of = (
        dict(zip(numbers, cells, strict=True))
        for cells in (in_site, rows["bus"].tolist(), rows["given bus"].tolist())
    )
    bus_names = {site.name: site.bus_names for site in sites}
    problems = []
    for row, field, value, valid in failures(checked, {f"{site}\n{bus}" for site, bus in nominal}):
        site = by_name.get(str(site_of[row]))
        if field == "bus":
            value = given_of[row]
            valid = one_of(bus_names[site.name], str(value or "")) if site else valid
        if field == "volts" and (volts := nominal.get((site.name if site else "", str(bus_of[row])))):
            valid = f"{valid}, {volts:g} V"
        heading = layout.heading(field)
        no_site = field == "bus" and site is None
        if (row, heading) not in reported and not no_site:
            text = "missing" if value is None or value != value else shown(value)
            problems.append(RowError(row, heading, "" if text == "missing" else text, valid))
            reported.add((row, heading))
    del rows["given bus"]
    return problems


def _with_defaults(rows: pd.DataFrame, accepted: np.ndarray) -> pd.DataFrame:
    """Accepted rows with what their blank cells stand for; rejected ones stay as they are."""
    filled = rows.copy()
    for field in DRIVES.fields:
        if not field.required and field.default is not None:
            kept = filled[field.name].notna() | ~accepted
            filled[field.name] = filled[field.name].where(kept, field.default)
    by_amps = (filled["unit"] == INPUT_AMPS) & accepted
    filled.loc[by_amps & filled["efficiency pct"].isna(), "efficiency pct"] = NOT_NEEDED_PCT
    blank = filled["efficiency pct"].isna() & accepted
    filled[EFFICIENCY] = np.where(blank, ASSUMED, np.where(filled["efficiency pct"].isna(), "", GIVEN))
    filled.loc[blank, "efficiency pct"] = [
        efficiency_pct(rating, unit)
        for rating, unit in zip(filled.loc[blank, "rating"], filled.loc[blank, "unit"], strict=True)
    ]
    return filled


def _carried(converted: Converted) -> pd.DataFrame:
    columns = {name: pd.Series(cells, dtype=object) for name, cells in converted.carried.items()}
    index = pd.Index(converted.numbers, name="row")
    return pd.DataFrame(columns).set_axis(index) if columns else pd.DataFrame(index=index)


_DEFAULTS = {field.name: float(str(field.default)) for field in FILTER_FIELDS}
_PART_OF_A_FILTER = ["filter capacitor pct", "filter reactor pct", "filter tuned order", "filter damping pct"]


def misfits(rows: pd.DataFrame, layout: Layout) -> list[RowError]:
    """A problem for each row whose filter is incomplete or does not suit its front end.

    `rows` are sound otherwise; blank cells stand for the defaults.
    """
    filled = rows.fillna({**_DEFAULTS, "line reactor pct": 0.0})
    given = (filled[_PART_OF_A_FILTER] > 0.0).any(axis=1)
    problems = []
    for row, values in filled[given].iterrows():
        try:
            check_filter(
                {str(name): value for name, value in values.items()} | {"pulses": int(values["pulses"])}
            )
        except InputError as problem:
            heading = layout.heading(problem.argument)
            problems.append(RowError(int(str(row)), heading, shown(problem.value), problem.valid))
    return problems
