"""Equal calls are computed once: a full recalculation of a program with live cells calls without a memory."""

from __future__ import annotations

import marshal
from collections.abc import Callable, Sequence

from xlcalc.schema.values import Value

SIZE = 4096


class Memo:
    """Results by function and arguments; 1 and TRUE, and 0 and a blank, are different keys at any depth."""

    def __init__(self) -> None:
        self._known: dict[bytes, Value] = {}

    def result(self, name: str, arguments: Sequence[object], compute: Callable[[], Value]) -> Value:
        """The known result of a call, else the computed one, which is kept."""
        try:
            key = marshal.dumps((name, arguments), 2)  # type: ignore[arg-type]
        except ValueError:  # an error value among the arguments
            return compute()
        if key not in self._known:
            if len(self._known) >= SIZE:
                self._known.clear()
            self._known[key] = compute()
        return self._known[key]
