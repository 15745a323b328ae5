"""Where the templates and the demo site are, installed or in a source tree."""

from __future__ import annotations

from pathlib import Path

from xlcalc.core.errors import InputError

_PACKAGE = Path(__file__).parents[1]
_ROOTS = (_PACKAGE / "_data", _PACKAGE.parent)


def folder(name: str) -> Path:
    """Folder of shipped data: ``workbook_templates`` or ``demo``."""
    for root in _ROOTS:
        if (root / name).is_dir():
            return root / name
    raise FileNotFoundError(f"the folder {name} is missing from this installation")


def template_names() -> list[str]:
    """Names of the shipped templates, without the suffix."""
    return sorted(path.stem for path in folder("workbook_templates").glob("*.xlsx"))


def template(name: str) -> Path:
    """Path of a shipped template by name, with or without its suffix.

    Raises
    ------
    InputError
        No such template.
    """
    path = folder("workbook_templates") / f"{name.removesuffix('.xlsx')}.xlsx"
    if path.stem not in template_names():
        raise InputError("TEMPLATE", name, f"one of {', '.join(template_names())}")
    return path
