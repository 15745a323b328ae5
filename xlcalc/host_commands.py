"""The commands that bring the functions into spreadsheet programs and check them there."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from xlcalc import resources
from xlcalc.errors import InputError
from xlcalc.terminal import DONE, HAS_ERRORS, out

if TYPE_CHECKING:
    from xlcalc.hosts.steps import Step

host_app = typer.Typer(
    name="host",
    help="Live functions in a spreadsheet program.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


class Host(StrEnum):
    """Spreadsheet programs that can be set up."""

    LIBREOFFICE = "libreoffice"
    EXCEL = "excel"


Program = Annotated[Host, typer.Argument(metavar="HOST", help="libreoffice or excel.")]
OfficeFolder = Annotated[Path | None, typer.Option("--office", help="Program folder of LibreOffice.")]
Folder = Annotated[Path, typer.Option("--folder", help="Excel: where the workbook and the VBA module go.")]
Template = Annotated[str, typer.Option("--template", help="Excel: template to copy with macros.")]


@host_app.command()
def install(
    host: Program, office: OfficeFolder = None, folder: Folder = Path(), template: Template = "drive_study"
) -> None:
    """Set up the functions in a spreadsheet program."""
    from xlcalc.hosts.excel import install as excel_install
    from xlcalc.hosts.libreoffice import install as office_install
    from xlcalc.hosts.libreoffice.office import find_office
    from xlcalc.worksheet.catalogue import FUNCTIONS

    if host is Host.LIBREOFFICE:
        place = office_install.install(find_office(office), FUNCTIONS)
        out.print(f"Installed {place}.", markup=False)
        out.print("Restart LibreOffice, then run: xlcalc host check libreoffice")
        return
    written = excel_install.install(folder, resources.template(template), FUNCTIONS)
    out.print(f"Wrote {written.book} and {written.module}.", markup=False)
    for number, text in enumerate(excel_install.next_steps(written), start=1):
        out.print(f"{number}. {text}", markup=False)


@host_app.command()
def remove(host: Program, office: OfficeFolder = None, folder: Folder = Path()) -> None:
    """Take the functions out of a spreadsheet program."""
    from xlcalc.hosts.excel import install as excel_install
    from xlcalc.hosts.libreoffice import install as office_install
    from xlcalc.hosts.libreoffice.office import find_office

    if host is Host.LIBREOFFICE:
        place = office_install.remove(find_office(office))
        out.print(f"Removed {place}.", markup=False)
        return
    removed = excel_install.remove(folder)
    if not removed:
        raise InputError("--folder", str(folder), "a folder with files written by xlcalc host install excel")
    for path in removed:
        out.print(f"Removed {path}.", markup=False)


@host_app.command()
def check(
    host: Program,
    office: OfficeFolder = None,
    folder: Folder = Path(),
) -> None:
    """Say, step by step, whether the functions work in a spreadsheet program."""
    from xlcalc.hosts.excel import check as excel_check
    from xlcalc.hosts.libreoffice import check as office_check
    from xlcalc.hosts.libreoffice.office import find_office
    from xlcalc.worksheet.catalogue import FUNCTIONS

    if host is Host.LIBREOFFICE:
        steps = office_check.check(find_office(office), FUNCTIONS)
    else:
        steps = excel_check.check(folder, FUNCTIONS)
    _print_steps(steps)
    raise typer.Exit(DONE if all(step.good for step in steps) else HAS_ERRORS)


def _print_steps(steps: list[Step]) -> None:
    for step in steps:
        out.print(f"{'ok     ' if step.good else 'missing'}  {step.what}", markup=False)
        if step.advice:
            out.print(f"         {step.advice}", markup=False)
