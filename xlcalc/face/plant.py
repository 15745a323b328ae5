"""A plant and the drives on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Self

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.face.drive import Drive, given, in_columns, shown
from xlcalc.io.lists.convert import Converted, convert, spoken
from xlcalc.io.lists.layout import Layout, find_layout
from xlcalc.io.lists.numerals import Decimal
from xlcalc.io.lists.rawtable import RawTable
from xlcalc.io.lists.schedule import Schedule, checked, find_table
from xlcalc.io.plants.plant_file import PlantSite, plant_from
from xlcalc.io.plants.site import DriveSite, Site, site_from
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.nameplate import ByNameplate

Table = pd.DataFrame | Sequence[Mapping[str, object]]


@dataclass(frozen=True, repr=False)
class Case:
    """One way to run a plant of buses; None takes the value of the settings.

    Parameters
    ----------
    name : str
        Each once.
    short_circuit : {'maximum', 'minimum'}, optional
        Level of the utility; maximum by default.
    generators : {'on', 'off', 'alone'}, optional
        Alone: without the utility; on by default.
    capacitors : {'on', 'off'}, optional
        On by default.
    out_of_service : sequence of str, optional
        Elements, buses and drives.

    Examples
    --------
    >>> Case("Weak", short_circuit="minimum", out_of_service=("Bank",))
    Case('Weak', short_circuit='minimum', out_of_service=('Bank',))
    """

    name: str
    _: KW_ONLY
    short_circuit: str | None = None
    generators: str | None = None
    capacitors: str | None = None
    out_of_service: Sequence[str] | None = None

    @property
    def row(self) -> dict[str, object]:
        """Its row of the table of cases."""
        values = in_columns(given(self))
        if self.out_of_service is not None:
            values["out of service"] = "; ".join(self.out_of_service)
        return values

    def __repr__(self) -> str:
        return shown(self)


class Plant:
    """The supply of a site, on which drives can be studied.

    Either a chain of one or two transformers, or a network of buses.

    Parameters
    ----------
    name : str
        Goes into the results.
    settings : mapping of str to value, optional
        Names of the range `settings` of the worksheet functions: edition, unbalance, drive model.
    cases : sequence of Case
        Ways to run a network of buses; without any, all is in service.
    **values
        For a chain the names of the range `site` with underscores: ``utility_kv``, ``utility_mva``,
        ``transformer_kva``, ``transformer_z_pct`` and ``main_bus_volts``, and what may be left out, such as
        ``utility_xr``, ``linear_load_kw``, ``capacitor_mvar``, ``demand_amps``, ``pcc``. For a network its
        tables: ``buses``, ``utility``, ``transformers``, ``cables`` and so on, each a DataFrame or a sequence
        of mappings, with the columns of the worksheet functions.

    Raises
    ------
    InputError
        An unknown name, a value that is missing or out of range, values that do not fit each other.

    Examples
    --------
    >>> transformer = {"transformer_kva": 1500, "transformer_z_pct": 5.75, "main_bus_volts": 480}
    >>> Plant(utility_kv=13.8, utility_mva=200, **transformer)
    <plant: utility 13800 V, main 480 V>
    >>> Plant("mill", buses=[{"name": "Grid", "kv": 20}], utility=[{"bus": "Grid", "max mva": 250}])
    <mill: Grid 20000 V>
    """

    def __init__(
        self,
        name: str = "plant",
        *,
        settings: Mapping[str, object] | None = None,
        cases: Sequence[Case] = (),
        **values: Any,
    ) -> None:
        self._site: Site | PlantSite
        if "buses" in values:
            tables = {title.replace("_", " "): _records(table) for title, table in values.items()}
            rows = [case.row for case in cases]
            self._site = plant_from(Path(name), {**tables, "settings": dict(settings or {}), "cases": rows})
            return
        if cases:
            raise InputError("cases", [case.name for case in cases], "none without a table of buses")
        self._site = site_from(name, {"site": in_columns(values), "settings": dict(settings or {})})

    @classmethod
    def of(cls, site: Site | PlantSite) -> Self:
        """The plant of a site that was read."""
        plant = cls.__new__(cls)
        plant._site = site
        return plant

    @property
    def site(self) -> Site | PlantSite:
        """As a schedule is run on it."""
        return self._site

    @property
    def name(self) -> str:
        """Goes into the results."""
        return self._site.name

    @property
    def buses(self) -> dict[str, float]:
        """Line-to-line volts by bus."""
        return dict(self._site.all_volts)

    def __repr__(self) -> str:
        return f"<{self.name}: {', '.join(f'{bus} {volts:g} V' for bus, volts in self.buses.items())}>"


@dataclass(frozen=True, repr=False, eq=False)
class DriveList:
    """Drives as a file or a table lists them.

    Parameters
    ----------
    table : RawTable
    layout : Layout
        Which column means what.
    decimal : Decimal, optional
        Decimal sign, where the table does not show it.
    """

    table: RawTable
    layout: Layout
    decimal: Decimal | None = None

    @classmethod
    def of_rows(cls, headings: Sequence[object], rows: Iterable[Sequence[object]], name: str) -> Self:
        """Of rows below headings as a schedule has them.

        Parameters
        ----------
        headings : sequence
            In any order, as `xlcalc headings` lists them.
        rows : iterable of sequences
            One value for each heading; None is a blank cell.
        name : str
            Of the table, for messages.

        Raises
        ------
        InputError
            A heading is missing or probably misspelt.
        """
        cells: Any = [[str(heading) for heading in headings], *([_cell(one) for one in row] for row in rows)]
        table = RawTable(name, cells, texts=False)
        layout = find_layout(table)
        if layout is None:
            raise InputError(name, list(headings), "headings of a drive schedule: tag, rating, pulses ...")
        return cls(table, layout)

    @cached_property
    def _converted(self) -> Converted:
        return convert(self.table, self.layout, self.decimal)

    @property
    def frame(self) -> pd.DataFrame:
        """What was read, by row of the file; blank cells are missing values."""
        return spoken(self._converted.frame())

    @property
    def problems(self) -> tuple[str, ...]:
        """Cells that could not be read."""
        return tuple(str(problem) for problem in self._converted.problems)

    def on(self, sites: Sequence[DriveSite]) -> Schedule:
        """Checked and placed on the buses of a site."""
        return checked(self.table, self.layout, sites, self.decimal)

    def __len__(self) -> int:
        return len(self._converted.numbers)

    def __repr__(self) -> str:
        problems = f", {len(self.problems)} cells not understood" if self.problems else ""
        return f"<{self.table.name}: {len(self)} rows{problems}>"

    def _repr_html_(self) -> str:
        return str(self.frame.to_html(max_rows=20, na_rep=""))


def read_plant(path: str | Path, *, decimal: str | None = None) -> Plant:
    """Read a plant.

    Parameters
    ----------
    path : str or Path
        A chain of transformers or a network of buses: .toml, a workbook made from a template, or for a chain
        .csv or a workbook with rows of name and value.
    decimal : {'point', 'comma'}, optional
        Decimal sign of a CSV file that does not show it.

    Raises
    ------
    InputError
        The file cannot be used; the message names file, table and cell.
    WorkbookFileError
        It is not a valid workbook.
    """
    return Plant.of(read_drive_site(Path(path), _sign(decimal)))


def read_schedule(
    path: str | Path, *, sheet: str | None = None, decimal: str | None = None, encoding: str | None = None
) -> DriveList:
    """Read a drive schedule.

    Parameters
    ----------
    path : str or Path
        .csv, .txt, .tsv, .xlsx, .xlsm, .ods or .parquet; headings in any order, other lines above and other
        columns beside them.
    sheet : str, optional
        Where several sheets hold drives.
    decimal : {'point', 'comma'}, optional
    encoding : str, optional
        Of a CSV file, where it cannot be seen.

    Raises
    ------
    InputError
        The file as a whole cannot be used. Bad cells are no reason: they are in `DriveList.problems`, and a
        study without them has no verdict.
    WorkbookFileError
        It is not a valid workbook.
    """
    sign = _sign(decimal)
    table, layout = find_table(Path(path), sheet, encoding)
    return DriveList(table, layout, sign)


def drive_list(drives: DriveList | Iterable[Drive] | pd.DataFrame | str | Path) -> DriveList:
    """Drives in any of the ways that a study takes them.

    Raises
    ------
    InputError
        No drives, or something else among them.
    """
    if isinstance(drives, DriveList):
        return drives
    if isinstance(drives, str | Path):
        return read_schedule(drives)
    if isinstance(drives, pd.DataFrame):
        return DriveList.of_rows(list(drives.columns), drives.itertuples(index=False), "drives")
    listed = list(drives)
    wrong = next((one for one in listed if not isinstance(one, Drive)), None)
    if wrong is not None or not listed:
        raise InputError("drives", wrong, "drives, a table of them or a file", wrong_kind=True)
    headings = [field.name for field in DRIVES.fields]
    rows = ({**drive.values, "bus": drive.bus} for drive in listed)
    return DriveList.of_rows(headings, ([row[heading] for heading in headings] for row in rows), "drives")


def _records(table: Table) -> list[dict[str, object]]:
    rows = table.to_dict("records") if isinstance(table, pd.DataFrame) else table
    return [{str(name): _cell(value) for name, value in row.items()} for row in rows]


def _cell(value: Any) -> object:
    """A value as a cell holds it."""
    if isinstance(value, ByNameplate):
        return value.text
    plain = value.item() if hasattr(value, "item") else value
    return None if plain is None or plain != plain else plain


def _sign(decimal: str | None) -> Decimal | None:
    if decimal is None:
        return None
    try:
        return Decimal(decimal)
    except ValueError:
        valid = f"one of {', '.join(Decimal)}"
        raise InputError("decimal", decimal, valid, wrong_kind=True) from None
