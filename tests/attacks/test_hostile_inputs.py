"""Every reader is bounded: ordinary files only, limits on size, depth and length of numbers."""

from __future__ import annotations

import os
import re
import time

import pytest

from xlcalc.core.errors import InputError
from xlcalc.files.toml import read_toml

TOML = {
    "long number": "x = " + "1" * 5000,
    "long float": "x = 1." + "1" * 5000,
    "long exponent": "x = 1e" + "1" * 500,
    "long hexadecimal": "x = 0x" + "f" * 5000,
    "number in an array": "x = [1, " + "9" * 4400 + "]",
    "beyond 64 bits": "x = 99999999999999999999",
    "beyond 64 bits in hexadecimal": "x = [{y = 0xffffffffffffffffffff}]",
    "deep array": "a = " + "[" * 5000,
    "deep closed array": "a = " + "[" * 200 + "]" * 200,
    "deep table": "x = " + "{x = " * 3000 + "1" + "}" * 3000,
    "long key": "a" + ".a" * 20_000 + " = 1",
    "long quoted key": '"a"' + " . 'a'" * 20_000 + " = 1",
    "long heading": "[a" + ".a" * 20_000 + "]",
    "depth behind a text": 's = "[[" # [[\na = ' + "[" * 1000,
    "open text": 'a = "' + "[" * 100,
    "NUL": "a = 1\x00",
    "surrogate": "a = '\\ud800'",
    "no TOML": "<html>",
}


@pytest.mark.parametrize("name", TOML)
def test_hostile_toml_is_one_line_in_every_command(run, site, name):
    (site / "bad.toml").write_text(TOML[name], encoding="utf-8")
    start = time.process_time()
    for command in (
        ("schedule", "drives.csv", "--site", "bad.toml", "-o", "o.csv"),
        ("sweep", "drives.csv", "--site", "bad.toml", "--spec", "sweep.toml", "-o", "o.csv"),
        ("sweep", "drives.csv", "--site", "site.toml", "--spec", "bad.toml", "-o", "o.csv"),
        ("choose", "bad.toml", "--drives", "drives.csv", "--terms", "site.toml", "-o", "o.xlsx"),
        ("choose", "site.toml", "--drives", "drives.csv", "--terms", "bad.toml", "-o", "o.xlsx"),
    ):
        result = run(*command)
        assert result.refused_in_one_line, (command, result.err)
    assert time.process_time() - start < 20


def test_texts_with_brackets_and_long_lists_are_read(tmp_path):
    path = tmp_path / "good.toml"
    text = (
        's = "[[[[{{{{" # [[[[\nt = \'\'\'[[\n[[\'\'\'\nu = """{{\\"[[ """\n"a.b.c" = 1\n'
        + "v = ["
        + "1.5, " * 3000
        + "]\n"
    )
    path.write_bytes(b"\xef\xbb\xbf" + (text + "w = " + "[" * 20 + "]" * 20).encode())
    assert len(read_toml(path)["v"]) == 3000


def test_a_large_toml_file_is_refused_unread(tmp_path):
    path = tmp_path / "large.toml"
    with path.open("wb") as stream:
        stream.truncate(1 << 40)
    with pytest.raises(InputError, match="larger than 4 MiB"):
        read_toml(path)


COMMANDS = {
    "schedule": ("schedule", "{}", "--site", "site.toml", "-o", "o.csv"),
    "site": ("schedule", "drives.csv", "--site", "{}", "-o", "o.csv"),
    "spec": ("sweep", "drives.csv", "--site", "site.toml", "--spec", "{}", "-o", "o.csv"),
    "terms": ("choose", "site.toml", "--drives", "drives.csv", "--terms", "{}", "-o", "o.xlsx"),
    "options": (
        *("choose", "site.toml", "--drives", "drives.csv", "--terms", "terms.toml"),
        *("--options", "{}", "-o", "o.xlsx"),
    ),
    "book": ("recalc", "{}"),
    "submittal": ("submittal", "{}", "-o", "o.xlsx"),
    "check": ("submittal", "book.xlsx", "--check", "{}"),
}
ENDINGS = {
    "schedule": (".csv", ".xlsx"), "site": (".toml", ".csv", ".xlsx"), "spec": (".toml",),
    "terms": (".toml",),
    "options": (".csv", ".xlsx"), "book": (".xlsx",), "submittal": (".xlsx",), "check": (".xlsx",),
}  # fmt: skip
CASES = [(place, ending) for place, endings in ENDINGS.items() for ending in endings]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes with a name")
@pytest.mark.parametrize("kind", ["pipe", "device", "folder"])
@pytest.mark.parametrize(("place", "ending"), CASES)
def test_only_ordinary_files_are_read(run, site, place, ending, kind):
    from xlcalc.core import resources

    (site / "terms.toml").write_bytes((resources.folder("demo") / "choice.toml").read_bytes())
    bad = site / f"bad{ending}"
    if kind == "pipe":
        os.mkfifo(bad)
    elif kind == "device":
        bad.symlink_to("/dev/zero")
    elif place == "book":
        return
    else:
        bad.mkdir()
    result = run(*(part.format(bad.name) for part in COMMANDS[place]))
    assert result.refused_in_one_line, result.err


def test_a_pipe_as_a_journal(run, site):
    os.mkfifo(site / "xlcalc-recalc.journal")
    assert run("recalc", "book.xlsx", "--resume").refused_in_one_line


def test_many_bad_rows_end_within_seconds_with_counts(run, site):
    head = "tag,quantity,rating,unit,bus,pulses\n"
    rows = "".join(f"D{n},x{n},-{n},kW,nowhere,7\n" for n in range(100_000))
    (site / "bad.csv").write_text(head + rows, encoding="utf-8")
    start = time.process_time()
    result = run("schedule", "bad.csv", "--site", "site.toml", "--solution", "quick", "-o", "o.csv")
    spent = time.process_time() - start
    assert "Traceback" not in result.err
    assert len(result.err.splitlines()) < 1000
    assert re.search(r"100[ ,]?000", result.err + result.out)
    assert spent < 60, spent
