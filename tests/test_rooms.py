"""Imports run one way, and only the named modules know the libraries that must stay behind one door."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "xlcalc"

ROOMS = {
    "errors": (),
    "caution": (),
    "progress": (),
    "collector": (),
    "checks": ("errors",),
    "plausible": ("errors",),
    "spectrum": ("errors", "checks"),
    "orders_given": ("errors", "checks", "spectrum"),
    "waveform": ("errors", "checks", "spectrum"),
    "reactor": ("errors", "checks", "spectrum"),
    "resources": ("errors",),
    "files": ("errors",),
    "rectifier": ("errors", "progress", "checks", "spectrum", "waveform"),
    "standards": ("errors", "checks", "spectrum", "orders_given"),
    "network": ("errors", "checks", "plausible", "spectrum"),
    "equipment": ("errors", "checks", "spectrum", "orders_given", "standards"),
}
ROOMS["study"] = (*ROOMS, "study")
ROOMS["mitigation"] = (*ROOMS,)
ROOMS["worksheet"] = (*ROOMS, "worksheet")
ROOMS["hosts"] = ("errors", "files", "progress", "collector", "worksheet")
ROOMS["workbooks"] = (
    "errors",
    "files",
    "orders_given",
    "plausible",
    "resources",
    "standards",
    "worksheet",
    "hosts",
    "mitigation",
)
ROOMS["bulk"] = (
    *("errors", "files", "progress", "collector", "checks", "plausible", "spectrum"),
    *("standards", "network", "study", "worksheet", "hosts", "workbooks"),
)
ROOMS["terminal"] = ("files", "bulk")
ROOMS["host_commands"] = ("errors", "resources", "worksheet", "hosts", "terminal")
ROOMS["bulk_commands"] = ("errors", "files", "caution", "worksheet", "bulk", "terminal")
ROOMS["choosing"] = (
    "errors",
    "files",
    "plausible",
    "resources",
    "network",
    "study",
    "worksheet",
    "workbooks",
    "mitigation",
    "bulk",
)
ROOMS["choose_command"] = ("errors", "files", "caution", "terminal", "mitigation", "choosing", "workbooks")
ROOMS["submittal_command"] = ("errors", "files", "caution", "terminal", "workbooks")
ROOMS["demo_print"] = ("caution", "standards", "terminal", "workbooks")
ROOMS["faults"] = ()
ROOMS["cli"] = (*ROOMS,)
ROOMS["__main__"] = ("cli",)

ONE_DOOR = {
    "formualizer": {"hosts/headless/evaluation/engine.py"},
    "numba": {"rectifier/kernels/jit.py"},
    "llvmlite": {"rectifier/kernels/jit.py", "rectifier/machine_code.py"},
    "click": {
        "cli.py",
        "choose_command.py",
        "host_commands.py",
        "bulk_commands.py",
        "submittal_command.py",
        "terminal.py",
    },
    "pandera": {"bulk/rules.py"},
    "tomllib": {"files/toml.py"},
    "distributed": {"bulk/dask_pool.py"},
    "xlwings": {"hosts/excel/udfs.py"},
}
FORBIDDEN = ("xlwings.pro", "xlwings.server", "xlwings.reports")

MODULES = sorted(path for path in PACKAGE.rglob("*.py"))


def imported(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
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


def test_the_file_knows_nothing_of_the_formulas():
    for path in MODULES:
        if "hosts/headless/xlsx/" in path.as_posix():
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
    assert users == {"rectifier/machine_code.py"}


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
