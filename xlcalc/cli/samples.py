"""The command that lays out the sample files, and an example for the help of every command.

Exit codes: 0 done, 2 unusable arguments or file.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

from xlcalc.cli.terminal import FILE, OVERWRITE, out
from xlcalc.core import resources

GUIDE: Final = "README.md"
EXAMPLES: Final = {
    "demo": "xlcalc demo plant -o plant.xlsx",
    "new": "xlcalc new drive_study study.xlsx --drives drives.csv --site site.toml",
    "recalc": "xlcalc recalc study.xlsx -o done.xlsx --reasons",
    "eval": "xlcalc eval '=HD_THD(HD_SPECTRUM(6,0.5,3))'",
    "functions": "xlcalc functions HD_SPECTRUM",
    "schedule": "xlcalc schedule drives.csv --site site.toml -o results.xlsx",
    "headings": "xlcalc headings",
    "sweep": "xlcalc sweep drives.csv --site site.toml --spec sweep.toml -o sweep.xlsx",
    "choose": "xlcalc choose site.toml --drives drives.csv --terms choice.toml -o choice.xlsx",
    "submittal": "xlcalc submittal study.xlsx -o pages.xlsx --pdf pages.pdf",
    "samples": "xlcalc samples samples",
}
"""The files are those that `xlcalc samples` lays out."""


@click.command("samples")
@click.argument("folder", metavar="DIR", type=FILE)
@OVERWRITE
def samples(folder: Path, overwrite: bool) -> None:
    """Lay out every sample file in DIR, with a guide that says what each is for.

    Sites, lists of drives, plants, terms, options and uncertain inputs, all of them invented.
    """
    from xlcalc.files.outputs import check_outputs
    from xlcalc.files.writing import write_files

    files = sorted(path for path in resources.folder("demo").iterdir() if path.is_file())
    targets = {folder / path.name: [path.read_bytes()] for path in files}
    folder.mkdir(parents=True, exist_ok=True)
    check_outputs(list(targets), files, overwrite=overwrite)
    write_files(targets)
    out.print(f"Wrote {len(targets)} files to {folder}; {folder / GUIDE} says what each is for.")
    out.print(f"Try: cd {folder}")
    for name in ("schedule", "new", "choose", "sweep"):
        out.print(f"     {EXAMPLES[name]}")


def add_examples(group: click.Group) -> None:
    """End the help of each command with an example."""
    for name, command in group.commands.items():
        if name in EXAMPLES:
            command.epilog = f"Example: {EXAMPLES[name]}"
