"""All formulas of a calculation by number, whether they are kept one by one or sheet by sheet."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator

from xlcalc.recalc.evaluation.feeding.plainsheet import PlainSheet, caller_place
from xlcalc.recalc.evaluation.feeding.prepared import Prepared


class Formulas:
    """Formulas in the order of the sheets; one of a plain sheet is made anew when it is asked for."""

    def __init__(self) -> None:
        self.listed: list[Prepared] = []
        self.plain: list[PlainSheet] = []
        self._bases: list[int] = []
        self._holders: list[Callable[[int], Prepared]] = []
        self._length = 0

    def __len__(self) -> int:
        return self._length

    def __getitem__(self, identity: int) -> Prepared:
        if not 0 <= identity < self._length:
            raise IndexError(identity)
        return self._holders[bisect_right(self._bases, identity) - 1](identity)

    def __iter__(self) -> Iterator[Prepared]:
        return (self[identity] for identity in range(self._length))

    def called(self, number: float) -> int:
        """Number of the formula that a callback was given."""
        place = caller_place(number)
        if place is None:
            return int(number)
        sheet, row, col = place
        return self.plain[sheet].identity_at(row, col)

    def add(self, items: list[Prepared]) -> None:
        """Formulas of one sheet, numbered on from the length."""
        if not items:
            return
        base = self._length
        self._hold(base, lambda identity: items[identity - base])
        self.listed += items
        self._length += len(items)

    def add_plain(self, sheet: PlainSheet) -> None:
        """A sheet whose formulas are numbered on from the length."""
        if len(sheet):
            self._hold(self._length, sheet.item)
        self.plain.append(sheet)
        self._length += len(sheet)

    def _hold(self, base: int, holder: Callable[[int], Prepared]) -> None:
        self._bases.append(base)
        self._holders.append(holder)
