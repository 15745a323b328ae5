"""Harmonic studies of AC drives: worksheet functions, workbook templates, headless recalculation.

From Python, names below are loaded when they are first used:

* `Drive`, `Supply` and `solve`: one drive on one supply, its waveform and spectrum;
* `Plant`, `Case`, `read_plant`, `read_schedule` and `study`: a plant with its drives, judged at its PCCs;
* `choose`, `sweep` and `recalculate`: what the commands of these names do;
* `read_record` and `verdict_by_percentiles`: what an instrument wrote, reduced and judged;
* `fit` and `fit_bus`: inputs of a drive, or of a bus of drives, and its supply that explain records;
* `InputError` and `NoSolutionError`: what all of these raise.
"""

from __future__ import annotations

TYPE_CHECKING = False
"""As in typing, whose import is most of the time in which an interrupt would show a traceback."""

__version__ = "0.2.0"

_FACE = {
    "Drive": "face.drive",
    "DriveSolution": "face.drive",
    "Supply": "face.drive",
    "solve": "face.drive",
    "Case": "face.plant",
    "Plant": "face.plant",
    "DriveList": "face.plant",
    "read_plant": "face.plant",
    "read_schedule": "face.plant",
    "Study": "face.study",
    "study": "face.study",
    "choose": "face.jobs",
    "recalculate": "face.jobs",
    "sweep": "face.jobs",
    "Record": "face.record",
    "read_record": "face.record",
    "verdict_by_percentiles": "face.percentiles",
    "Fit": "face.fit",
    "fit": "face.fit",
    "BusFit": "face.fit_bus",
    "fit_bus": "face.fit_bus",
    "InputError": "core.errors",
    "NoSolutionError": "core.errors",
}

__all__ = [
    "BusFit",
    "Case",
    "Drive",
    "DriveList",
    "DriveSolution",
    "Fit",
    "InputError",
    "NoSolutionError",
    "Plant",
    "Record",
    "Study",
    "Supply",
    "__version__",
    "choose",
    "fit",
    "fit_bus",
    "read_plant",
    "read_record",
    "read_schedule",
    "recalculate",
    "solve",
    "study",
    "sweep",
    "verdict_by_percentiles",
]

if TYPE_CHECKING:
    from xlcalc.core.errors import InputError, NoSolutionError
    from xlcalc.face.drive import Drive, DriveSolution, Supply, solve
    from xlcalc.face.fit import Fit, fit
    from xlcalc.face.fit_bus import BusFit, fit_bus
    from xlcalc.face.jobs import choose, recalculate, sweep
    from xlcalc.face.percentiles import verdict_by_percentiles
    from xlcalc.face.plant import Case, DriveList, Plant, read_plant, read_schedule
    from xlcalc.face.record import Record, read_record
    from xlcalc.face.study import Study, study


def __getattr__(name: str) -> object:
    if name not in _FACE:
        raise AttributeError(f"module 'xlcalc' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"xlcalc.{_FACE[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
