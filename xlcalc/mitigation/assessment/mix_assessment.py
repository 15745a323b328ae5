"""What the exact study of a mix finds: values at every PCC in every case, loads of filters and banks."""

from __future__ import annotations

from dataclasses import dataclass

from xlcalc.mitigation.assessment.causes import Causes
from xlcalc.mitigation.offer.drive_options import ActiveFilter
from xlcalc.standards.verdict import NO_VERDICT, Judgement, Verdict, printed, within
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.sources import Contribution
from xlcalc.studies.verdict.load_ends import AS_GIVEN


@dataclass(frozen=True, eq=False)
class PointResult:
    """What the study finds at one PCC in one case, and the margin that was asked for there.

    `state` is the state of the plant that counts: what static loads are to harmonics, and the supply;
    `causes` are its currents, None of the quick estimate.
    """

    case: str
    point: PccOptions
    result: PccResult
    margin_pct: float = 0.0
    state: str = AS_GIVEN
    causes: Causes | None = None

    @property
    def contributions(self) -> tuple[int, tuple[Contribution, ...]]:
        """The order with the smallest margin, and what each drive adds to it; nothing without currents."""
        binding = self.result.judgement.binding_order
        order = 5 if binding is None or binding.order is None else binding.order
        if self.causes is None:
            return order, ()
        return order, self.causes.at(self.point.pcc, order, self.point.summation)

    @property
    def word(self) -> str:
        """Verdict; none where no current flows."""
        return NO_VERDICT if self.result.is_dead else self.result.judgement.word

    @property
    def ratio(self) -> float:
        """The binding value over what the margin leaves of its limit."""
        return self.binding.ratio / (1.0 - self.margin_pct / 100.0)

    @property
    def name(self) -> str:
        return f"{self.point.pcc}, {self.case}"

    @property
    def binding(self) -> Verdict:
        return self.result.judgement.binding


@dataclass(frozen=True, eq=False)
class FilterLoad:
    """What an active filter has to compensate in one case, A rms in the worst phase, and its rating."""

    case: str
    bus: str
    item: ActiveFilter
    amps: float

    @property
    def passes(self) -> bool:
        return within(self.amps, self.item.rated_amps)


@dataclass(frozen=True, eq=False)
class BankLoad:
    """What a bought bank carries in one case, judged by a standard for capacitors."""

    case: str
    name: str
    judgement: Judgement

    @property
    def passes(self) -> bool:
        return within(self.judgement.binding.ratio, 1.0)

    @property
    def text(self) -> str:
        worst = self.judgement.binding
        value, limit = printed(worst.value, worst.limit, "{:.0f}".format)
        return (
            f"{self.name} in case {self.case}: {worst.quantity} {value} % of its rating against "
            f"{limit} % ({worst.origin.text})"
        )


@dataclass(frozen=True, eq=False)
class MixAssessment:
    """The exact study of a mix.

    Parameters
    ----------
    points : tuple of PointResult
        Every case and PCC.
    filters : tuple of FilterLoad
        Every active filter in every case.
    coupled : bool
        Whether drives and network were brought into one consistent state.
    banks : tuple of BankLoad
        Every bought bank in every case.
    doubts : tuple of str
        Why there can be no verdict whatever the values, each a plain sentence.
    """

    points: tuple[PointResult, ...]
    filters: tuple[FilterLoad, ...]
    coupled: bool
    banks: tuple[BankLoad, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def binding(self) -> tuple[PointResult, Verdict]:
        """Where the margin is smallest, and the item."""
        worst = max(self.points, key=lambda point: point.ratio)
        return worst, worst.binding

    @property
    def passes(self) -> bool:
        """No doubt, every value below its limit by the margin, every filter and bank within its rating."""
        keeps = within(self.binding[0].ratio, 1.0) and not self.doubts
        return keeps and all(load.passes for load in self.filters) and not self.overloads

    @property
    def overloads(self) -> tuple[BankLoad, ...]:
        """Banks that carry more than they may."""
        return tuple(load for load in self.banks if not load.passes)

    @property
    def margin_left_pct(self) -> float:
        """Smallest margin, percent of its limit; negative where a limit is exceeded."""
        return 100.0 * (1.0 - self.binding[1].ratio)

    @property
    def tdd_pct(self) -> float:
        return max(point.result.tdd_pct for point in self.points)

    @property
    def text(self) -> str:
        point, verdict = self.binding
        value, limit = printed(verdict.value, verdict.limit)
        state = f" ({point.state})" if "supply" in point.state or "P95" in point.state else ""
        return f"{verdict.name} at {point.name}{state}: {value} % against {limit} %"
