"""The command that prints a computed workbook as a submittal, and checks one.

Exit codes: 0 done or unaltered, 1 altered (what is named), 2 unusable arguments or file.
"""

from __future__ import annotations

from pathlib import Path

import click
from click.exceptions import Exit

from xlcalc.caution import CAUTION
from xlcalc.errors import InputError
from xlcalc.terminal import DONE, FILE, HAS_ERRORS, OVERWRITE, out

LISTED = 20


@click.command("submittal")
@click.argument("book", metavar="BOOK.xlsx", type=FILE)
@click.option("-o", "--output", type=FILE, help="Workbook of pages to write.")
@click.option("--pdf", type=FILE, help="Also write the pages as PDF.")
@click.option("--paper", default="a4", help="a4 or letter.")
@click.option("--as-stored", is_flag=True, help="Do not calculate a copy to prove the results.")
@click.option(
    "--check",
    "against",
    metavar="SUBMITTAL.xlsx|DIGEST",
    help="Compare BOOK.xlsx with a submittal.",
)
@OVERWRITE
def submittal_command(
    book: Path,
    output: Path | None,
    pdf: Path | None,
    paper: str,
    as_stored: bool,
    against: str | None,
    overwrite: bool,
) -> None:
    """Make the print-ready pages of BOOK.xlsx, computed by xlcalc, or check a workbook against them.

    Values are copied, never computed anew; a copy of the workbook is calculated only to prove that they
    follow from the inputs. With --check nothing is written: altered inputs, formulas and results are listed
    by sheet and cell.
    """
    if against is not None:
        if output is not None or pdf is not None:
            raise InputError("--check", against, "without -o and --pdf: a check writes nothing")
        raise Exit(_check(book, against))
    if output is None:
        raise InputError("-o", None, "the workbook of pages to write, or --check with a submittal")
    _write(book, output, pdf, paper, not as_stored, overwrite)


def _write(book: Path, output: Path, pdf: Path | None, paper: str, proof: bool, overwrite: bool) -> None:
    from xlcalc.files.outputs import check_outputs
    from xlcalc.workbooks.submittal import write_submittal
    from xlcalc.workbooks.submittal_pdf import office_for_pdf, write_pdf

    office = None
    if pdf is not None:
        if pdf.suffix.lower() != ".pdf":
            raise InputError("--pdf", str(pdf), "a file name that ends in .pdf")
        office = office_for_pdf()
    check_outputs([path for path in (output, pdf) if path is not None], [book], overwrite=overwrite)
    source = write_submittal(book, output, paper, proof)
    out.print(source.summary)
    out.print(f"Inputs SHA-256  {source.record.inputs_digest}")
    out.print(f"Results SHA-256 {source.record.results_digest}")
    out.print(f"Wrote {output}")
    if pdf is not None and office is not None:
        write_pdf(output, pdf, office)
        out.print(f"Wrote {pdf}")
    out.print(CAUTION)


def _check(book: Path, against: str) -> int:
    from xlcalc.workbooks.submittal_check import check
    from xlcalc.workbooks.submittal_pages import NOT_PROTECTED

    found = check(book, against)
    out.print(f"Inputs SHA-256  {found.record.inputs_digest}")
    out.print(f"Results SHA-256 {found.record.results_digest}")
    stamp = found.stamp or "none (saved by another program since, or never calculated by xlcalc)"
    out.print(f"Stamp of the last calculation: {stamp}")
    for title, listed in (("Workbook", found.differences), ("Pages of the submittal", found.pages)):
        if listed:
            out.print(f"{title}: {len(listed)} differ")
        for difference in listed[:LISTED]:
            out.print(f"  {difference.text}")
        if len(listed) > LISTED:
            out.print(f"  and {len(listed) - LISTED} more")
    if found.results_same is None:
        out.print(f"Digest: {_word(found.inputs_same)}")
        return DONE if found.unaltered else HAS_ERRORS
    out.print(f"Inputs and formulas: {_word(found.inputs_same)}")
    out.print(f"Results: {_word(found.results_same)}")
    out.print(f"Formats and settings: {_word(bool(found.rest_same))}")
    if found.not_made:
        out.print(f"Pages: NOT COMPARED, for none can be made again from the workbook: {found.not_made}")
    else:
        out.print(f"Pages: {'ALTERED' if found.pages else 'as made again from the workbook'}")
    if found.note:
        out.print(found.note)
    out.print(NOT_PROTECTED)
    return DONE if found.unaltered else HAS_ERRORS


def _word(same: bool) -> str:
    return "as in the submittal" if same else "ALTERED"
