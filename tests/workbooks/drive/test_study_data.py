"""Data files of a study."""

from __future__ import annotations

from pathlib import Path

import pytest

from xlcalc.core.errors import InputError
from xlcalc.workbooks.drive.study_data import read_schedule, read_study

SITE = '[site]\n"utility kv" = 13.8\n[settings]\nedition = "2014"\n'
DRIVES = "Tag,Rating,Pulses\nP1,75,6\n\nP2,,12\n"


def files(folder: Path, site: str, drives: str) -> tuple[Path, Path]:
    (folder / "site.toml").write_text(site, encoding="utf-8")
    (folder / "drives.csv").write_text(drives, encoding="utf-8")
    return folder / "site.toml", folder / "drives.csv"


def test_numbers_texts_and_blanks(tmp_path: Path) -> None:
    study = read_study(*files(tmp_path, SITE, DRIVES))
    assert study.site == {"utility kv": 13.8}
    assert study.settings == {"edition": "2014"}
    assert study.study == {}
    assert study.drives == (
        {"Tag": "P1", "Rating": 75.0, "Pulses": 6.0},
        {"Tag": "P2", "Pulses": 12.0},
    )


def test_a_byte_order_mark_of_a_spreadsheet_program_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "drives.csv"
    path.write_text(DRIVES, encoding="utf-8-sig")
    assert read_schedule(path)[0]["Tag"] == "P1"


@pytest.mark.parametrize(
    ("site", "drives", "named"),
    [
        ("[site", DRIVES, "site.toml"),
        ("[plant]\nx = 1\n", DRIVES, "plant"),
        ("site = 3\n", DRIVES, "site"),
        (SITE, "Tag,Rating\nP1,75,6\n", "row 2 of drives.csv"),
        (SITE, "Tag,Rating\n", "drives.csv"),
        (SITE, "", "drives.csv"),
    ],
)
def test_bad_files_are_refused_by_name(tmp_path: Path, site: str, drives: str, named: str) -> None:
    with pytest.raises(InputError, match=named):
        read_study(*files(tmp_path, site, drives))


def test_missing_and_binary_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.csv"):
        read_schedule(tmp_path / "none.csv")
    binary = tmp_path / "drives.csv"
    binary.write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(InputError, match="no UTF-8 text"):
        read_schedule(binary)
