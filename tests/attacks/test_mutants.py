"""Mutants of all four templates: each is read whole or refused in one sentence, within a bound on time.

The templates are cut to their first rows, so that every kind of part stays and a mutant costs little.
``XLCALC_MUTANTS=10000`` tries that many, ``XLCALC_MUTANT_ROWS=1000000`` those of whole templates, and
``XLCALC_MUTANT_EVERY=1`` lets openpyxl and a recalculation meet each of them.
"""

from __future__ import annotations

import io
import os
import random
import re
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.io.lists.xlsx_table import read_xlsx_tables
from xlcalc.recalc.inputs import merged_inputs
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.typedresults import typed_over
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.recalc.xlsx.plainform import plain_form
from xlcalc.workbooks.pages.submittal_source import read_source
from xlcalc.worksheet.catalogue import FUNCTIONS

TEMPLATES = ("drive_study", "plant_study", "front_end_comparison", "choice_study")
MUTANTS = int(os.environ.get("XLCALC_MUTANTS", "80"))
ROWS = int(os.environ.get("XLCALC_MUTANT_ROWS", "14"))
MOST_SECONDS = 20
EVERY = int(os.environ.get("XLCALC_MUTANT_EVERY", "30"))
"""One mutant in so many is also read by openpyxl and recalculated."""
ODD = (
    "", "-1", "0", "1e999", "-1e-999", "nan", "inf", "9" * 400, "99999999999", "²", "١", "0x10", " 1 ", "1_0",
    "A0", "XFE1", "ZZZZ9", "A1:B", "$A$1048577", "#REF!", "=1+1", "'", "_x0000_", "\u202e", "\U0001f600",
    "a" * 40_000, "Site!$A$1", "Nowhere!$A$1",
    "true", "s", "e", "str", "inlineStr", "d", "n", "shared", "array", "dataTable",
    "'Site'!#REF!", "{1,2;3}", "(" * 300, "../../x", "https://example.org/", "rId1", "rId99", "veryHidden",
)  # fmt: skip
XML = str.maketrans({"&": "&amp;", "<": "&lt;", '"': "&quot;"})


def cut(path: Path) -> dict[str, bytes]:
    """Parts of a template with the first rows of each sheet."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for name in parts:
        if name.startswith("xl/worksheets/sheet"):
            rows = re.compile(rb'<row r="(\d+)".*?(?:/>(?=<row|</sheetData)|</row>)', re.DOTALL)
            parts[name] = rows.sub(lambda m: m[0] if int(m[1]) <= ROWS else b"", parts[name])
    return parts


def packed(parts: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.comment = b"xlcalc 0.1.0 2026-01-01T00:00:00Z"
        for name, content in parts.items():
            archive.writestr(name, content)
    return buffer.getvalue()


def attribute(text: str, chance: random.Random) -> str:
    return _one(r'="([^"]*)"', text, chance, lambda _: f'="{chance.choice(ODD).translate(XML)}"')


def content(text: str, chance: random.Random) -> str:
    return _one(r">([^<]+)<", text, chance, lambda _: f">{chance.choice(ODD).translate(XML)}<")


def dropped_attribute(text: str, chance: random.Random) -> str:
    return _one(r' [A-Za-z:]+="[^"]*"', text, chance, lambda _: "")


def dropped_element(text: str, chance: random.Random) -> str:
    return _one(r"<([A-Za-z]+)(?: [^<>]*)?/>|<([A-Za-z]+)(?: [^<>]*)?>[^<]*</\2>", text, chance, lambda _: "")


def doubled_element(text: str, chance: random.Random) -> str:
    pattern = r"<([A-Za-z]+)(?: [^<>]*)?/>|<([A-Za-z]+)(?: [^<>]*)?>[^<]*</\2>"
    return _one(pattern, text, chance, lambda found: found[0] * 2)


def renamed_element(text: str, chance: random.Random) -> str:
    return _one(
        r"<[a-z][A-Za-z]*(?=[^<>]*/>)", text, chance, lambda _: f"<{chance.choice(['x', 'c', 'f', 'row'])}"
    )


def swapped_attributes(text: str, chance: random.Random) -> str:
    found = list(re.finditer(r'="([^"]*)"', text))
    if len(found) < 2:
        return text
    first, second = sorted(chance.sample(found, 2), key=lambda match: match.start())
    return (
        text[: first.start()]
        + second[0]
        + text[first.end() : second.start()]
        + first[0]
        + text[second.end() :]
    )


def bytes_changed(text: str, chance: random.Random) -> str:
    position = chance.randrange(len(text))
    return text[:position] + chance.choice(['"', "<", "&", "\x00", "A", ""]) + text[position + 1 :]


def entity(text: str, chance: random.Random) -> str:
    return _one(
        r">([^<]+)<",
        text,
        chance,
        lambda _: f">{chance.choice(['&x;', '&#0;', '&#x1F600;', '<![CDATA[1]]>'])}<",
    )


def cut_short(text: str, chance: random.Random) -> str:
    return text[: chance.randrange(len(text))]


CHANGES: tuple[Callable[[str, random.Random], str], ...] = (
    *(attribute, content) * 4,
    *(dropped_attribute, dropped_element, doubled_element, renamed_element, swapped_attributes) * 2,
    *(bytes_changed, entity, cut_short),
)


def _one(pattern: str, text: str, chance: random.Random, new: Callable[[re.Match[str]], str]) -> str:
    """One match of a pattern near a random place replaced."""
    found = re.compile(pattern).search(text, chance.randrange(max(1, len(text) - 200)))
    return text if found is None else text[: found.start()] + new(found) + text[found.end() :]


def mutant(parts: dict[str, bytes], chance: random.Random) -> dict[str, bytes]:
    """One part changed in one place, or gone, or under another name."""
    name = chance.choice(list(parts))
    changed = dict(parts)
    if chance.random() < 0.05:
        whole = changed.pop(name)
        if chance.random() < 0.5:
            changed[chance.choice(["xl/other.xml", name.upper(), f"{name}/", f"./{name}"])] = whole
        return changed
    changed[name] = chance.choice(CHANGES)(parts[name].decode(), chance).encode("utf-8", "replace")
    return changed


def read_whole(path: Path, target: Path, *, more: bool) -> None:
    package = WorkbookPackage.open(path)
    book = read_book(package, plain=True)
    for sheet in book.sheets:
        sheet.filled()
    typed_over(book)
    merged_inputs(package, {name: text for (sheet, name), text in book.names.items() if not sheet})
    plain_form(package)
    if more:
        for read in (
            lambda: read_xlsx_tables(path),
            lambda: read_source(path, proof=False),
            lambda: recalculate(path, target, FUNCTIONS),
        ):
            _refusal(read)


def _refusal(read: Callable[[], object]) -> str:
    """What reading says where it refuses; anything but a refusal in one line is a fault."""
    try:
        read()
    except (WorkbookFileError, InputError) as refused:
        text = str(refused)
        if "\n" in text:
            raise AssertionError(text) from None
        return text
    return ""


@pytest.mark.parametrize("template", TEMPLATES)
def test_mutants_are_read_or_refused(template: str, tmp_path: Path) -> None:
    parts = cut(resources.template(template))
    chance = random.Random(f"20261130 {template}")
    path, target = tmp_path / "mutant.xlsx", tmp_path / "o.xlsx"
    outcomes: Counter[str] = Counter()
    for number in range(MUTANTS // len(TEMPLATES)):
        path.write_bytes(packed(mutant(parts, chance)))
        begun = time.process_time()
        try:
            refusal = _refusal(partial(read_whole, path, target, more=number % EVERY == 0))
        except Exception as problem:
            kept = Path(os.environ.get("XLCALC_KEEP", tmp_path)) / f"fault {template} {number}.xlsx"
            kept.write_bytes(path.read_bytes())
            pytest.fail(f"{template}, mutant {number}, kept as {kept}: {problem!r}")
        outcomes["refused" if refusal else "read"] += 1
        assert time.process_time() - begun < MOST_SECONDS, number
    print(f"\n{template}: {dict(outcomes)}")
    assert outcomes["read"] > 0
    assert outcomes["refused"] > 0
