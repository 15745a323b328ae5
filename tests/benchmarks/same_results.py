"""Are the results of two versions the same? All templates, the demo and random plants, to 1e-9.

``python tests/benchmarks/same_results.py BEFORE [AFTER]`` takes revisions of git or folders of checkouts;
without AFTER it compares with the checkout in which it stands. Each version computes in a process of its own,
by its command line and its public Python face only, so that nothing within may move and nothing here must
follow:

* every template is built anew, and its cells are compared as formulas and as values;
* the commands of the README are run on the demo;
* random plants (`tests/random_plants.py`) are studied, some of them coupled.

Every value that differs is printed; the exit code is 1 where one does. What is known to differ, dates of a
computation, paths and times that it took, is left out.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

Values = dict[str, Any]
HERE = Path(__file__).resolve().parent
PARTS = ("templates", "demo", "plants")
COUPLED_ONE_IN = 10
JOBS = {
    "schedule site": ("schedule", "drives.csv", "--site", "site.toml", "-o", "{out}/site.csv"),
    "schedule plant": ("schedule", "plant_drives.csv", "--site", "plant.toml", "-o", "{out}/plant.csv"),
    "sweep": ("sweep", "drives.csv", "--site", "site.toml", "--spec", "sweep.toml", "-o", "{out}/sweep.csv"),
    "choose": (*"choose site.toml --drives drives.csv --terms choice.toml -o".split(), "{out}/choice.xlsx"),
    "spectrum": ("eval", "=HD_SPECTRUM(6,1,3,0)", "--json"),
}
PASSING = re.compile(r"\d{4}-\d\d-\d\d|\d+(\.\d+)? (s|ms|MB)\b|/tmp/\S+")
"""Dates, durations and places of files."""


def collect(part: str, plants: int, demo: Path) -> Values:
    """What the version that can be imported computes."""
    with tempfile.TemporaryDirectory() as folder:
        if part == "templates":
            run("-m", "xlcalc.workbooks", folder)
            return dict(of_folder(Path(folder)))
        if part == "plants":
            return {key: value for seed in range(plants) for key, value in of_plant(seed, Path(folder))}
        found: Values = {}
        for name, words in JOBS.items():
            out = Path(folder) / name
            out.mkdir()
            said = run("-m", "xlcalc", *(word.format(out=out) for word in words), cwd=demo)
            found |= {f"{name}: {key}": value for key, value in (*of_text(said), *of_folder(out))}
        return found


def run(*words: str, cwd: Path | None = None) -> str:
    done = subprocess.run([sys.executable, *words], cwd=cwd, capture_output=True, text=True, check=False)
    return done.stdout + (f"exit code {done.returncode} {done.stderr}" if done.returncode else "")


def of_folder(folder: Path) -> Iterator[tuple[str, Any]]:
    """Every cell of every workbook, every line of every other file."""
    import openpyxl

    for path in sorted(folder.rglob("*")):
        if path.suffix == ".xlsx":
            for data_only in (False, True):
                book = openpyxl.load_workbook(path, data_only=data_only)
                for sheet in book:
                    for cell in (cell for row in sheet.iter_rows() for cell in row if cell.value is not None):
                        value = getattr(cell.value, "text", cell.value)
                        kind = "value" if data_only else "formula"
                        yield f"{path.name} {sheet.title}!{cell.coordinate} {kind}", plain(value)
                if not data_only:
                    yield from (
                        (f"{path.name} {n}", name.attr_text) for n, name in book.defined_names.items()
                    )
        elif path.is_file():
            lines = of_text(path.read_text(encoding="utf-8", errors="replace"))
            yield from ((f"{path.relative_to(folder)} {key}", value) for key, value in lines)


def of_text(text: str) -> Iterator[tuple[str, Any]]:
    for number, line in enumerate(text.splitlines(), 1):
        for place, word in enumerate(re.split(r"[,;\[\]]", line)):
            yield f"line {number} word {place}", plain(word)


def of_plant(seed: int, folder: Path) -> Iterator[tuple[str, Any]]:
    """Tables of the study of one random plant, or why there is none."""
    sys.path.insert(0, str(HERE.parent))
    import pandas as pd
    from random_plants import RandomPlant

    import xlcalc as xl

    made = RandomPlant(seed)
    path = folder / f"plant{seed}.toml"
    path.write_text(toml({**made.tables, "cases": made.cases}, made.settings), encoding="utf-8")
    try:
        plant = xl.read_plant(path)
        solution = "quick" if seed % COUPLED_ONE_IN else "coupled"
        found = xl.study(plant, pd.DataFrame(made.drives), solution=solution)
    except Exception as problem:
        yield f"plant {seed}", str(problem)
        return
    for title in ("pccs", "drives", "orders", "buses", "phases", "problems"):
        for at, row in enumerate(getattr(found, title)().to_dict("records")):
            yield from ((f"plant {seed} {title} {at} {name}", plain(value)) for name, value in row.items())


def toml(tables: dict[str, list[dict[str, Any]]], settings: dict[str, Any]) -> str:
    def lines(row: dict[str, Any]) -> Iterable[str]:
        return (f'"{key}" = {json.dumps(value)}' for key, value in row.items() if value is not None)

    blocks = [
        ("[settings]", settings),
        *((f'[["{title}"]]', row) for title in tables for row in tables[title]),
    ]
    return "\n".join(line for head, row in blocks for line in (head, *lines(row)))


def plain(value: Any) -> Any:
    """A number, or a text without what changes from day to day."""
    try:
        return float(value)
    except (TypeError, ValueError):
        return PASSING.sub("~", str(value))


def same(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12) or (one != one and other != other)
    return bool(one == other)


def computed(version: str, parts: Iterable[str], plants: int) -> Values:
    """Collected in another process, from a folder or from a revision that is checked out beside."""
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(version)
        if not (tree / "xlcalc").is_dir():
            tree = Path(folder) / "tree"
            subprocess.run(["git", "worktree", "add", "-q", "--detach", tree, version], cwd=HERE, check=True)
        try:
            found: Values = {}
            for part in parts:
                answer = Path(folder) / f"{part}.json"
                words = [
                    __file__,
                    "--collect",
                    part,
                    "--plants",
                    str(plants),
                    str(tree.resolve()),
                    str(answer),
                ]
                paths = {**os.environ, "PYTHONPATH": str(tree.resolve())}
                subprocess.run([sys.executable, *words], cwd=folder, env=paths, check=True)
                found |= json.loads(answer.read_text(encoding="utf-8"))
            return found
        finally:
            if tree.is_relative_to(folder):
                subprocess.run(["git", "worktree", "remove", "--force", tree], cwd=HERE, check=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("before")
    parser.add_argument("after", nargs="?", default=str(HERE.parents[1]))
    parser.add_argument("--parts", nargs="+", default=PARTS, choices=PARTS)
    parser.add_argument("--plants", type=int, default=200)
    parser.add_argument("--collect", choices=PARTS, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.collect:
        values = collect(asked.collect, asked.plants, Path(asked.before) / "demo")
        Path(asked.after).write_text(json.dumps(values), encoding="utf-8")
        return 0
    before, after = (computed(each, asked.parts, asked.plants) for each in (asked.before, asked.after))
    different = [key for key in dict.fromkeys((*before, *after)) if not same(before.get(key), after.get(key))]
    for key in different:
        print(f"{key}: {before.get(key, 'nothing')} / {after.get(key, 'nothing')}")
    print(f"{len(before)} values before, {len(after)} after, {len(different)} differ")
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
