"""Imports run one way, and only the named modules know the libraries that must stay behind one door."""

from __future__ import annotations

import ast
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "xlcalc"

ENGINEERING = ("core", "standards", "network", "equipment", "rectifier", "reactor")
ROOMS: dict[str, tuple[str, ...]] = {
    "core": (),
    "files": ("core",),
    "reactor": ("core",),
    "rectifier": ("core",),
    "standards": ("core",),
    "network": ("core",),
    "equipment": ("core", "standards"),
    "measurement": ("core", "standards", "network", "equipment", "rectifier"),
    "studies": ENGINEERING,
    "drawing": ("core", "network", "studies"),
    "mitigation": (*ENGINEERING, "studies"),
    "schema": (*ENGINEERING, "files", "studies", "mitigation"),
    "worksheet": (*ENGINEERING, "files", "measurement", "studies", "mitigation", "drawing", "schema"),
    "recalc": ("core", "files", "schema", "worksheet"),
    "hosts": ("core", "files", "schema", "worksheet", "recalc"),
}
ROOMS["io"] = (
    *("core", "files", "standards", "network", "studies", "drawing", "measurement", "mitigation"),
    *("schema", "recalc"),
)
ROOMS["jobs"] = ("io", *ROOMS["io"], "worksheet", "hosts")
ROOMS["workbooks"] = (
    *("core", "files", "standards", "studies", "mitigation"),
    *("drawing", "schema", "worksheet", "recalc", "hosts"),
)
ROOMS["face"] = (
    *("core", "files", "rectifier", "standards", "studies", "measurement", "mitigation", "schema"),
    *("worksheet", "recalc", "io", "jobs"),
)
ROOMS["cli"] = (*ROOMS,)
ROOMS["__main__"] = ("cli",)

ONE_DOOR = {
    "formualizer": {"recalc/evaluation/engine.py"},
    "numba": {"rectifier/kernels/jit.py"},
    "llvmlite": {"rectifier/kernels/jit.py", "rectifier/compiled/machine_code.py"},
    "click": {
        "cli/app.py",
        "cli/choose.py",
        "cli/bulk.py",
        "cli/host.py",
        "cli/samples.py",
        "cli/submittal.py",
        "cli/new.py",
        "cli/terminal.py",
        "cli/measure.py",
        "cli/fit.py",
    },
    "comtrade": {"io/instruments/comtrade_record.py"},
    "tomllib": {"files/toml.py"},
    "distributed": {"jobs/dask_pool.py"},
    "xlwings": {"hosts/excel/serve.py", "hosts/excel/udfs.py"},
    "matplotlib": {
        "cli/plots.py",
        "drawing/figures.py",
        "workbooks/pages/submittal_plots.py",
        "face/drive.py",
        "face/pictures.py",
        "face/study.py",
    },
}
FORBIDDEN = ("xlwings.pro", "xlwings.server", "xlwings.reports")

MODULES = sorted(path for path in PACKAGE.rglob("*.py"))

MOST_MODULES = 15


@cache
def nodes_of(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


@cache
def imported(path: Path) -> set[str]:
    names = set()
    for node in nodes_of(path):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            module = node.module or ""
            names |= {module} if module != "xlcalc" else {f"xlcalc.{alias.name}" for alias in node.names}
    return names


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_imports_run_one_way(path):
    room = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    if room == "__init__":
        return
    allowed = {*ROOMS[room], room, "__version__"}
    for name in imported(path):
        if name.startswith("xlcalc."):
            assert name.split(".")[1] in allowed, f"{room} imports {name}"


def test_every_room_stands():
    """No room is declared, or allowed to another, that is no longer there."""
    there = {path.relative_to(PACKAGE).parts[0].removesuffix(".py") for path in MODULES}
    assert set(ROOMS) == there - {"__init__"}
    assert {name for allowed in ROOMS.values() for name in allowed} <= there


def module_of(path: Path) -> str:
    parts = ("xlcalc", *path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def test_no_files_import_each_other_in_a_circle():
    """Imports inside functions and for types count."""
    known = {module_of(path) for path in MODULES}
    graph = {}
    for path in MODULES:
        members = {
            f"{node.module}.{alias.name}"
            for node in nodes_of(path)
            if isinstance(node, ast.ImportFrom)
            for alias in node.names
        }
        graph[module_of(path)] = (imported(path) | members) & known - {module_of(path), "xlcalc"}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as circle:
        pytest.fail(" -> ".join(circle.args[1]))


def test_folders_do_not_grow_crowded():
    counts: dict[str, int] = {}
    for path in MODULES:
        if path.name != "__init__.py":
            folder = path.parent.relative_to(PACKAGE).as_posix()
            counts[folder] = counts.get(folder, 0) + 1
    assert {folder: count for folder, count in counts.items() if count > MOST_MODULES} == {}


MOST_BY_POSITION = 5
BY_POSITION = {"recalc": 13, "rectifier": 3}
"""Calls of classes with more arguments by position than that, and how many there may be; only fewer."""


def test_fields_have_names_where_an_object_is_made():
    classes = {node.name for path in MODULES for node in nodes_of(path) if isinstance(node, ast.ClassDef)}
    found: dict[str, list[str]] = {}
    for path in MODULES:
        folder = path.relative_to(PACKAGE).parts[0]
        for node in nodes_of(path):
            if isinstance(node, ast.Call) and len(node.args) > MOST_BY_POSITION:
                name = ast.unparse(node.func).split(".")[-1]
                if name in classes or name == "cls":
                    found.setdefault(folder, []).append(f"{path.name}:{node.lineno} {name}")
    for folder, calls in found.items():
        assert len(calls) <= BY_POSITION.get(folder, 0), calls


@pytest.mark.parametrize(("room", "users"), [("worksheet", {"jobs/books/timed.py"}), ("workbooks", set())])
def test_files_and_jobs_know_no_worksheet_function_and_no_template(room, users):
    """Only a job that recalculates workbooks needs functions, as the programs do that host them."""
    assert users == {
        path.relative_to(PACKAGE).as_posix()
        for path in MODULES
        if path.relative_to(PACKAGE).parts[0]
        in ("jobs", "files", "io", "schema", "mitigation", "measurement")
        and any(f"{name}.".startswith(f"xlcalc.{room}.") for name in imported(path))
    }


def test_the_file_knows_nothing_of_the_formulas():
    for path in MODULES:
        if "recalc/xlsx/" in path.as_posix():
            assert not any(".evaluation" in name for name in imported(path)), path


def test_compiled_kernels_are_loaded_and_not_imported():
    """Importing one would bring the compiler into the process; the layout of their records is plain numpy."""
    plain = "xlcalc.rectifier.kernels.layout"
    users = {
        path.relative_to(PACKAGE).as_posix()
        for path in MODULES
        if "kernels" not in path.parts
        and any(n.startswith("xlcalc.rectifier.kernels.") and n != plain for n in imported(path))
    }
    assert users == {"rectifier/compiled/machine_code.py"}


@pytest.mark.parametrize("library", ONE_DOOR)
def test_library_stays_behind_one_door(library):
    users = {
        path.relative_to(PACKAGE).as_posix()
        for path in MODULES
        if any(name.split(".")[0] == library for name in imported(path))
    }
    assert users == ONE_DOOR[library]


def test_licensed_parts_of_xlwings_are_not_imported():
    for path in MODULES:
        assert not any(name.startswith(FORBIDDEN) for name in imported(path)), path
