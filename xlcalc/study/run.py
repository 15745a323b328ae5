"""The main job: schedule of drives + plant + standard -> currents, voltages and a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from xlcalc.errors import NoSolutionError
from xlcalc.progress import Progress
from xlcalc.study.drives import DriveResult, solve_drives, unsolved_text
from xlcalc.study.pcc import PccOptions, PccResult, assess_pcc
from xlcalc.study.plant import Plant

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class StudyResult:
    """What a study gives.

    Parameters
    ----------
    drives : tuple of DriveResult
        In the order of the schedule.
    pcc : PccResult or None
        None where a drive has no stable solution: a sum without it would be no result.
    """

    drives: tuple[DriveResult, ...]
    pcc: PccResult | None

    @property
    def unsolved(self) -> tuple[DriveResult, ...]:
        """Drives without a stable solution."""
        return tuple(result for result in self.drives if not result.stable)

    def require_pcc(self) -> PccResult:
        """The result at the PCC.

        Raises
        ------
        NoSolutionError
            A drive has no stable solution; the message names each by its tag.
        """
        if self.pcc is None:
            raise NoSolutionError(f"no result at the PCC, because {unsolved_text(self.drives)}")
        return self.pcc

    @property
    def summary(self) -> str:
        """The verdict with its binding item, or why there is none."""
        if self.pcc is None:
            tags = ", ".join(result.drive.tag for result in self.unsolved)
            return f"NO VERDICT: no stable solution for {tags}"
        return self.pcc.judgement.summary

    def drive_table(self) -> pd.DataFrame:
        """As `xlcalc.study.tables.drive_table`."""
        from xlcalc.study.tables import drive_table

        return drive_table(self.drives)

    def pcc_table(self) -> pd.DataFrame:
        """As `xlcalc.study.tables.pcc_table`.

        Raises
        ------
        NoSolutionError
            As `require_pcc`.
        """
        from xlcalc.study.tables import pcc_table

        return pcc_table(self.require_pcc())


def run_study(
    plant: Plant, options: PccOptions | None = None, progress: Progress | None = None
) -> StudyResult:
    """Solve every drive on the impedance of its bus, add the currents up, and judge the PCC.

    Each drive is solved as if it were alone on its bus: attenuation and diversity are NOT modelled, which
    overstates the distortion of a plant without capacitors.

    Parameters
    ----------
    plant : Plant
        Network, drives and linear loads.
    options : PccOptions, optional
        PCC, edition, demand current and summation.
    progress : callable, optional
        Called as ``progress(done, total)`` with the number of distinct front ends solved.

    Raises
    ------
    InputError
        An option does not fit the plant, or a drive's source reactance is out of range.
    NoSolutionError
        No demand current is given and no load draws current through the PCC.
    """
    chosen = options or PccOptions()
    plant.network.volts(chosen.pcc)
    drives = solve_drives(plant, progress)
    loads = [result.load for result in drives if result.load is not None and result.stable]
    if len(loads) < len(drives):
        return StudyResult(drives, None)
    return StudyResult(drives, assess_pcc(plant.network, loads, plant.linear_loads, chosen))
