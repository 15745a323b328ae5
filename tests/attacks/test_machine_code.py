"""Machine code is loaded only from where nobody else can write; a planted library never runs."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

import xlcalc
from xlcalc.rectifier.compiled import machine_code
from xlcalc.rectifier.compiled.machine_code import fingerprint, folders, is_safe, load

NOBODY, SOMEBODY = 65534, 54321
posix = pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs owners and modes of POSIX")
root = pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="needs root")

SOLVE = """
import os, sys
from pathlib import Path
from xlcalc.rectifier.compiled import machine_code
machine_code.KERNELS = type("Elsewhere", (type(Path()),), {})(machine_code.KERNELS)
places = machine_code.folders()
machine_code.folders = lambda: places[1:]
machine_code.compile_to = lambda place: print("compiled", place) or sys.exit(7)
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
solve_front_end(FrontEnd(12, 0.5, choke_pct=4.0))
"""


@pytest.fixture
def planted(tmp_path: Path) -> Path:
    """A library that writes a file where it is loaded."""
    if shutil.which("cc") is None:
        pytest.skip("no compiler (cc) is installed")
    source = tmp_path / "planted.c"
    proof = tmp_path / "proof"
    source.write_text(
        "#include <stdio.h>\n__attribute__((constructor)) void run(void)"
        f'{{ FILE *f = fopen("{proof}", "w"); if (f) fclose(f); }}\n'
    )
    library = tmp_path / "planted.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-o", str(library), str(source)], check=True)
    return library


def plant(
    library: Path, folder: Path, owner: int, *, folder_mode: int = 0o755, file_mode: int = 0o755
) -> None:
    import platform

    folder.mkdir(parents=True)
    target = folder / f"kernels-{fingerprint()}-{sys.platform}-{platform.machine()}.so"
    shutil.copy(library, target)
    target.chmod(file_mode)
    os.chown(target, owner, owner)
    os.chown(folder, owner, owner)
    folder.chmod(folder_mode)


def started(tmp_path: Path, *, may_find: bool = False, **environment: str) -> tuple[bool, str]:
    """Whether the planted library ran in a process of this user, and what the process printed.

    Kernels are compiled in it, unless it may find some that this user made in a folder of his own.
    """
    kept = {
        name: value for name, value in os.environ.items() if name not in ("HOME", "XDG_CACHE_HOME", "TMPDIR")
    }
    paths = os.pathsep.join([str(Path(xlcalc.__file__).parents[1]), *filter(None, sys.path)])
    done = subprocess.run(
        [sys.executable, "-c", SOLVE],
        env={**kept, "PYTHONPATH": paths, **environment},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode in ((0, 7) if may_find else (7,)), done.stderr
    return (tmp_path / "proof").exists(), done.stdout


@posix
def test_the_planted_library_would_run(planted: Path, tmp_path: Path) -> None:
    """The test itself: owned by this user alone, it is loaded."""
    plant(planted, tmp_path / "c" / "xlcalc", os.geteuid())
    assert load(next((tmp_path / "c" / "xlcalc").glob("kernels-*")).with_suffix("")) is not None
    assert (tmp_path / "proof").exists()


@root
@pytest.mark.parametrize(
    ("owner", "folder_mode", "file_mode"),
    [(NOBODY, 0o755, 0o755), (NOBODY, 0o700, 0o700), (0, 0o777, 0o755), (0, 0o775, 0o755), (0, 0o755, 0o777),
     (0, 0o755, 0o775), (0, 0o1777, 0o755)],
)  # fmt: skip
def test_root_loads_nothing_that_somebody_else_could_write(
    planted: Path, tmp_path: Path, owner: int, folder_mode: int, file_mode: int
) -> None:
    plant(planted, tmp_path / ".cache" / "xlcalc", owner, folder_mode=folder_mode, file_mode=file_mode)
    ran, _ = started(tmp_path, HOME=str(tmp_path), TMPDIR=str(tmp_path))
    assert not ran
    shutil.move(tmp_path / ".cache", tmp_path / "shared")
    ran, _ = started(tmp_path, XDG_CACHE_HOME=str(tmp_path / "shared"), TMPDIR=str(tmp_path))
    assert not ran


@root
def test_root_with_the_home_of_somebody_else_neither_loads_nor_writes_there(
    planted: Path, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    plant(planted, home / ".cache" / "xlcalc", 0)
    os.chown(home, NOBODY, NOBODY)
    before = sorted(home.rglob("*"))
    ran, printed = started(tmp_path, HOME=str(home))
    assert not ran
    assert str(home) not in printed
    assert sorted(home.rglob("*")) == before


@posix
@pytest.mark.parametrize("home", [None, "", ".", "relative/home", "~"])
def test_no_home_is_not_the_folder_at_work(
    planted: Path, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, home: str | None
) -> None:
    for place in ("~/.cache/xlcalc", ".cache/xlcalc", "relative/home/.cache/xlcalc", "xlcalc"):
        plant(planted, tmp_path / place, os.geteuid())
    for variable in ("HOME", "XDG_CACHE_HOME"):
        given = {} if home is None else {variable: home}
        ran, printed = started(
            tmp_path, may_find=True, **given, TMPDIR=str(tmp_path_factory.mktemp("shared"))
        )
        assert not ran
        assert str(tmp_path) not in printed


@posix
def test_all_folders_are_absolute(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", "here")
    monkeypatch.setenv("HOME", "~")
    assert all(folder.is_absolute() for folder in folders())


@root
def test_a_user_without_a_home_keeps_his_own_folder(tmp_path: Path) -> None:
    """The shared temporary folder may hold one that somebody else has made under that name."""
    taken = tmp_path / f"xlcalc-{os.geteuid()}"
    taken.mkdir()
    os.chown(taken, NOBODY, NOBODY)
    assert not is_safe(taken)
    assert not machine_code._can_hold(taken)
    free = tmp_path / "shared"
    free.mkdir()
    free.chmod(0o1777)
    assert machine_code._can_hold(free / "xlcalc-0")
    free.chmod(0o777)
    assert not machine_code._can_hold(free / "xlcalc-0")


@pytest.fixture
def open_folder(planted: Path) -> Iterator[Path]:
    """A folder that every user can enter, with a library that writes a file into it where it is loaded."""
    folder = Path(tempfile.mkdtemp(prefix="xlcalc-planted-"))
    folder.chmod(0o1777)
    source = (planted.parent / "planted.c").read_text().replace(str(planted.parent), str(folder))
    (folder / "planted.c").write_text(source)
    made = ["cc", "-shared", "-fPIC", "-o", str(folder / "planted.so"), str(folder / "planted.c")]
    subprocess.run(made, check=True)
    yield folder
    shutil.rmtree(folder)


BECOME = """
import os
import xlcalc.rectifier.drive, xlcalc.rectifier.compiled.machine_code
os.setgroups([])
os.setgid({uid})
os.setuid({uid})
assert os.getresuid() == ({uid},) * 3
"""


def as_user(uid: int, folder: Path, **environment: str) -> bool:
    """Whether the planted library ran in a process that has become another user for good.

    It imports the package before, for the folders of root may be closed to others.
    """
    paths = os.pathsep.join([str(Path(xlcalc.__file__).parents[1]), *filter(None, sys.path)])
    kept = {name: value for name, value in os.environ.items() if name in ("PATH", "LANG")}
    done = subprocess.run(
        [sys.executable, "-c", BECOME.format(uid=uid) + SOLVE],
        env={**kept, "PYTHONPATH": paths, **environment},
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    ran = (folder / "proof").exists()
    assert ran or done.returncode == 7, done.stderr
    return ran


@root
def test_another_user_loads_his_own_library(open_folder: Path) -> None:
    """The test itself: what the user alone could have written runs in his process."""
    plant(open_folder / "planted.so", open_folder / "home" / ".cache" / "xlcalc", SOMEBODY)
    for folder in (open_folder / "home", open_folder / "home" / ".cache"):
        os.chown(folder, SOMEBODY, SOMEBODY)
    assert as_user(SOMEBODY, open_folder, HOME=str(open_folder / "home"))


@root
@pytest.mark.parametrize("owner", [NOBODY, SOMEBODY])
@pytest.mark.parametrize("variable", ["HOME", "XDG_CACHE_HOME", "TMPDIR", None])
def test_another_user_loads_nothing_that_a_third_planted(
    open_folder: Path, owner: int, variable: str | None
) -> None:
    """In his home, the shared cache, the temporary folder and the folder at work."""
    library = open_folder / "planted.so"
    shared = 0o777 if owner == SOMEBODY else 0o755
    for place in (".cache/xlcalc", "xlcalc", f"xlcalc-{SOMEBODY}", "~/.cache/xlcalc"):
        plant(library, open_folder / place, owner, folder_mode=shared, file_mode=shared)
    given = {} if variable is None else {variable: str(open_folder)}
    assert not as_user(SOMEBODY, open_folder, **given)


@posix
def test_a_link_to_a_library_is_not_loaded(planted: Path, tmp_path: Path) -> None:
    (tmp_path / "kernels.so").symlink_to(planted)
    assert load(tmp_path / "kernels") is None
    assert not (tmp_path / "proof").exists()


def test_the_compiler_takes_no_module_from_the_folder_at_work(tmp_path: Path) -> None:
    """A module of the compiler's name lies there; the true place has one that ends the process at once."""
    work, place = tmp_path / "work", tmp_path / "place"
    for folder, text in ((work, f"open({str(tmp_path / 'proof')!r}, 'w')"), (place, "raise SystemExit(5)")):
        folder.mkdir()
        (folder / "numba.py").write_text(text)
    code = (
        f"from pathlib import Path\nimport sys\nsys.path.insert(0, {str(place)!r})\n"
        "from xlcalc.rectifier.compiled import machine_code\n"
        f"machine_code._compiled_elsewhere(Path({str(tmp_path / 'k')!r}))\n"
    )
    paths = os.pathsep.join([str(Path(xlcalc.__file__).parents[1]), *filter(None, sys.path)])
    environment = {**os.environ, "PYTHONPATH": paths}
    command = [sys.executable, "-P", "-c", code]
    subprocess.run(command, cwd=work, env=environment, timeout=300, check=True)
    assert not (tmp_path / "proof").exists()
