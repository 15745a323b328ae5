"""Which package computed a cell."""

from __future__ import annotations

from xlcalc import __version__
from xlcalc.worksheet.registry import Example, WorksheetFunction

FUNCTIONS = (
    WorksheetFunction(
        name="HD_VERSION",
        category="About",
        summary="Version of the package that computed this cell",
        gives="text",
        arguments=(),
        implementation=lambda: __version__,
        examples=(Example("=HD_VERSION()", __version__, "the package itself"),),
    ),
)
