"""A test asserts: one that only runs or prints cannot fail where it should."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TESTS = sorted(Path(__file__).parent.rglob("test_*.py"))
BY_NOT_RAISING = {"test_the_corners_of_a_worksheet_are_accepted"}
"""What they hold is that a check lets something pass."""


def asserts(node: ast.AST, helpers: set[str]) -> bool:
    for part in ast.walk(node):
        if isinstance(part, ast.Assert):
            return True
        if isinstance(part, ast.Call):
            name = ast.unparse(part.func).split(".")[-1]
            if name in helpers or "assert" in name or name in {"raises", "warns", "fail"}:
                return True
    return False


@pytest.mark.parametrize("path", TESTS, ids=lambda p: p.relative_to(Path(__file__).parent).as_posix())
def test_every_test_asserts(path):
    functions = [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef)
    ]
    helpers = {f.name for f in functions if not f.name.startswith("test_") and asserts(f, set())}
    silent = [f.name for f in functions if f.name.startswith("test_") and not asserts(f, helpers)]
    assert set(silent) <= BY_NOT_RAISING
