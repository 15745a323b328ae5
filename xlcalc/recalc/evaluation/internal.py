"""Names of the host's own functions and marks inside rewritten formulas; no workbook ever sees them."""

from __future__ import annotations

EMPTY = "\ue0f0empty"
"""Text that stands for an empty argument of our functions on its way through the engine."""

MARK = "\ue0f1error "
"""Text that stands for an error value, followed by its kind where that is known."""

HELD = "\ue0f2held "
"""Text that stands for an array of ours on its way into another function of ours, followed by its number."""

HEAD = "_XLC_HEAD"
"""The first cells of a column that is kept for all formulas."""

HOLD = "_XLC_HOLD_"
"""Before the name of a function of ours: it gives such a text in place of its array."""

FIRST = "_XLC_FIRST"
"""Top left of an array of ours."""

FAILED = "_XLC_FAILED"
"""Whether a function of ours gave one error value in place of its array."""

ONE = "_XLC_ONE"
"""One value; several are refused."""

FIT = "_XLC_FIT"
"""An array fitted to the area of an array formula."""

TEXT = "_XLC_TEXT"
"""A number as a spreadsheet writes it into text."""

SEEN = "_XLC_SEEN"
"""An error value turned into a mark."""

DO = "_XLC_DO_"
"""Before the name of an ordinary function of our own."""

ONWARD = "_ON"
"""After the name of such a function: its array goes on to another one as a text."""

KEEP = "_XLC_KEEP"
"""A text that stands for the cells of a range."""

CAUGHT = "_XLC_CAUGHT"
"""A mark turned back into an error value."""
