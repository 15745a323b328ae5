"""Function names as the different programs write them into a file, and the one plain name behind them.

The spellings are those of programs that save a call of a function they do not own: prefixes of the file
format for newer functions (``_xlfn.``, ``_xlws.``), for unknown ones (``_xludf.``), for compiled and web
add-ins (``_xll.``, ``_xldudf_<namespace>_``), an external link or a quoted path, and a full service name.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from xlcalc.recalc.evaluation.formula.refusal import Refusal

_LINK = re.compile(r"(?:'(?:[^']|'')*'|\[[^\]]*\][^!]*|[^!'\[\]]*)!")
_PREFIXES = re.compile(r"(?:_xlfn\.|_xlws\.|_xludf\.|_xll\.|com\.microsoft\.)+", re.IGNORECASE)
_WEB = re.compile(r"_xldudf_", re.IGNORECASE)


@lru_cache(maxsize=4096)
def plain_name(written: str) -> tuple[str, bool]:
    """Name in capitals without prefixes, and whether a link or path to another file stood before it.

    Examples
    --------
    >>> plain_name("_xlfn._xlws.SORT"), plain_name("[1]!hd_thd")
    (('SORT', False), ('HD_THD', True))
    """
    if "DUMMYFUNCTION" in written.upper():
        raise Refusal("the formula is a placeholder of another program, not the formula itself")
    link = _LINK.match(written)
    name = written[link.end() :] if link else written
    return _PREFIXES.sub("", name).upper(), link is not None


def own_name(written: str, functions: Mapping[str, object]) -> str | None:
    """The name of one of our functions behind a spelling, None where it is none of ours."""
    name, _ = plain_name(written)
    if name in functions:
        return name
    web = _WEB.match(name)
    if web:
        return _suffix(name[web.end() :], "_", functions)
    if "." not in name:
        return None
    return _suffix(name, ".", functions) or _joined(name.rpartition(".")[2], functions)


def _joined(method: str, functions: Mapping[str, object]) -> str | None:
    """The registered name behind the method of a service, which has no underscores."""
    return next((name for name in functions if name.replace("_", "") == method), None)


def _suffix(name: str, separator: str, functions: Mapping[str, object]) -> str | None:
    """The registered name that follows a namespace."""
    position = name.find(separator)
    while position >= 0:
        if name[position + 1 :] in functions:
            return name[position + 1 :]
        position = name.find(separator, position + 1)
    return name if name in functions else None
