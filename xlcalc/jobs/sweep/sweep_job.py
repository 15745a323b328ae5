"""A sweep from files to a file."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import pandas as pd

from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError
from xlcalc.core.progress import Stopwatch
from xlcalc.files.reading import read_bytes
from xlcalc.io.lists.csv_table import LARGEST_BYTES
from xlcalc.io.lists.numerals import Decimal
from xlcalc.io.lists.schedule import Schedule, read_schedule
from xlcalc.io.plants.site import Site
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.io.results.outcome_sheet import outcome_sheet
from xlcalc.io.results.output import write_tables
from xlcalc.jobs.journal import Journal
from xlcalc.jobs.pools import Pool
from xlcalc.jobs.sweep.sweep_charts import CURVE_SHEET, LEVELS_SHEET, RANKS_SHEET, add_charts
from xlcalc.jobs.sweep.sweep_model import DOUBT, SweepModel, solution_text
from xlcalc.jobs.sweep.sweep_plant import SiteModel
from xlcalc.jobs.sweep.sweep_run import OUTPUTS, sweep
from xlcalc.jobs.sweep.sweep_spec import SweepSpec, read_spec
from xlcalc.jobs.sweep.sweep_tables import (
    by_place,
    curve_table,
    doubted,
    failing_anywhere_pct,
    failing_pct,
    level_table,
    place_name,
    rank_table,
    setup_table,
    weakest_first,
)
from xlcalc.schema.assembly.nameplate import is_by_nameplate

if TYPE_CHECKING:
    from openpyxl import Workbook

    from xlcalc.io.plants.plant_file import PlantSite

SHOWN_INPUTS = 5
TABLES = (LEVELS_SHEET, RANKS_SHEET, CURVE_SHEET, "combinations", "how")


def journal_path(output: Path) -> Path:
    """The journal of a sweep, beside its result."""
    return output.with_name(f"{output.name}.journal")


@dataclass(frozen=True)
class SweepResult:
    """Tables of a sweep.

    Parameters
    ----------
    samples, levels, ranks : DataFrame
        Every combination; P50, P95, worst; rank correlations.
    rejected_rows : int
        Rows of the schedule that are in no combination.
    """

    samples: pd.DataFrame
    levels: pd.DataFrame
    ranks: pd.DataFrame
    rejected_rows: int

    @property
    def complete(self) -> bool:
        """True where no row of the schedule and no combination is missing."""
        return self.rejected_rows == 0 and bool((self.samples["reason"] == "").all())

    def lines(self) -> Iterator[str]:
        """The result in a few lines."""
        tables = dict(self._places())
        for row in self.levels.to_dict("records"):
            place = place_name(row)
            if place and row["quantity"] == OUTPUTS[0]:
                yield f"{place}: verdict FAIL in {_share(failing_pct(tables[place]))} of the combinations"
            yield ("  " if place else "") + (
                f"{row['quantity']}: P50 {row['p50']:.4g}, P95 {row['p95']:.4g}, worst {row['worst']:.4g}; "
                f"above its limit in {row['above its limit pct']:.3g} % of the combinations"
            )
        where = " at one PCC or more" if len(tables) > 1 else ""
        failing = failing_anywhere_pct(self.samples)
        yield f"Verdict FAIL{where} in {_share(failing)} of the combinations with a result{self._estimated}"
        doubtful = self.samples[doubted(self.samples)]
        if len(doubtful):
            yield f"No verdict: {len(doubtful)} of {len(self.samples)} {self._rows}, such as:"
            yield from (f"  {reason}" for reason in doubtful[DOUBT].unique()[:3])
        weakest = place_name(weakest_first(self.samples)[0])
        yield "Inputs that matter most" + (f" at {weakest}, which keeps the least margin" if weakest else "")
        names = [f"rank correlation with {name}" for name in OUTPUTS]
        for row in self.ranks.head(min(SHOWN_INPUTS, len(self.ranks) // len(tables))).to_dict("records"):
            yield f"  {row['input']}: " + ", ".join(f"{name} {row[name]:.3f}" for name in names)
        missing = self.samples[self.samples["reason"] != ""]
        if len(missing):
            yield f"Missing: {len(missing)} of {len(self.samples)} {self._rows} have no result, such as:"
            yield from (f"  {reason}" for reason in missing["reason"].unique()[:3])
        if self.rejected_rows:
            yield f"Missing: {self.rejected_rows} rejected rows of the schedule are in no combination"

    @property
    def _estimated(self) -> str:
        """A word where a verdict is that of the quick estimate."""
        quick = "solution" in self.samples and (self.samples["solution"] == "quick estimate").any()
        return ' (quick estimate; solution = "coupled" in the sweep judges)' if quick else ""

    def _places(self) -> Iterator[tuple[str, pd.DataFrame]]:
        return ((place_name(place), table) for place, table in by_place(self.samples))

    @property
    def _rows(self) -> str:
        return "combinations and PCCs" if "pcc" in self.samples else "combinations"


def _share(percent: float) -> str:
    return "none" if percent != percent else f"{percent:.3g} %"


DRAWN_ANEW: Final = "what nameplates leave open of drives is drawn anew in each combination"


class SweepJob:
    """Reads, runs and writes a sweep; `read` first.

    Parameters
    ----------
    drives, site, spec : Path
        Schedule, site or plant, and what varies.
    samples, seed : int, optional
        Replace those of the spec.
    sheet, decimal, encoding
        As `read_schedule`.
    """

    schedule: Schedule
    _site: Site | PlantSite
    _spec: SweepSpec
    _model: SweepModel

    def __init__(
        self,
        drives: Path,
        site: Path,
        spec: Path,
        samples: int | None = None,
        seed: int | None = None,
        sheet: str | None = None,
        decimal: Decimal | None = None,
        encoding: str | None = None,
    ) -> None:
        self.clock = Stopwatch()
        self._solutions: dict[str, str] = {}
        self._files = drives, site, spec
        self._given = samples, seed
        self._how = sheet, decimal, encoding

    def read(self) -> None:
        """Read the three files.

        Raises
        ------
        InputError, WorkbookFileError
            One of them cannot be used, or the schedule has no sound row.
        """
        drives, site, spec = self._files
        sheet, decimal, encoding = self._how
        with self.clock.stage("read"):
            self._site = read_drive_site(site, decimal)
            self.schedule = read_schedule(
                drives, [self._site], sheet=sheet, decimal=decimal, encoding=encoding
            )
            rows = self.schedule.accepted
            if rows.empty:
                first = str(self.schedule.problems[0])
                raise InputError("DRIVES", f"without a sound row ({first})", "one sound row or more")
            read = self._read_spec(spec, rows)
            samples, seed = self._given
            self._spec = replace(
                read,
                samples=read.samples if samples is None else samples,
                seed=read.seed if seed is None else seed,
            )

    def _read_spec(self, spec: Path, rows: pd.DataFrame) -> SweepSpec:
        """Reads what varies, and makes the model."""
        site, tags = self._site, rows["tag"].tolist()
        if isinstance(site, Site):
            read = read_spec(spec, {"site": site.site, "settings": site.settings}, tags)
            self._model = model = SiteModel.of(read, site, rows)
            self._solutions = {site.name: solution_text(model.coupled)}
            return read
        from xlcalc.jobs.sweep.sweep_plant import PlantModel
        from xlcalc.jobs.sweep.sweep_plant_spec import read_plant_sweep

        of_plant = read_plant_sweep(spec, site, tags)
        self._model = PlantModel.of(of_plant, site, rows)
        self._solutions = {case: of_plant.solution(case) for case in site.cases}
        return of_plant.sweep

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of the result should know about how it is made."""
        cases = (f"{case}: {solution}" for case, solution in self._solutions.items())
        return (*cases, *([DRAWN_ANEW] if any(map(is_by_nameplate, self._model.records)) else []))

    @property
    def tasks(self) -> int:
        """Pieces of work."""
        return -(-len(self._spec.drawn()) // self._model.samples_per_task)

    def journal(self, output: Path) -> Journal:
        """The journal of this run beside its result; another file, spec or number is another run."""
        files = {
            path.name: hashlib.sha256(read_bytes(path, LARGEST_BYTES)).hexdigest() for path in self._files
        }
        sheet, decimal, encoding = self._how
        options = {
            "files": files,
            "samples": self._spec.samples,
            "seed": self._spec.seed,
            "reading": [sheet, decimal and decimal.value, encoding],
        }
        return Journal(journal_path(output), options)

    def run(
        self,
        pool: Pool,
        progress: Callable[[int, int], None] | None = None,
        journal: Journal | None = None,
        resume: bool = False,
    ) -> SweepResult:
        """Solve all combinations; raises as `xlcalc.jobs.sweep.sweep_run.sweep`."""
        rows = self.schedule.accepted
        with self.clock.stage("solve"):
            samples = sweep(self._spec, self._model, pool, progress, journal, resume)
        with self.clock.stage("evaluate"):
            ranks = rank_table(self._spec, samples)
            rejected = len(self.schedule.rows) - len(rows)
            return SweepResult(samples, level_table(samples), ranks, rejected)

    def write(self, result: SweepResult, output: Path) -> tuple[Path, ...]:
        """Write the tables, and charts into a workbook; raises as `write_tables`."""
        curve = curve_table(result.samples)
        inputs = len(self._spec.inputs)
        weakest = place_name(weakest_first(result.samples)[0])
        how = setup_table(self._spec, self._site, self._solutions, [str(p) for p in self.schedule.problems])
        tables = dict(zip(TABLES, (result.levels, result.ranks, curve, result.samples, how), strict=True))
        title = f"Sweep of {self._files[0].name}: {len(result.samples)} combinations"
        lines = [*self.notes, *result.lines(), CAUTION]

        def finish(book: Workbook) -> None:
            sheet, row = outcome_sheet(book, title, lines)
            add_charts(book, sheet, row, curve, inputs, weakest)

        with self.clock.stage("write"):
            return write_tables(tables, output, finish)
