"""The verdict at a PCC: every state that the plant may be in as far as it was described, the worst counting.

What decides is the coupled solution. The quick estimate stands beside it: it is usually higher, but single
orders can be understated. What was not given is not taken for the best case: linear load damps as much or as
little as it may, the supply is both perfect and typical, and Isc/IL near an edge of the limit table is judged
on both sides of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from xlcalc.errors import NoSolutionError
from xlcalc.network.nodal import NodalNetwork
from xlcalc.standards import ieee519
from xlcalc.standards.supply_presets import IDEAL, TYPICAL, SupplyPreset, supply_preset
from xlcalc.standards.verdict import FAIL, PASS, Judgement, Verdict, printed
from xlcalc.study.assumed_supply import ANGLES_DEG, described, is_ideal, on_assumed, unknown_part
from xlcalc.study.demand import DEAD, ESTIMATED, TYPED, Demand, amps_text, demand_of
from xlcalc.study.load_ends import AS_GIVEN, load_ends
from xlcalc.study.pcc import VOLTAGE_THD, PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.solution import PlantSolution, nodal
from xlcalc.study.solver import Solver

PERFECT_ONLY: Final = "PASS only on a perfect supply"
GIVEN_SUPPLY: Final = "as given"


@dataclass(frozen=True, kw_only=True, eq=False)
class State:
    """One state of the plant, solved and judged.

    Parameters
    ----------
    supply : str
        "as given", or the preset that fills what is unknown of the supply.
    loads : str
        What static loads are to harmonics: "as given", "parallel R and L" or "open".
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
        loads = "" if self.loads == AS_GIVEN else f"static loads {self.loads}"
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
    states : tuple of State
        All that were solved, the plant as it was given first.
    demand : Demand or None
        The demand current and its basis.
    fundamental_amps : float or None
        Fundamental at the PCC in this case, A.
    remarks : tuple of str
        What qualifies the verdict, each a plain sentence.
    """

    bus: str
    judgement: Judgement
    pcc: PccResult | None
    quick: PccResult | None
    states: tuple[State, ...]
    demand: Demand | None
    fundamental_amps: float | None
    remarks: tuple[str, ...]

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
        return self.judgement.summary

    @property
    def il_basis(self) -> str:
        """ "typed" or "estimated"; empty where no current flows."""
        return self.demand.basis if self.demand else ""

    @property
    def assumed(self) -> State | None:
        """The worst state on an assumed supply; None where none was judged: levels given, or FAIL anyway."""
        return _worst(state for state in self.states if state.supply != GIVEN_SUPPLY)

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


def assess(
    plant: Plant,
    options: PccOptions,
    *,
    supply: str = "",
    largest_amps: float | None = None,
    solver: Solver | None = None,
) -> Assessment:
    """Judge a PCC of a plant in every state that its description leaves open.

    Parameters
    ----------
    plant : Plant
        With a nodal network that holds all loads.
    options : PccOptions
        PCC, edition, summation, and the demand current where it is known.
    supply : str
        Preset for what is unknown of the supply: "typical", "poor" or "permitted", judged besides the supply
        as it is; "ideal" judges that alone; empty is "typical".
    largest_amps : float, optional
        The largest fundamental at the PCC over all cases of the study, A: there is one I_L for all of them.
    solver : Solver, optional
        Remembers solutions, so that plants judged at several PCCs are solved once.

    Raises
    ------
    InputError
        No such bus or preset, or another kind of network.
    """
    preset = supply_preset(supply or TYPICAL)
    network = nodal(plant)
    network.index(options.pcc)
    return _Case(plant, network, options, preset, largest_amps, solver or Solver()).assessment()


@dataclass(frozen=True, eq=False)
class _Case:
    plant: Plant
    network: NodalNetwork
    options: PccOptions
    preset: SupplyPreset
    largest_amps: float | None
    solver: Solver

    def assessment(self) -> Assessment:
        quick = self._quick()
        own = self._solved(self.plant)
        if isinstance(own, str):
            return self._nothing(own, quick)
        flowing = self._at_pcc(own, 1.0)
        if flowing.fundamental_amps < DEAD * flowing.short_circuit_amps:
            return self._nothing(f"no current flows through the PCC ({self.options.pcc})", None)
        demand = demand_of(
            self.plant,
            self.network,
            self.options.pcc,
            self.options.demand_amps,
            flowing.fundamental_amps,
            self.largest_amps,
        )
        ends = load_ends(self.network)
        given = [
            self._state(GIVEN_SUPPLY, end, replace(self.plant, network=network), demand)
            for end, network in ends.items()
        ]
        counts = _worst(given)
        assert counts is not None
        assert counts.pcc is not None
        part = unknown_part(self.network.utility, self.preset)
        assumed = [] if counts.passes is False else self._assumed(given, ends, part, demand)
        doubts = [*demand.doubts, *self._drive_doubts(own)]
        if counts.passes is not False:
            doubts += [f"{state.name}: {state.reason}" for state in given if state.pcc is None]
            doubts += [doubt for state in assumed if (doubt := _assumed_doubt(state, part))]
        return Assessment(
            bus=self.options.pcc,
            judgement=counts.pcc.judgement.doubted(*doubts),
            pcc=counts.pcc,
            quick=None if quick is None else replace(quick, demand_amps=demand.amps),
            states=(*given, *assumed),
            demand=demand,
            fundamental_amps=flowing.fundamental_amps,
            remarks=self._remarks(demand, counts, given, part),
        )

    def _quick(self) -> PccResult | None:
        try:
            quick = self._at_pcc(self.solver.quick(self.plant), 1.0)
        except NoSolutionError:
            return None
        demand = self.options.demand_amps or max(quick.fundamental_amps, self.largest_amps or 0.0)
        return replace(quick, demand_amps=demand) if demand > 0.0 else None

    def _solved(self, plant: Plant) -> PlantSolution | str:
        """The coupled solution, or why there is none."""
        try:
            solution = self.solver.coupled(plant)
            solution.require()
        except NoSolutionError as problem:
            return str(problem)
        return solution

    def _at_pcc(self, solution: PlantSolution, demand_amps: float) -> PccResult:
        return solution.pcc(replace(self.options, demand_amps=demand_amps))

    def _nothing(self, reason: str, quick: PccResult | None) -> Assessment:
        limit = ieee519.voltage_limit(
            self.network.volts(self.options.pcc) / 1e3, edition=self.options.edition
        )
        return Assessment(
            bus=self.options.pcc,
            judgement=Judgement((Verdict.against(VOLTAGE_THD, None, float("nan"), limit),), (reason,)),
            pcc=None,
            quick=quick,
            states=(),
            demand=None,
            fundamental_amps=None,
            remarks=(),
        )

    def _state(self, supply: str, loads: str, plant: Plant, demand: Demand) -> State:
        solution = self._solved(plant)
        if isinstance(solution, str):
            return State(supply=supply, loads=loads, solution=None, pcc=None, reason=solution)
        pcc = _on_worst_row(self._at_pcc(solution, demand.amps))
        return State(supply=supply, loads=loads, solution=solution, pcc=pcc)

    def _assumed(
        self, given: Sequence[State], ends: Mapping[str, NodalNetwork], part: SupplyPreset, demand: Demand
    ) -> list[State]:
        """States on the assumed supply, up to the first that does not pass."""
        found: list[State] = []
        if is_ideal(part):
            return found
        for state in sorted(given, key=_ratio, reverse=True):
            found.append(self._on_assumed(state, ends[state.loads], part, demand))
            if found[-1].passes is not True:
                break
        return found

    def _on_assumed(self, state: State, network: NodalNetwork, part: SupplyPreset, demand: Demand) -> State:
        """The state on the assumed supply, at the angle that the quick estimate finds worst."""
        on_angle = partial(on_assumed, self.plant, network, part)
        worst, most = ANGLES_DEG[0], -1.0
        plants = [on_angle(angle) for angle in ANGLES_DEG]
        for angle, solution in zip(ANGLES_DEG, self.solver.quick_many(plants), strict=True):
            if isinstance(solution, NoSolutionError):
                continue
            ratio = self._at_pcc(solution, demand.amps).judgement.binding.ratio
            if ratio > most:
                worst, most = angle, ratio
        return self._state(self.preset.name, state.loads, on_angle(worst), demand)

    def _drive_doubts(self, solution: PlantSolution) -> list[str]:
        uneven = [result.drive.tag for result in solution.drives if result.reason]
        if not uneven:
            return []
        return [
            f"drive {', '.join(uneven)} settles to uneven pulses, which a running drive need not do: the "
            "figures hold for this state only"
        ]

    def _remarks(
        self, demand: Demand, counts: State, given: Sequence[State], part: SupplyPreset
    ) -> tuple[str, ...]:
        remarks = []
        assert counts.pcc is not None
        if demand.basis == ESTIMATED:
            origin = "the largest case" if self.largest_amps else "the fundamental of this case"
            remarks.append(f"IL estimated: {amps_text(demand.amps)}, {origin}")
        if counts.pcc.row_ratio is not None:
            remarks.append(
                f"Isc/IL {counts.pcc.isc_il:.4g} is within 10 % of an edge of the limit table: judged on "
                f"both sides, shown on {counts.pcc.limit_row}"
            )
        if len(given) > 1:
            texts = (f"{s.name} {s.pcc.tdd_pct:.2f} %" if s.pcc else f"{s.name} unsolved" for s in given)
            remarks.append("TDD by what static loads are to harmonics: " + ", ".join(texts))
        if self.preset.name == IDEAL:
            if not is_ideal(unknown_part(self.network.utility, supply_preset(TYPICAL))):
                remarks.append("judged on a perfect supply")
        elif not is_ideal(part) and counts.passes is not False:
            remarks.append(f"supply not given: judged perfect and {self.preset.name} ({described(part)})")
        return tuple(remarks)


def _on_worst_row(pcc: PccResult) -> PccResult:
    """The result on the row of the limit table that is hardest to meet, where an edge is near."""
    near = ieee519.neighbouring_rows(pcc.isc_il, pcc.kv, pcc.edition)
    sides = [pcc, *(replace(pcc, row_ratio=ratio) for ratio in near)]
    return max(sides, key=lambda side: side.judgement.binding.ratio)


def _ratio(state: State) -> float:
    return float("inf") if state.pcc is None else state.pcc.judgement.binding.ratio


def _worst(states: Iterable[State]) -> State | None:
    solved = [state for state in states if state.pcc is not None]
    return max(solved, key=_ratio, default=None)


def _assumed_doubt(state: State, part: SupplyPreset) -> str:
    levels = f"a {state.supply} one ({described(part)})"
    if state.pcc is None:
        return f"no result on any but a perfect supply; on {levels}: {state.reason}"
    if state.pcc.judgement.word == FAIL:
        worst = state.pcc.judgement.binding
        value, limit = printed(worst.value, worst.limit, "{:.3g}".format)
        return f"{PERFECT_ONLY}: on {levels} {worst.name} is {value} % against a limit of {limit} %"
    return "" if state.pcc.judgement.word == PASS else state.pcc.judgement.reason


__all__ = ["ESTIMATED", "PERFECT_ONLY", "TYPED", "Assessment", "State", "assess"]
