"""What runs in a case: the load of each drive, and which stand still."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from xlcalc.core.errors import InputError
from xlcalc.schema.inputs.quantities import LOAD_PCT
from xlcalc.schema.kinds import one_of
from xlcalc.schema.tables import Values

STOPPED = "off"
_ITEM = re.compile(r"(?P<tag>.+?)[\s=:]+(?P<load>off|[0-9]+(?:\.[0-9]+)?)\s*%?", re.IGNORECASE)
_NAME = "drive loads in settings"


def load_in_case(scheduled: Mapping[str, float], settings: Values) -> dict[str, float | None]:
    """Load of every drive in a case.

    Parameters
    ----------
    scheduled : mapping of str to float
        Load in the schedule by tag, percent.
    settings : mapping
        ``drive load pct``, of what the schedule says, and ``drive loads``, which counts before it.

    Returns
    -------
    dict of str to float or None
        Percent of the rating; None for a drive that stands still.

    Raises
    ------
    InputError
        A tag that the schedule does not have, a text that is no list, or a load out of its range.
    """
    own = _drives_at(settings["drive loads"], list(scheduled))
    percent = settings["drive load pct"]
    loads: dict[str, float | None] = {}
    for tag, load in scheduled.items():
        loads[tag] = own[tag] if tag in own else load * percent / 100.0
        found = loads[tag]
        if found is not None and not LOAD_PCT.low <= found <= LOAD_PCT.high:
            name, value = ("drive loads", found) if tag in own else ("drive load pct", percent)
            valid = f"a value at which the load of {tag} is {LOAD_PCT.low:g} to {LOAD_PCT.high:g} %"
            raise InputError(f"{name} in settings", value, valid)
        if found is not None and tag in own and (told := LOAD_PCT.slip(found)):
            raise InputError("drive loads in settings", f"{tag} {found:g}", told)
    return loads


def rows_in_case(rows: Sequence[Values], settings: Values) -> list[Values]:
    """Rows of a schedule as they run in a case; those that stand still are left out.

    Raises
    ------
    InputError
        As `load_in_case`.
    """
    if settings["drive loads"] is None and settings["drive load pct"] == 100.0:
        return list(rows)
    loads = load_in_case({str(row["tag"]): float(row["load pct"]) for row in rows}, settings)
    return [{**row, "load pct": load} for row in rows if (load := loads[str(row["tag"])]) is not None]


def _drives_at(text: str | None, tags: list[str]) -> dict[str, float | None]:
    known = {tag.casefold(): tag for tag in tags}
    found: dict[str, float | None] = {}
    for item in (part.strip() for part in (text or "").split(";")):
        if not item:
            continue
        match = _ITEM.fullmatch(item)
        if match is None:
            raise InputError(
                _NAME, item, "tag and percent of its rating, or off, such as P-101 40; P-102 off"
            )
        tag = match["tag"].strip()
        if tag.casefold() not in known:
            raise InputError(_NAME, tag, one_of(tags, tag), wrong_kind=True)
        if known[tag.casefold()] in found:
            raise InputError(_NAME, f"{tag} twice", "each drive once")
        word = match["load"].casefold()
        found[known[tag.casefold()]] = None if word == STOPPED else float(word)
    return found
