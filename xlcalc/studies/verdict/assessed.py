"""What is known about one PCC: the states that were solved, and the verdict of the worst."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from xlcalc.core.errors import NoSolutionError
from xlcalc.network.nodal import NodalNetwork
from xlcalc.standards import ieee519
from xlcalc.standards.verdict import PASS, Judgement, Verdict, printed
from xlcalc.studies.nameplate.spread import Spread
from xlcalc.studies.pcc import CURRENT, TDD, VOLTAGE_THD, PccOptions, PccResult
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.sources import Contribution, Summation, contributions
from xlcalc.studies.verdict.demand import Demand
from xlcalc.studies.verdict.load_ends import AS_GIVEN

GIVEN_SUPPLY: Final = "as given"


@dataclass(frozen=True, kw_only=True, eq=False)
class JudgedState:
    """One state of the plant, solved and judged.

    Parameters
    ----------
    supply : str
        "as given", or the preset that fills what is unknown of the supply.
    loads : str
        What is open of the network, as `xlcalc.studies.verdict.load_ends.load_ends` names it: "as given",
        "static loads open", "minimum supply", ...
    solution : PlantSolution or None
        Coupled; None where there is none.
    pcc : PccResult or None
        On the row of the limit table that counts; None without a solution.
    reason : str
        Why there is none; empty where there is one.
    """

    supply: str
    loads: str
    solution: PlantSolution | None
    pcc: PccResult | None
    reason: str = ""

    @property
    def passes(self) -> bool | None:
        """None without a solution, or where a limit has no verdict."""
        return None if self.pcc is None else self.pcc.judgement.passes

    @property
    def name(self) -> str:
        loads = "" if self.loads == AS_GIVEN else self.loads
        supply = "" if self.supply == GIVEN_SUPPLY else f"{self.supply} supply"
        return ", ".join(text for text in (loads, supply) if text) or "as given"


@dataclass(frozen=True, kw_only=True, eq=False)
class Assessment:
    """What is known about one PCC.

    Parameters
    ----------
    bus : str
        The PCC.
    judgement : Judgement
        The worst of all states, with every reason to doubt it.
    pcc : PccResult or None
        Of the state on the given supply that counts; None where there is no solution or no current.
    quick : PccResult or None
        The quick estimate of the plant as it was given.
    states : tuple of JudgedState
        All that were solved, the plant as it was given first.
    demand : Demand or None
        The demand current and its basis.
    fundamental_amps : float or None
        Fundamental at the PCC in this case, A.
    remarks : tuple of str
        What qualifies the verdict, each a plain sentence.
    spread : Spread or None
        Over what nameplates leave open of the drives; None where they leave nothing open.
    """

    bus: str
    judgement: Judgement
    pcc: PccResult | None
    quick: PccResult | None
    states: tuple[JudgedState, ...]
    demand: Demand | None
    fundamental_amps: float | None
    remarks: tuple[str, ...]
    spread: Spread | None = None

    @property
    def word(self) -> str:
        """PASS, FAIL or NO VERDICT."""
        return self.judgement.word

    @property
    def reason(self) -> str:
        """Why there is no verdict; empty where there is one."""
        return self.judgement.reason

    @property
    def remark(self) -> str:
        """All remarks in one line."""
        return "; ".join(self.remarks)

    @property
    def summary(self) -> str:
        """Word and binding item, or why there is no verdict."""
        assumed = f" with assumed {self.spread.names}" if self.spread and self.word == PASS else ""
        return f"{self.word}{assumed}: {self.judgement.explanation}"

    @property
    def finding(self) -> str:
        """The binding value of the result at the PCC and its limit in words; empty without a result.

        It is that of the plant as given: where a doubt or an assumed supply takes the verdict, the reason
        says so.
        """
        if self.pcc is None:
            return ""
        judgement = self.pcc.judgement
        binding = judgement.binding
        value, limit = printed(binding.value, binding.limit)
        of = "the demand current" if binding.quantity in (CURRENT, TDD) else "nominal voltage"
        distance = 100.0 * abs(1.0 - binding.ratio)
        side = "above" if binding.passes is False else "below"
        failed = len(judgement.failures)
        count = f"; {failed} of {len(judgement.verdicts)} limits exceeded" if failed else ""
        assumed = f"; with assumed {self.spread.names}" if self.spread else ""
        return (
            f"{binding.name}: {value} % of {of}, limit {limit} % ({distance:.3g} % {side} it){count}{assumed}"
        )

    @property
    def il_basis(self) -> str:
        """ "typed" or "estimated"; empty where no current flows."""
        return self.demand.basis if self.demand else ""

    @property
    def assumed(self) -> JudgedState | None:
        """The worst state on an assumed supply; None where none was judged: levels given, or FAIL anyway."""
        return worst_of(state for state in self.states if state.supply != GIVEN_SUPPLY)

    @property
    def quick_word(self) -> str:
        """Verdict of the quick estimate, "" without one; never PASS where the coupled solution gives none."""
        if self.quick is None:
            return ""
        return self.quick.judgement.doubted(*self._doubts_of_demand).word

    @property
    def assumed_word(self) -> str:
        """Verdict on the assumed supply, "" where none was judged."""
        if self.assumed is None or self.assumed.pcc is None:
            return ""
        return self.assumed.pcc.judgement.doubted(*self._doubts_of_demand).word

    @property
    def _doubts_of_demand(self) -> tuple[str, ...]:
        return self.judgement.doubts if self.demand is None else self.demand.doubts

    def contributions(self, summation: Summation) -> tuple[int, tuple[Contribution, ...]]:
        """The order with the smallest margin, and what each drive adds to it in the state that counts.

        Raises
        ------
        NoSolutionError
            There is no result at the PCC.
        """
        pcc = self.require_pcc()
        binding = pcc.judgement.binding_order
        order = 5 if binding is None or binding.order is None else binding.order
        solution = next(state.solution for state in self.states if state.pcc is pcc)
        assert solution is not None
        return order, contributions(solution.loads, solution.network, pcc.bus, order, summation)

    def require_pcc(self) -> PccResult:
        """The result at the PCC.

        Raises
        ------
        NoSolutionError
            There is none; the message says why.
        """
        if self.pcc is None:
            raise NoSolutionError(self.reason)
        return self.pcc


def with_notes(assessment: Assessment, plant: StudiedPlant) -> Assessment:
    """The assessment with what is known about the inputs of the plant."""
    assumed = () if assessment.spread else tuple(unknown.text for unknown in plant.unknowns)
    if not (plant.remarks or plant.doubts or assumed):
        return assessment
    return replace(
        assessment,
        judgement=assessment.judgement.doubted(*plant.doubts),
        remarks=(*plant.remarks, *assumed, *assessment.remarks),
    )


def dead_text(pcc: PccResult) -> str:
    return f"no current flows through the PCC ({pcc.bus}): there is no Isc/IL and nothing to judge"


def without_result(
    options: PccOptions,
    network: NodalNetwork,
    reason: str,
    *,
    quick: PccResult | None = None,
    fundamental_amps: float | None = None,
) -> Assessment:
    """The assessment of a PCC without a result: no verdict, and why.

    Parameters
    ----------
    options, network
        As `assess` takes them; the network has the PCC.
    reason : str
        A plain sentence.
    quick : PccResult, optional
        The quick estimate, where there is one.
    fundamental_amps : float, optional
        Where it is known.
    """
    limit = ieee519.voltage_limit(network.volts(options.pcc) / 1e3, edition=options.edition)
    missing = Verdict.against(VOLTAGE_THD, None, float("nan"), limit)
    return Assessment(
        bus=options.pcc,
        judgement=Judgement((missing,), (reason,)),
        pcc=None,
        quick=quick,
        states=(),
        demand=None,
        fundamental_amps=fundamental_amps,
        remarks=(),
    )


def on_worst_row(pcc: PccResult) -> PccResult:
    """The result on the row of the limit table that is hardest to meet, where an edge is near."""
    if pcc.row_ratio is not None:
        return pcc
    near = ieee519.neighbouring_rows(pcc.isc_il, pcc.kv, pcc.edition)
    sides = [pcc, *(replace(pcc, row_ratio=ratio) for ratio in near)]
    return max(sides, key=lambda side: side.judgement.binding.ratio)


def state_ratio(state: JudgedState) -> float:
    """Binding value of a state over its limit; infinite without a solution."""
    return float("inf") if state.pcc is None else state.pcc.judgement.binding.ratio


def worst_of(states: Iterable[JudgedState]) -> JudgedState | None:
    """The solved state with the largest value over its limit; None where none is solved."""
    solved = [state for state in states if state.pcc is not None]
    return max(solved, key=state_ratio, default=None)
