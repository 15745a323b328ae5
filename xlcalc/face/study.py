"""A plant with its drives, solved and judged."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError
from xlcalc.face.drive import Drive
from xlcalc.face.plant import DriveList, Plant, drive_list
from xlcalc.jobs.schedule.result_tables import ResultTables
from xlcalc.jobs.schedule.schedule_run import solve_schedule
from xlcalc.jobs.schedule.site_run import Solution
from xlcalc.standards.verdict import worst_word

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SHOWN = ("case", "pcc", "verdict", "reason", "il amps", "isc/il", "tdd pct", "limit tdd pct", "thdv pct")
"""Columns of `Study.pccs` that a notebook shows."""


class Study:
    """What a study gives; tables are DataFrames with the columns of the result files of `xlcalc schedule`."""

    def __init__(self, plant: Plant, tables: ResultTables, remarks: tuple[str, ...]) -> None:
        self.plant = plant
        self.reading = remarks
        self._tables = tables

    @property
    def verdict(self) -> str:
        """FAIL where any PCC fails in any case, else NO VERDICT where one has none, else PASS."""
        return worst_word(self._tables.sites["verdict"])

    @property
    def reason(self) -> str:
        """Why there is no verdict; empty where there is one."""
        return "; ".join(dict.fromkeys(filter(None, self._tables.sites["reason"])))

    @property
    def remarks(self) -> str:
        """What qualifies the verdict; empty where nothing does."""
        return "; ".join(dict.fromkeys(filter(None, self._tables.sites["remarks"])))

    def pccs(self) -> pd.DataFrame:
        """One row per case and PCC: verdict, Isc/IL, TDD, voltage distortion, limits, margin."""
        return self._tables.sites.copy()

    def drives(self) -> pd.DataFrame:
        """One row per drive of the schedule and case, rejected rows included, with the reason."""
        return self._tables.drives.copy()

    def orders(self) -> pd.DataFrame:
        """Current and voltage at each PCC by order, with their limits."""
        return self._tables.orders.copy()

    def phases(self) -> pd.DataFrame:
        """The three phases at each PCC where they differ, by order: values, limits, verdict on each phase.

        The last row of a PCC is of the whole. Empty where all phases are alike.
        """
        return self._tables.phases.copy()

    def buses(self) -> pd.DataFrame:
        """One row per case and bus: strength, currents, voltage distortion, of each phase too, unbalance."""
        return self._tables.buses.copy()

    def year(self) -> pd.DataFrame:
        """Duration curves of TDD, voltage THD and the binding order at each PCC.

        Empty unless the cases state their share of the year.
        """
        return self._tables.year.copy()

    def problems(self) -> pd.DataFrame:
        """Every cell of the schedule that cannot be used."""
        return self._tables.problems.copy()

    def plot(self) -> Figure:
        """Current and voltage at the first PCC by order against their limits, by matplotlib (extra `plot`).

        Raises
        ------
        InputError
            There is no solution to show.
        """
        if self._tables.orders.empty:
            raise InputError("study", self.reason or "without results", "one with a solution")
        from xlcalc.face.pictures import pcc_figure

        orders = self._tables.orders
        place = orders[[name for name in ("case", "pcc") if name in orders]]
        where = ", ".join(place.iloc[0].astype(str))
        first = orders[(place == place.iloc[0]).all(axis=1)]
        return pcc_figure(f"{self.plant.name}, {where}: {self.verdict}", first)

    def __repr__(self) -> str:
        reason = f": {self.reason}" if self.reason else ""
        return f"<{self.plant.name}: {self.verdict}{reason}>"

    def _repr_html_(self) -> str:
        from html import escape

        shown = self._tables.sites[[name for name in SHOWN if name in self._tables.sites]]
        lines = [f"<b>{escape(self.plant.name)}: {escape(self.verdict)}</b>", escape(self.remarks)]
        table = shown.to_html(index=False, float_format="{:.4g}".format)
        return "<br>".join(filter(None, lines)) + table + f"<small>{escape(CAUTION)}</small>"


def study(
    plant: Plant,
    drives: DriveList | Iterable[Drive] | pd.DataFrame | str | Path,
    *,
    solution: str = "coupled",
) -> Study:
    """Solve the drives of a plant together and judge every PCC in every case.

    Parameters
    ----------
    plant : Plant
    drives : sequence of Drive, DriveList, DataFrame, or a path
        A DataFrame has the headings of a drive schedule.
    solution : {'coupled', 'auto', 'quick'}
        Coupled judges; quick estimates every drive alone on its bus, without a verdict; auto couples up to 30
        kinds of drives.

    Raises
    ------
    InputError
        A value that does not fit. Rows of a table that cannot be used are no reason: the study then has no
        verdict and says which.

    Examples
    --------
    >>> transformer = {"transformer_kva": 1500, "transformer_z_pct": 5.75, "main_bus_volts": 480}
    >>> plant = Plant(utility_kv=13.8, utility_mva=200, settings={"supply": "ideal"}, **transformer)
    >>> found = study(plant, [Drive("P1", kw=200, pulses=6, dc_choke_pct=4), Drive("P2", kw=300, pulses=18)])
    >>> found.verdict, found.pccs()["tdd pct"].round(1).tolist()
    ('PASS', [12.8])
    """
    if solution not in list(Solution):
        raise InputError("solution", solution, f"one of {', '.join(Solution)}", wrong_kind=True)
    listed = drive_list(drives)
    schedule, tables = solve_schedule(listed.on([plant.site]), [plant.site], solution=Solution(solution))
    return Study(plant, tables, schedule.remarks)
