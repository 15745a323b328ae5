"""The verdict, the same for every standard: a value against a limit, and where the limit comes from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.core.orders_given import orders_text
from xlcalc.standards.loader import Limit, Origin, weakest

PASS: Final = "PASS"
FAIL: Final = "FAIL"
NO_VERDICT: Final = "NO VERDICT"
NOT_GIVEN: Final = "NOT GIVEN"
WORDS: Final = {True: PASS, False: FAIL, None: NO_VERDICT}

WORST_FIRST: Final = (FAIL, NO_VERDICT, PASS)

AT_LIMIT: Final = 1e-9
"""Relative difference within which a value equals its limit: rounding in the last digits decides nothing."""


def within(value: float, limit: float) -> bool:
    """Whether a value keeps its limit; one that equals it but for rounding does.

    Examples
    --------
    >>> within(0.1 + 0.2, 0.3), within(0.3001, 0.3)
    (True, False)
    """
    return value <= limit or math.isclose(value, limit, rel_tol=AT_LIMIT)


def worst_word(words: Iterable[str]) -> str:
    """The verdict on everything together: FAIL, else NO VERDICT, else PASS; without any, NO VERDICT.

    Examples
    --------
    >>> worst_word(["PASS", "NO VERDICT"]), worst_word(["PASS", "FAIL", "NO VERDICT"]), worst_word([])
    ('NO VERDICT', 'FAIL', 'NO VERDICT')
    """
    found = {word if word in (PASS, FAIL) else NO_VERDICT for word in words} or {NO_VERDICT}
    return next(word for word in WORST_FIRST if word in found)


def printed(value: float, limit: float, show: Callable[[float], str] | None = None) -> tuple[str, str]:
    """Value and limit with as many digits as show on which side of the limit the value lies.

    Parameters
    ----------
    value, limit : float
        In one unit. A value that equals its limit but for rounding keeps it.
    show : callable, optional
        The usual way to write either number, kept where it does not contradict the verdict. Without it the
        value has two decimals or more, the limit up to four or as many as the value.

    Examples
    --------
    >>> printed(12.004, 12), printed(11.999, 12), printed(1.0921, 1.092), printed(0.1 + 0.2, 0.3)
    (('12.004', '12'), ('12.00', '12'), ('1.0921', '1.092'), ('0.30', '0.3'))
    >>> printed(11.64, 12, "{:.1f}".format), printed(12.04, 12, "{:.1f}".format)
    (('11.6', '12.0'), ('12.04', '12'))
    """
    keeps = within(value, limit)

    def agrees(left: str, right: str) -> bool:
        return (float(left) <= float(right)) is keeps

    if show is not None and (math.isnan(value) or math.isnan(limit) or agrees(show(value), show(limit))):
        return show(value), show(limit)
    for places in range(2, 13):
        left, right = f"{value:.{places}f}", _trimmed(f"{limit:.{max(4, places)}f}")
        if agrees(left, right):
            return left, right
    return repr(value), repr(limit)


def _trimmed(decimal: str) -> str:
    return decimal.rstrip("0").rstrip(".")


@dataclass(frozen=True)
class Verdict:
    """One value against one limit.

    Parameters
    ----------
    quantity : str
        What was judged, for instance "harmonic current" or "TDD".
    order : int or None
        Harmonic order; None for a total.
    value, limit : float
        Both in `unit`; a value that was not given is NaN.
    origin : Origin
        Where the limit comes from.
    unit : str
        Unit of value and limit.
    accept_low_confidence : bool
        Give pass or fail even where the limit is graded "low".
    at_least : bool
        The value is a total of the orders that were given, of which some are missing: the true one may be
        larger, so that it can fail but not pass.
    """

    quantity: str
    order: int | None
    value: float
    limit: float
    origin: Origin
    unit: str = "%"
    accept_low_confidence: bool = False
    at_least: bool = False

    @classmethod
    def against(
        cls, quantity: str, order: int | None, value: float, limit: Limit, *, at_least: bool = False
    ) -> Verdict:
        return cls(
            quantity=quantity,
            order=order,
            value=float(value),
            limit=limit.value,
            origin=limit.origin,
            unit=limit.unit,
            at_least=at_least,
        )

    @property
    def margin(self) -> float:
        """Limit less value, in points of the unit; negative where the limit is exceeded."""
        return self.limit - self.value

    @property
    def ratio(self) -> float:
        """Value over limit; above 1 the limit is exceeded."""
        return self.value / self.limit

    @property
    def given(self) -> bool:
        """Whether there is a value to judge."""
        return not math.isnan(self.value)

    @property
    def passes(self) -> bool | None:
        """None without a value, where the limit is of low confidence, or where a total lacks orders."""
        if not self.given or self.in_doubt:
            return None
        keeps = within(self.value, self.limit)
        return None if keeps and self.at_least else keeps

    @property
    def in_doubt(self) -> bool:
        """Whether the limit is of low confidence, and nobody accepted that."""
        return self.origin.confidence == "low" and not self.accept_low_confidence

    @property
    def clause(self) -> str:
        return self.origin.clause

    @property
    def edition(self) -> str:
        return self.origin.edition

    @property
    def verified(self) -> str:
        return self.origin.verified_text

    @property
    def name(self) -> str:
        """Quantity with its order."""
        return self.quantity if self.order is None else f"{self.quantity}, order {self.order}"

    @property
    def word(self) -> str:
        """PASS, FAIL, NO VERDICT, or NOT GIVEN where there is no value."""
        return WORDS[self.passes] if self.given else NOT_GIVEN

    @property
    def text(self) -> str:
        if not self.given:
            return f"{self.name}: {NOT_GIVEN}, limit {self.limit:g} {self.unit} ({self.origin.text})"
        value, limit = printed(self.value, self.limit)
        return (
            f"{self.name}: {'at least ' if self.at_least else ''}{value} {self.unit} against {limit} "
            f"{self.unit}, {self.word} ({self.origin.text}, {self.verified})"
        )


@dataclass(frozen=True)
class Judgement:
    """All verdicts of one assessment; never empty.

    Parameters
    ----------
    verdicts : tuple of Verdict
        One per limit, those without a value included.
    doubts : tuple of str
        Why the whole cannot be judged, each a plain sentence that names what was typed where that is known.
        With any of them there is neither PASS nor FAIL.
    gaps : tuple of str
        What was not given, in plain sentences. Such a whole may fail but not pass; the verdicts without a
        value, and those on totals that lack orders, say so one by one.
    remarks : tuple of str
        What a reader of the verdict must know besides, for instance which orders have no limit.
    """

    verdicts: tuple[Verdict, ...]
    doubts: tuple[str, ...] = ()
    gaps: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.verdicts:
            raise InputError("verdicts", "empty", "one verdict or more")

    @property
    def binding(self) -> Verdict:
        """The item with the smallest margin relative to its limit."""
        return max(self.given, key=lambda verdict: verdict.ratio, default=self.verdicts[0])

    @property
    def given(self) -> tuple[Verdict, ...]:
        """The verdicts that have a value."""
        return tuple(verdict for verdict in self.verdicts if verdict.given)

    @property
    def not_given(self) -> tuple[Verdict, ...]:
        """The verdicts whose value was not given."""
        return tuple(verdict for verdict in self.verdicts if not verdict.given)

    @property
    def binding_order(self) -> Verdict | None:
        """The order with the smallest margin relative to its limit; None where no order is judged."""
        orders = [verdict for verdict in self.given if verdict.order is not None]
        return max(orders, key=lambda verdict: verdict.ratio, default=None)

    @property
    def passes(self) -> bool | None:
        """False when any item fails, None when none fails but some have no verdict, else True.

        None in any case where the whole is in doubt.
        """
        if self.doubts:
            return None
        results = [verdict.passes for verdict in self.verdicts]
        if False in results:
            return False
        return None if None in results else True

    @property
    def word(self) -> str:
        return WORDS[self.passes]

    @property
    def reason(self) -> str:
        """Why there is no verdict, in plain sentences; empty where there is one."""
        if self.passes is not None:
            return ""
        if self.doubts:
            return "; ".join(self.doubts)
        reasons: list[str] = []
        if self.gaps:
            reasons.extend(self.gaps)
        elif self.not_given:
            reasons.append(_missing(self.not_given, self.given))
        low = [verdict.name for verdict in self.given if verdict.in_doubt]
        if low:
            reasons.append(f"the limit of {low[0]} is of low confidence: compare it with a licensed copy")
        return "; ".join(reasons)

    @property
    def failures(self) -> tuple[Verdict, ...]:
        return tuple(verdict for verdict in self.verdicts if verdict.passes is False)

    @property
    def unverified(self) -> tuple[Origin, ...]:
        """Origins that should be compared with a licensed copy, each once."""
        used = dict.fromkeys(v.origin for v in self.verdicts if v.origin.needs_licensed_copy)
        return tuple(used)

    @property
    def note(self) -> str:
        """Which rows rest on one source, on memory or on an earlier edition; empty where none does."""
        if not self.unverified:
            return ""
        rows = "; ".join(f"{origin.text}: {origin.verified_text}" for origin in self.unverified)
        return f"Verify against a licensed copy: {rows}."

    @property
    def summary(self) -> str:
        """The word and the explanation."""
        return f"{self.word}: {self.explanation}"

    @property
    def explanation(self) -> str:
        """Number of exceeded limits, binding item, worst order, gaps and remarks; or why no verdict."""
        if self.passes is None:
            return self.reason
        failed = len(self.failures)
        count = f"{failed} of {len(self.verdicts)} limits exceeded; " if failed else ""
        worst = self.binding_order
        order = f"; worst order: {worst.text}" if worst is not None and worst is not self.binding else ""
        return "; ".join((f"{count}binding {self.binding.text}{order}", *self.gaps, *self.remarks))

    @property
    def least_verified(self) -> Origin:
        """The origin that was checked least among those used."""
        first = self.verdicts[0].origin
        return weakest(first, [verdict.origin for verdict in self.verdicts])

    def of_quantity(self, quantity: str) -> Judgement:
        """The part of the judgement that concerns one quantity."""
        return replace(self, verdicts=tuple(v for v in self.verdicts if v.quantity == quantity))

    def doubted(self, *doubts: str) -> Judgement:
        """The same judgement with more reasons why the whole cannot be judged."""
        return replace(self, doubts=(*self.doubts, *doubts))


def _missing(missing: tuple[Verdict, ...], given: tuple[Verdict, ...]) -> str:
    """Which orders were not given, and the highest that was."""
    orders = [verdict.order for verdict in missing if verdict.order is not None]
    if not orders:
        return f"{missing[0].name} was not given"
    highest = max((verdict.order for verdict in given if verdict.order is not None), default=None)
    what = "order" if len(orders) == 1 else "orders"
    were = "was" if len(orders) == 1 else "were"
    return (
        f"{what} {orders_text(sorted(set(orders)))} {were} not given; the highest order given is "
        f"{'none' if highest is None else highest}"
    )
