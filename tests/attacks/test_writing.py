"""A save by somebody else at any moment before the rename is kept; a full disk leaves nothing behind."""

from __future__ import annotations

import gc
import os
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from xlcalc.files.errors import WorkbookFileError
from xlcalc.files.writing import claim, write_in_place
from xlcalc.recalc.loaded import saved
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.xlsx import package as package_module
from xlcalc.worksheet.catalogue import FUNCTIONS


def test_a_save_while_the_part_is_written_is_kept(tmp_path):
    target = tmp_path / "b.xlsx"
    target.write_text("old")

    def pieces() -> Iterator[bytes]:
        yield b"ours"
        fresh = tmp_path / "theirs"
        fresh.write_text("their save")
        fresh.replace(target)
        yield b"more of ours"

    with pytest.raises(WorkbookFileError, match="another program changed"), claim(target) as held:
        write_in_place(held, pieces())
    assert target.read_text() == "their save"
    assert [path.name for path in tmp_path.iterdir()] == ["b.xlsx"]


def test_a_file_that_appears_meanwhile_is_kept(tmp_path):
    target = tmp_path / "b.xlsx"

    def pieces() -> Iterator[bytes]:
        yield b"ours"
        target.write_text("their file")

    with pytest.raises(WorkbookFileError, match="another program wrote"), claim(target) as held:
        write_in_place(held, pieces())
    assert target.read_text() == "their file"


@pytest.mark.parametrize("mark", ["~$b.xlsx", ".~lock.b.xlsx#"])
def test_a_workbook_that_is_opened_meanwhile_is_kept(tmp_path, mark):
    target = tmp_path / "b.xlsx"
    target.write_text("old")

    def pieces() -> Iterator[bytes]:
        yield b"ours"
        (tmp_path / mark).write_text("")

    with pytest.raises(WorkbookFileError, match="open in a spreadsheet program"), claim(target) as held:
        write_in_place(held, pieces())
    assert target.read_text() == "old"


def test_a_recalculation_keeps_a_save_of_the_last_moment(site, monkeypatch):
    book = site / "book.xlsx"
    writing = package_module.write_in_place

    def late(held, pieces):
        list_of_pieces = list(pieces)
        book.write_bytes(b"their save")
        writing(held, list_of_pieces)

    monkeypatch.setattr(package_module, "write_in_place", late)
    with pytest.raises(WorkbookFileError, match="another program changed"):
        recalculate(book, None, FUNCTIONS)
    assert book.read_bytes() == b"their save"


def test_a_hard_link_is_spoken_of(run, site):
    os.link(site / "book.xlsx", site / "other.xlsx")
    before = (site / "other.xlsx").read_bytes()
    result = run("recalc", "book.xlsx")
    assert result.code == 0
    assert "hard link" in result.err
    assert (site / "other.xlsx").read_bytes() == before


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 64 kB."""
    place = tmp_path / "small"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(place)]
    if not hasattr(os, "geteuid") or os.geteuid() != 0 or subprocess.run(mount, check=False).returncode:
        pytest.skip("needs root and the right to mount")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.mark.parametrize(
    "command",
    [
        ("new", "drive_study", "small/out.xlsx"),
        ("demo", "-o", "small/out.xlsx"),
        ("schedule", "drives.csv", "--site", "site.toml", "--solution", "quick", "-o", "small/out.xlsx"),
        ("schedule", "drives.csv", "--site", "site.toml", "--solution", "quick", "-o", "small/out.csv"),
    ],
    ids=lambda command: f"{command[0]} {command[-1]}",
)
def test_a_full_disk_leaves_no_file(run, site, small_disk, command):
    (small_disk / "filler").write_bytes(b"x" * 60_000)
    result = run(*command)
    assert result.refused_in_one_line
    assert "disk is full" in result.err
    assert [path.name for path in small_disk.iterdir()] == ["filler"]


def test_a_full_disk_keeps_the_workbook(run, site, small_disk):
    (small_disk / "b.xlsx").write_bytes((site / "book.xlsx").read_bytes())
    left = 65536 - (small_disk / "b.xlsx").stat().st_size
    (small_disk / "filler").write_bytes(b"x" * (left // 4096 * 4096 - 4096))
    before = (small_disk / "b.xlsx").read_bytes()
    result = run("recalc", "small/b.xlsx")
    assert result.refused_in_one_line, result.err
    assert (small_disk / "b.xlsx").read_bytes() == before
    assert {path.name for path in small_disk.iterdir()} == {"filler", "b.xlsx"}


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_full_folder_for_temporary_files_is_said(small_disk, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(small_disk))
    book = openpyxl.Workbook()
    for _ in range(3000):
        book.active.append(["text"] * 9)
    with pytest.raises(WorkbookFileError, match="folder for temporary files"):
        saved(book)
    gc.collect()
