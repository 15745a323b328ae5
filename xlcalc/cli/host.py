"""The commands that bring the functions into spreadsheet programs and check them there."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.exceptions import Exit

from xlcalc.cli.terminal import DONE, FILE, HAS_ERRORS, OVERWRITE, UNUSABLE, out
from xlcalc.core import resources
from xlcalc.core.errors import InputError

if TYPE_CHECKING:
    from xlcalc.hosts.steps import Step


class Host(StrEnum):
    """Spreadsheet programs that can be set up."""

    LIBREOFFICE = "libreoffice"
    EXCEL = "excel"


_PROGRAM = click.argument("program", metavar="HOST", type=click.Choice([host.value for host in Host]))
_OFFICE = click.option("--office", type=FILE, help="Program folder of LibreOffice.")
_FOLDER = click.option("--folder", type=FILE, help="Excel: where the files go; here if not given.")
DEFAULT_TEMPLATE = "drive_study"


@click.group("host")
def host_commands() -> None:
    """Live functions in a spreadsheet program, HOST: libreoffice or excel."""


@host_commands.command()
@_PROGRAM
@_OFFICE
@_FOLDER
@click.option("--template", help="Excel: template to copy with macros, drive_study if not given.")
@click.option(
    "--add-in", is_flag=True, help="Excel: an add-in for every workbook, not a workbook with macros."
)
@click.option("--python", help="Excel: path of python.exe on the Windows machine, if this is not it.")
@click.option("--modules", is_flag=True, help="Excel: only the VBA modules as text, to import by hand.")
def install(
    program: str,
    office: Path | None,
    folder: Path | None,
    template: str | None,
    add_in: bool,
    python: str | None,
    modules: bool,
) -> None:
    """Set up the functions in a spreadsheet program."""
    host = Host(program)
    of_excel = {"--folder": folder, "--template": template, "--add-in": add_in, "--python": python}
    of_excel["--modules"] = modules
    _refuse_options_of_the_other(host, office, of_excel)
    from xlcalc.hosts.excel import install as excel_install
    from xlcalc.hosts.libreoffice import install as office_install
    from xlcalc.hosts.libreoffice.programs.office import find_office
    from xlcalc.worksheet.catalogue import FUNCTIONS

    if host is Host.LIBREOFFICE:
        found = find_office(office)
        if office_install.for_everybody(found) and sys.stdin.isatty():
            question = f"Install for all users of this machine, in {found.shared_extensions}?"
            if not click.confirm(question):
                out.print("Nothing was installed. Run the command as the user who needs the functions.")
                raise Exit(UNUSABLE)
        place = office_install.install(found, FUNCTIONS)
        _compile_solver()
        out.print(f"Installed {place}.")
        if os.environ.get("VIRTUAL_ENV"):
            out.print(
                "Start LibreOffice from the menu or from a shell without an active Python environment: from "
                "this one its own Python finds the wrong libraries and no workbook opens."
            )
        out.print("Restart LibreOffice, then run: xlcalc host check libreoffice")
        return
    if add_in and template is not None:
        raise InputError("--template", template, "given without --add-in, which needs no template")
    folder = folder or Path()
    if modules:
        texts = excel_install.write_modules(folder, FUNCTIONS)
        _print_numbered(f"Wrote {texts}.", excel_install.import_steps(texts))
        return
    if add_in:
        written = excel_install.install_add_in(folder, FUNCTIONS, python)
    else:
        source = resources.template(template or DEFAULT_TEMPLATE)
        written = excel_install.install(folder, source, FUNCTIONS, python)
    if python is None:
        _compile_solver()
    _print_numbered(f"Wrote {written}.", excel_install.next_steps(written, python))


@host_commands.command()
@_PROGRAM
@_OFFICE
@_FOLDER
def remove(program: str, office: Path | None, folder: Path | None) -> None:
    """Take the functions out of a spreadsheet program."""
    host = Host(program)
    _refuse_options_of_the_other(host, office, {"--folder": folder})
    from xlcalc.hosts.excel import install as excel_install
    from xlcalc.hosts.libreoffice import install as office_install
    from xlcalc.hosts.libreoffice.programs.office import find_office

    if host is Host.LIBREOFFICE:
        place = office_install.remove(find_office(office))
        out.print(f"Removed {place}.")
        return
    removed = excel_install.remove(folder or Path())
    if not removed:
        raise InputError(
            "--folder", str(folder or Path()), "a folder with files written by xlcalc host install excel"
        )
    for path in removed:
        out.print(f"Removed {path}.")


@host_commands.command()
@_PROGRAM
@_OFFICE
@_FOLDER
def check(program: str, office: Path | None, folder: Path | None) -> None:
    """Check, step by step, whether the functions work in a spreadsheet program."""
    host = Host(program)
    _refuse_options_of_the_other(host, office, {"--folder": folder})
    from xlcalc.hosts.excel import check as excel_check
    from xlcalc.hosts.libreoffice import check as office_check
    from xlcalc.hosts.libreoffice.programs.office import find_office
    from xlcalc.worksheet.catalogue import FUNCTIONS

    if host is Host.LIBREOFFICE:
        steps = office_check.check(find_office(office), FUNCTIONS)
    else:
        if sys.platform == "win32":
            _compile_solver()
        steps = excel_check.check(folder or Path(), FUNCTIONS)
    _print_steps(steps)
    raise Exit(DONE if all(step.good for step in steps) else HAS_ERRORS)


@host_commands.command()
@_PROGRAM
@click.option("-o", "--output", type=FILE, required=True, help="The workbook to write, such as proof.xlsm.")
@click.option("--python", help="Path of python.exe on the Windows machine, if this is not it.")
@OVERWRITE
def proof(program: str, output: Path, python: str | None, overwrite: bool) -> None:
    """Write a workbook that proves the functions in Excel itself: it runs its checks when it is opened.

    Its sheet Proof turns green or red and names the file with the results.
    """
    from xlcalc.files.outputs import check_outputs
    from xlcalc.files.writing import write_file
    from xlcalc.hosts.excel.proof import proof_book
    from xlcalc.worksheet.catalogue import FUNCTIONS

    if Host(program) is not Host.EXCEL:
        raise InputError("HOST", program, "excel; LibreOffice is proved by: xlcalc host check libreoffice")
    if output.suffix.lower() != ".xlsm":
        raise InputError("-o", str(output), "a file name that ends in .xlsm")
    check_outputs([output], [], overwrite=overwrite)
    write_file(output, [proof_book(FUNCTIONS, python)])
    out.print(f"Wrote {output}. Open it in Excel on the Windows machine and enable its macros.")


def _compile_solver() -> None:
    """Have the solver ready, so that the first cell does not wait half a minute for it."""
    from xlcalc.recalc.evaluate import evaluate_formula
    from xlcalc.worksheet.catalogue import FUNCTIONS

    evaluate_formula("=HD_THD(HD_SPECTRUM(6,1))", FUNCTIONS)


def _refuse_options_of_the_other(host: Host, office: Path | None, of_excel: Mapping[str, object]) -> None:
    """An option that would be passed over is a misunderstanding."""
    if host is Host.EXCEL and office is not None:
        raise InputError("--office", str(office), "given with libreoffice only")
    for option, value in of_excel.items():
        if host is Host.LIBREOFFICE and value:
            raise InputError(option, "given" if value is True else str(value), "given with excel only")


def _print_numbered(done: str, steps: list[str]) -> None:
    out.print(done)
    for number, text in enumerate(steps, start=1):
        out.print(f"{number}. {text}")


def _print_steps(steps: list[Step]) -> None:
    for step in steps:
        out.print(f"{'ok     ' if step.good else 'missing'}  {step.what}")
        if step.advice:
            out.print(f"         {step.advice}")
