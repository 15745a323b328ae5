"""All of the file or none of it: kills, full disks, read-only places, locks, two runs at once."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from xlcalc.files.errors import WorkbookFileError
from xlcalc.files.writing import claim, lock_path, part_path, write_in_place
from xlcalc.recalc.xlsx.package import SheetPatch, WorkbookPackage

resource = pytest.importorskip("resource", reason="needs limits of a POSIX system")
ROWS = "".join(f'<row r="{n}"><c r="A{n}"><f>RAND()*{n}</f><v>0</v></c></row>' for n in range(1, 3001))
MakePackage = Callable[..., Path]


def _patch(value: float) -> dict[str, SheetPatch]:
    return {"Data": SheetPatch({(n, 1): value + n for n in range(1, 3001)})}


def _only(path: Path, folder_before: set[str] | None = None) -> None:
    """No temporary file or lock is left beside a file."""
    assert not part_path(path).exists()
    assert not lock_path(path).exists()
    if folder_before is not None:
        assert {item.name for item in path.parent.iterdir()} == folder_before


def test_a_file_is_replaced_in_place_with_its_permissions(make_package: MakePackage) -> None:
    path = make_package(ROWS)
    path.chmod(0o640)
    inode = path.stat().st_ino
    WorkbookPackage.open(path).save(path, _patch(1.0), stamp="s")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert path.stat().st_ino != inode
    _only(path, {path.name})
    assert WorkbookPackage.open(path).sheets[0].formulas[0].cached == 2.0


def test_a_new_file_takes_the_usual_permissions(make_package: MakePackage, tmp_path: Path) -> None:
    ordinary = tmp_path / "ordinary"
    ordinary.touch()
    target = tmp_path / "new.xlsx"
    WorkbookPackage.open(make_package(ROWS)).save(target, _patch(1.0), stamp="s")
    assert stat.S_IMODE(target.stat().st_mode) == stat.S_IMODE(ordinary.stat().st_mode)


def test_a_link_stays_a_link(make_package: MakePackage, tmp_path: Path) -> None:
    path = make_package(ROWS)
    link = tmp_path / "link.xlsx"
    link.symlink_to(path)
    WorkbookPackage.open(link).save(link, _patch(5.0), stamp="s")
    assert link.is_symlink()
    assert WorkbookPackage.open(path).sheets[0].formulas[0].cached == 6.0


@pytest.mark.parametrize("mark", ["~${name}", ".~lock.{name}#"])
def test_a_workbook_open_in_a_spreadsheet_program_is_left_alone(
    make_package: MakePackage, tmp_path: Path, mark: str
) -> None:
    path = make_package(ROWS)
    before = path.read_bytes()
    (tmp_path / mark.format(name=path.name)).write_bytes(b"owner")
    package = WorkbookPackage.open(path)
    with pytest.raises(WorkbookFileError, match="open in a spreadsheet program"):
        package.save(path, _patch(1.0), stamp="s")
    assert path.read_bytes() == before
    package.save(tmp_path / "elsewhere.xlsx", _patch(1.0), stamp="s")
    _only(path)


def test_a_second_run_on_the_same_file_is_told(make_package: MakePackage, tmp_path: Path) -> None:
    path = make_package(ROWS)
    first, second = WorkbookPackage.open(path), WorkbookPackage.open(path)
    with first.claim() as held:
        with pytest.raises(WorkbookFileError, match="another run"), second.claim():
            pass
        with pytest.raises(WorkbookFileError, match="another run"):
            second.save(path, _patch(2.0), stamp="s")
        second.save(tmp_path / "other.xlsx", _patch(2.0), stamp="s")
        held.save(_patch(1.0), stamp="s")
    with pytest.raises(WorkbookFileError, match="another program changed"):
        second.save(path, _patch(2.0), stamp="s")
    assert WorkbookPackage.open(path).sheets[0].formulas[0].cached == 2.0
    _only(path)


def test_of_many_runs_at_once_each_wins_or_is_told(make_package: MakePackage) -> None:
    path = make_package(ROWS)
    code = (
        "import sys;from xlcalc.recalc.xlsx.package import *\n"
        "v=float(sys.argv[2])\n"
        "try:\n"
        " p=WorkbookPackage.open(sys.argv[1])\n"
        " with p.claim() as c: c.save({'Data':SheetPatch({(n,1):v+n for n in range(1,3001)})},stamp='s')\n"
        "except WorkbookFileError as e: print(e); sys.exit(2)"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", code, str(path), str(n)], stdout=subprocess.PIPE, text=True)
        for n in range(4)
    ]
    outcomes = [(run.communicate()[0], run.returncode) for run in runs]
    assert all(
        code == 0 or "another run" in text or "another program changed" in text for text, code in outcomes
    ), outcomes
    winners = [n for n, (_, code) in enumerate(outcomes) if code == 0]
    assert WorkbookPackage.open(path).sheets[0].formulas[0].cached in {1.0 + n for n in winners}
    _only(path)


def test_a_lock_left_by_a_dead_run_holds_nobody_up(make_package: MakePackage) -> None:
    path = make_package(ROWS)
    lock_path(path).write_bytes(b"")
    part_path(path).write_bytes(b"half a file")
    WorkbookPackage.open(path).save(path, _patch(1.0), stamp="s")
    _only(path, {path.name})


@pytest.mark.parametrize("where", ["folder.xlsx", "absent/out.xlsx", "pipe.xlsx"])
def test_impossible_targets_are_named(make_package: MakePackage, tmp_path: Path, where: str) -> None:
    package = WorkbookPackage.open(make_package(ROWS))
    (tmp_path / "folder.xlsx").mkdir()
    os.mkfifo(tmp_path / "pipe.xlsx")
    with pytest.raises(WorkbookFileError, match=r"folder|ordinary"):
        package.save(tmp_path / where, _patch(1.0), stamp="s")


def test_read_only_files_and_folders_are_named(make_package: MakePackage, tmp_path: Path) -> None:
    path = make_package(ROWS)
    package = WorkbookPackage.open(path)
    before = path.read_bytes()
    path.chmod(0o444)
    with pytest.raises(WorkbookFileError, match="file is read-only"):
        package.save(path, _patch(1.0), stamp="s")
    path.chmod(0o644)
    closed = tmp_path / "closed"
    closed.mkdir()
    closed.chmod(0o555)
    with pytest.raises(WorkbookFileError, match="folder is read-only"):
        package.save(closed / "out.xlsx", _patch(1.0), stamp="s")
    closed.chmod(0o755)
    assert path.read_bytes() == before
    assert list(closed.iterdir()) == []


@contextlib.contextmanager
def _file_size_limit(size: int) -> Iterator[None]:
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, old[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)
        signal.signal(signal.SIGXFSZ, handler)


def test_a_write_that_the_system_stops_leaves_the_original(make_package: MakePackage) -> None:
    path = make_package(ROWS, **{"xl/media/noise.bin": os.urandom(200_000)})
    before = path.read_bytes()
    package = WorkbookPackage.open(path)
    with _file_size_limit(100_000), pytest.raises(WorkbookFileError, match="disk is full"):
        package.save(path, _patch(1.0), stamp="s")
    assert path.read_bytes() == before
    _only(path, {path.name})


def test_a_full_disk_leaves_the_original(make_package: MakePackage, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("needs the right to mount a small disk")
    try:
        source = make_package(ROWS, **{"xl/media/noise.bin": os.urandom(120_000)})
        path = disk / "book.xlsx"
        path.write_bytes(source.read_bytes())
        before = path.read_bytes()
        with pytest.raises(WorkbookFileError, match="disk is full"):
            WorkbookPackage.open(path).save(path, _patch(0.123456789), stamp="s")
        assert path.read_bytes() == before
        _only(path, {path.name})
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_failure_while_the_bytes_are_made_leaves_the_original(make_package: MakePackage) -> None:
    path = make_package(ROWS)
    before = path.read_bytes()

    def pieces() -> Iterator[bytes]:
        yield b"half"
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt), claim(path) as held:
        write_in_place(held, pieces())
    assert path.read_bytes() == before
    _only(path, {path.name})


_LOOP = """
import sys
from xlcalc.recalc.xlsx.package import SheetPatch, WorkbookPackage
path = sys.argv[1]
for turn in range(1, 10_000):
    patch = {"Data": SheetPatch({(n, 1): float(turn * 10_000 + n) for n in range(1, 3001)})}
    WorkbookPackage.open(path).save(path, patch, stamp=f"turn {turn}")
    print(turn, flush=True)
"""


def test_a_kill_at_any_moment_leaves_a_whole_file(make_package: MakePackage) -> None:
    path = make_package(ROWS)
    source = random.Random(7)
    kills = int(os.environ.get("XLCALC_KILLS", "6"))
    for _ in range(kills):
        run = subprocess.Popen([sys.executable, "-c", _LOOP, str(path)], stdout=subprocess.PIPE)
        assert run.stdout is not None
        assert run.stdout.readline()
        time.sleep(source.uniform(0.0, 0.06))
        run.send_signal(signal.SIGKILL)
        run.wait()
        run.stdout.close()
        package = WorkbookPackage.open(path)
        first = package.sheets[0].formulas[0].cached
        assert isinstance(first, float)
        assert [cell.cached for cell in package.sheets[0].formulas] == [first + n for n in range(3000)]
        assert package.stamp == f"turn {int(first) // 10_000}"
    WorkbookPackage.open(path).save(path, _patch(1.0), stamp="s")
    _only(path, {path.name})
