"""The verdict, the same for every standard: a value against a limit, and where the limit comes from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from xlcalc.errors import InputError
from xlcalc.standards.loader import Limit, Origin


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
        Both in `unit`.
    origin : Origin
        Where the limit comes from.
    unit : str
        Unit of value and limit.
    accept_low_confidence : bool
        Give pass or fail even where the limit is graded "low".
    """

    quantity: str
    order: int | None
    value: float
    limit: float
    origin: Origin
    unit: str = "%"
    accept_low_confidence: bool = False

    @classmethod
    def against(cls, quantity: str, order: int | None, value: float, limit: Limit) -> Verdict:
        return cls(quantity, order, float(value), limit.value, limit.origin, limit.unit)

    @property
    def margin(self) -> float:
        """Limit less value, in points of the unit; negative where the limit is exceeded."""
        return self.limit - self.value

    @property
    def ratio(self) -> float:
        """Value over limit; above 1 the limit is exceeded."""
        return self.value / self.limit

    @property
    def passes(self) -> bool | None:
        """None where the limit is of low confidence: no pass or fail without a licensed copy."""
        if self.origin.confidence == "low" and not self.accept_low_confidence:
            return None
        return self.value <= self.limit

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
        """PASS, FAIL or NO VERDICT."""
        return {True: "PASS", False: "FAIL", None: "NO VERDICT"}[self.passes]

    @property
    def text(self) -> str:
        return (
            f"{self.name}: {self.value:.2f} {self.unit} against {self.limit:g} {self.unit}, {self.word} "
            f"({self.origin.text}, {self.verified})"
        )


@dataclass(frozen=True)
class Judgement:
    """All verdicts of one assessment; never empty."""

    verdicts: tuple[Verdict, ...]

    def __post_init__(self) -> None:
        if not self.verdicts:
            raise InputError("verdicts", "empty", "one verdict or more")

    @property
    def binding(self) -> Verdict:
        """The item with the smallest margin relative to its limit."""
        return max(self.verdicts, key=lambda verdict: verdict.ratio)

    @property
    def binding_order(self) -> Verdict | None:
        """The order with the smallest margin relative to its limit; None where no order is judged."""
        orders = [verdict for verdict in self.verdicts if verdict.order is not None]
        return max(orders, key=lambda verdict: verdict.ratio, default=None)

    @property
    def passes(self) -> bool | None:
        """False when any item fails, None when none fails but some have no verdict, else True."""
        results = [verdict.passes for verdict in self.verdicts]
        if False in results:
            return False
        return None if None in results else True

    @property
    def word(self) -> str:
        return {True: "PASS", False: "FAIL", None: "NO VERDICT"}[self.passes]

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
        """Which rows rest on one source or on memory; empty where none does."""
        if not self.unverified:
            return ""
        rows = "; ".join(f"{origin.text}: {origin.verified_text}" for origin in self.unverified)
        return f"Verify against a licensed copy: {rows}."

    @property
    def summary(self) -> str:
        """Word, number of exceeded limits, binding item and worst order in one line."""
        failed = len(self.failures)
        count = f"{failed} of {len(self.verdicts)} limits exceeded; " if failed else ""
        worst = self.binding_order
        order = f"; worst order: {worst.text}" if worst is not None and worst is not self.binding else ""
        return f"{self.word}: {count}binding {self.binding.text}{order}"

    def of_quantity(self, quantity: str) -> Judgement:
        """The part of the judgement that concerns one quantity."""
        return Judgement(tuple(v for v in self.verdicts if v.quantity == quantity))


def joined(judgements: Iterable[Judgement]) -> Judgement:
    """Several judgements as one."""
    return Judgement(tuple(v for judgement in judgements for v in judgement.verdicts))
