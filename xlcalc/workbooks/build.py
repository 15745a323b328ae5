"""Building all templates into a folder, with values in every formula."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from openpyxl import Workbook

from xlcalc import __version__
from xlcalc.core import resources
from xlcalc.recalc.evaluation.certified import ordinary_functions
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import Issue
from xlcalc.workbooks.choice import choice_study
from xlcalc.workbooks.choice.choice_data import ChoiceData, option_rows, read_terms_rows
from xlcalc.workbooks.comparison import comparison_study
from xlcalc.workbooks.comparison.comparison_data import read_comparison
from xlcalc.workbooks.drive import drive_study
from xlcalc.workbooks.drive.drives_sheet import SPARE
from xlcalc.workbooks.drive.fill import fill_template
from xlcalc.workbooks.drive.study_data import StudyData, read_study
from xlcalc.workbooks.kit import package
from xlcalc.workbooks.plant import plant_study
from xlcalc.workbooks.plant.plant_data import PlantData, read_plant
from xlcalc.workbooks.proof import proof_study
from xlcalc.workbooks.proof.proof_example import example
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.reference import markdown

FUNCTION_PAGE = "FUNCTIONS.md"


def _drive_study() -> Workbook:
    starter = resources.folder("demo")
    return drive_study.build(read_study(starter / "starter_site.toml", starter / "starter_drives.csv"))


def _starter_plant() -> PlantData:
    starter = resources.folder("demo")
    return read_plant(starter / "starter_plant.toml", starter / "starter_plant_drives.csv")


def _choice_study() -> Workbook:
    starter = resources.folder("demo")
    options = option_rows(starter / "mitigation_options.csv", starter / "mitigation_residuals.csv")
    terms = read_terms_rows(starter / "starter_choice.toml")
    return choice_study.build(ChoiceData(_starter_plant(), options, terms))


_BUILDERS: Mapping[str, Callable[[], Workbook]] = MappingProxyType(
    {
        drive_study.FILE_NAME: _drive_study,
        plant_study.FILE_NAME: lambda: plant_study.build(_starter_plant()),
        comparison_study.FILE_NAME: lambda: comparison_study.build(
            read_comparison(resources.folder("demo") / "starter_comparison.toml")
        ),
        choice_study.FILE_NAME: _choice_study,
        proof_study.FILE_NAME: lambda: proof_study.build(example()),
    }
)


def build_template(name: str, folder: Path) -> Path:
    """Build one template, by its file name; one source gives the same bytes on one machine.

    Raises
    ------
    RuntimeError
        A formula of the template has no value; the message lists the cells.
    """
    return _with_values(_BUILDERS[name](), folder / name)


def build_all(folder: Path) -> tuple[Path, ...]:
    """Build every template and the page of functions, as `build_template` does."""
    page = folder / FUNCTION_PAGE
    page.write_text(function_page(), encoding="utf-8")
    return (*(build_template(name, folder) for name in _BUILDERS), page)


def function_page() -> str:
    """The reference of the worksheet functions, in Markdown."""
    return f"{markdown(FUNCTIONS)}\n{ordinary_functions()}"


def _with_values(book: Workbook, path: Path) -> Path:
    """Write the calculated template."""
    with tempfile.TemporaryDirectory() as scratch:
        raw = Path(scratch) / path.name
        package.save(book, raw)
        report = recalculate(
            raw, None, FUNCTIONS, stamp=f"xlcalc {__version__} template", now=package.TEMPLATE_DATE
        )
        if report.issues:
            raise RuntimeError("\n".join(map(_line, report.issues)))
        path.write_bytes(package.settled(raw.read_bytes()))
    return path


def _line(issue: Issue) -> str:
    return f"{issue.sheet}!{issue.cell}: {issue.outcome} {issue.reason}"


def demo_study() -> StudyData:
    """Inputs of the invented site."""
    folder = resources.folder("demo")
    return read_study(folder / "site.toml", folder / "drives.csv")


def build_demo(target: Path) -> None:
    """Write the filled workbook; its formulas hold no values until it is recalculated."""
    fill_template(resources.template("drive_study"), demo_study(), target)


def demo_plant() -> PlantData:
    """Inputs of the invented plant."""
    folder = resources.folder("demo")
    return read_plant(folder / "plant.toml", folder / "plant_drives.csv")


def build_plant_demo(target: Path) -> None:
    """Write the filled workbook; its formulas hold no values until it is recalculated."""
    package.save(plant_study.build(demo_plant(), SPARE), target)
