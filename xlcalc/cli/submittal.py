"""The command that prints a computed workbook as a submittal, and checks one.

Exit codes: 0 done or unaltered, 1 altered (what is named), 2 unusable arguments or file.
"""

from __future__ import annotations

from pathlib import Path

import click
from click.exceptions import Exit

from xlcalc.cli.terminal import DONE, FILE, HAS_ERRORS, OVERWRITE, PLOTS, out
from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError

LISTED = 20


@click.command("submittal")
@click.argument("book", metavar="BOOK.xlsx", type=FILE, required=False)
@click.option("-o", "--output", type=FILE, help="Workbook of pages to write.")
@click.option("--pdf", type=FILE, help="Also write the pages as PDF.")
@PLOTS
@click.option("--paper", default="a4", help="a4 or letter.")
@click.option("--as-stored", is_flag=True, help="Do not calculate a copy to prove the results.")
@click.option(
    "--check",
    "against",
    metavar="SUBMITTAL.xlsx|DIGEST",
    help="Compare BOOK.xlsx with a submittal.",
)
@click.option("--sign", metavar="KEY", type=FILE, help="Sign the pages: writes SUBMITTAL.xlsx.sig too.")
@click.option("--public", metavar="KEY.pub", type=FILE, help="With --check: verify who signed the pages.")
@click.option("--new-key", metavar="KEY", type=FILE, help="Make a key to sign with: writes KEY and KEY.pub.")
@OVERWRITE
def submittal_command(
    book: Path | None,
    output: Path | None,
    pdf: Path | None,
    plots: Path | None,
    paper: str,
    as_stored: bool,
    against: str | None,
    sign: Path | None,
    public: Path | None,
    new_key: Path | None,
    overwrite: bool,
) -> None:
    """Make the print-ready pages of BOOK.xlsx, computed by xlcalc, or check a workbook against them.

    Values are copied, never computed anew, but for waveform and spectrum of every kind of drive; a copy of
    the workbook is calculated only to prove that they follow from the inputs. With --check nothing is
    written: the pages are made again from the workbook, and whatever differs is listed by sheet and cell.

    A signature shows who made the pages. It covers the bytes of the file; its key is worth what the way is
    worth by which the public key came.
    """
    if new_key is not None:
        if book is not None or output is not None or against is not None:
            raise InputError("--new-key", str(new_key), "alone: it makes a key and nothing else")
        _make_key(new_key)
        return
    if book is None:
        raise InputError("BOOK.xlsx", None, "a computed workbook, or --new-key")
    if public is not None and against is None:
        raise InputError(
            "--public", str(public), "used with --check, which verifies the signature of the pages"
        )
    if against is not None:
        if any(given is not None for given in (output, pdf, sign, plots)):
            raise InputError(
                "--check", against, "without -o, --pdf, --plots and --sign: a check writes nothing"
            )
        raise Exit(_check(book, against, public))
    if output is None:
        raise InputError("-o", None, "the workbook of pages to write, or --check with a submittal")
    if plots is not None:
        from xlcalc.cli.plots import check_folder

        check_folder(plots, overwrite=overwrite)
    _write(book, output, pdf, paper, not as_stored, sign, overwrite)
    if plots is not None:
        _plot(book, plots)


def _make_key(path: Path) -> None:
    from xlcalc.files.signing import PUBLIC, new_key

    fingerprint = new_key(path)
    out.print(f"Wrote {path}, the private key: whoever has it signs in your name, and there is no other copy")
    out.print(f"Wrote {path}{PUBLIC}, the public key, for those who check")
    out.print(f"Fingerprint SHA256:{fingerprint}")


def _write(
    book: Path, output: Path, pdf: Path | None, paper: str, proof: bool, sign: Path | None, overwrite: bool
) -> None:
    from xlcalc.files.outputs import check_outputs
    from xlcalc.files.signing import fingerprint, read_private, signature_path
    from xlcalc.workbooks.pages.submittal import write_submittal
    from xlcalc.workbooks.pages.submittal_pdf import office_for_pdf, write_pdf

    office = None
    if pdf is not None:
        if pdf.suffix.lower() != ".pdf":
            raise InputError("--pdf", str(pdf), "a file name that ends in .pdf")
        office = office_for_pdf()
    outputs = [path for path in (output, pdf) if path is not None]
    key = None
    if sign is not None:
        key = read_private(sign)
        outputs.append(signature_path(output))
    inputs = [path for path in (book, sign) if path is not None]
    check_outputs(outputs, inputs, overwrite=overwrite)
    source = write_submittal(book, output, paper, proof, key)
    out.print(source.summary)
    out.print(f"Inputs SHA-256  {source.record.inputs_digest}")
    out.print(f"Results SHA-256 {source.record.results_digest}")
    out.print(f"Wrote {output}")
    if key is not None:
        out.print(f"Wrote {signature_path(output)}, by the key SHA256:{fingerprint(key.public_key())}")
    if pdf is not None and office is not None:
        write_pdf(output, pdf, office)
        out.print(f"Wrote {pdf}")
    out.print(CAUTION)


def _plot(book: Path, folder: Path) -> None:
    from xlcalc.cli.plots import write_pictures
    from xlcalc.workbooks.pages.submittal_plots import pictures_of

    out.print(write_pictures(folder, pictures_of(book), [book]))


def _check(book: Path, against: str, public: Path | None) -> int:
    from xlcalc.files.signing import read_public, verify
    from xlcalc.workbooks.pages.submittal_check import HEX, check
    from xlcalc.workbooks.pages.submittal_pages import NOT_PROTECTED

    signed = None
    if public is not None:
        if HEX.fullmatch(against.strip().casefold()):
            raise InputError(
                "--public", str(public), "used with the file of a submittal; a digest has no signature"
            )
        signed = verify(Path(against), read_public(public))
        out.print(f"Signature: {signed.text}")
        if not signed.valid:
            out.print("Nothing is known about who made the pages; they are compared nevertheless.")
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
    for note in found.notes:
        out.print(note)
    out.print(NOT_PROTECTED)
    if signed is None:
        out.print(f"Signature: {_unverified(Path(against))}")
    return DONE if found.unaltered and (signed is None or signed.valid) else HAS_ERRORS


def _unverified(submittal: Path) -> str:
    from xlcalc.files.signing import signature_path

    beside = signature_path(submittal)
    if beside.is_file():
        return f"not verified; {beside.name} is there, give the public key of the maker with --public"
    return "none"


def _word(same: bool) -> str:
    return "as in the submittal" if same else "ALTERED"
