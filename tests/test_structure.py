"""What keeps the code small: nothing that only tests use, no two classes of one name, no giant modules."""

from __future__ import annotations

import ast
from collections import defaultdict
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "xlcalc"
MODULES = sorted(PACKAGE.rglob("*.py"))

MOST_LINES = 400
ENTRANCES = (
    "cli/",
    "hosts/excel/",
    "hosts/libreoffice/",
    "worksheet/functions/",
    "io/",
    "measurement/",
)
"""Called by name from outside, or still without the command that will use them."""

ONLY_IN_TESTS = {
    "jobs/pools.py Task",
    "equipment/notch.py notches",
    "equipment/notch.py textbook_notch",
    "recalc/evaluation/certified.py COLUMNS",
    "recalc/evaluation/certified.py WITNESSES",
    "recalc/evaluation/library/values.py finite",
    "recalc/xlsx/package.py read_stamp",
    "reactor.py bridge_dc_volts",
    "reactor.py reactor_drop_volts",
    "rectifier/closed_form.py ideal_thd_pct",
    "standards/loader.py ORIGIN_COLUMNS",
    "studies/drives.py front_end_on_bus",
    "studies/solution.py solve_uncoupled",
    "studies/sources.py combined",
}
"""Published relations and helpers that nothing but tests use today; no other name may join them."""


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def named(node: ast.stmt) -> list[str]:
    """Names that a statement of a module defines."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        return [node.name]
    if isinstance(node, ast.Assign):
        return [target.id for target in node.targets if isinstance(target, ast.Name)]
    if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
        return [node.target.id]
    return []


def loaded(node: ast.AST) -> list[str]:
    return [n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load)]


def test_modules_are_no_longer_than_a_subject():
    long = {}
    for path in MODULES:
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > MOST_LINES:
            long[path.relative_to(PACKAGE).as_posix()] = lines
    assert long == {}


def test_a_class_name_means_one_thing():
    found: dict[str, int] = defaultdict(int)
    for path in MODULES:
        for node in tree(path).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found[node.name] += 1
    assert {name: n for name, n in found.items() if n > 1} == {}


def module_of(path: Path) -> str:
    return ".".join(("xlcalc", *path.relative_to(PACKAGE).with_suffix("").parts))


def used_from_outside() -> dict[str, set[str]]:
    """Names of each module that others import, or reach through the module."""
    used: dict[str, set[str]] = defaultdict(set)
    for path in MODULES:
        aliases = {}
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.ImportFrom):
                for name in node.names:
                    used[str(node.module)].add(name.name)
                    aliases[name.asname or name.name] = f"{node.module}.{name.name}"
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                used[aliases.get(node.value.id, "")].add(node.attr)
    return used


def unused(path: Path, from_outside: set[str]) -> list[str]:
    everywhere = loaded(tree(path))
    found = []
    for node in tree(path).body:
        own = loaded(node) if isinstance(node, ast.FunctionDef | ast.ClassDef) else []
        found += [
            name
            for name in named(node)
            if name != "__all__" and name not in from_outside and everywhere.count(name) == own.count(name)
        ]
    return found


def test_nothing_is_used_by_its_tests_alone():
    used = used_from_outside()
    dead = {
        f"{path.relative_to(PACKAGE).as_posix()} {name}"
        for path in MODULES
        if not path.relative_to(PACKAGE).as_posix().startswith(ENTRANCES) and "__" not in path.name
        for name in unused(path, used[module_of(path)])
    }
    assert dead - ONLY_IN_TESTS == set()
