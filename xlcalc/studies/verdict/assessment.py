"""The verdict at a PCC: every state that the plant may be in as far as it was described, the worst counting.

What decides is the coupled solution. The quick estimate stands beside it: it is usually higher, but single
orders can be understated. What was not given is not taken for the best case: linear load damps as much or as
little as it may, the supply is both perfect and typical, and Isc/IL near an edge of the limit table is judged
on both sides of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from xlcalc.core.errors import NoSolutionError
from xlcalc.network.nodal import NodalNetwork
from xlcalc.standards.supply_presets import TYPICAL, SupplyPreset, supply_preset
from xlcalc.studies.coupled.coupling import grouped
from xlcalc.studies.nameplate.sampling import spread_doubt, spread_of
from xlcalc.studies.nameplate.spread import Spread
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.assessed import (
    GIVEN_SUPPLY,
    Assessment,
    JudgedState,
    dead_text,
    on_worst_row,
    state_ratio,
    with_notes,
    without_result,
    worst_of,
)
from xlcalc.studies.verdict.assumed_supply import (
    ANGLES_DEG,
    NEAR_LIMIT,
    is_ideal,
    on_assumed,
    unknown_part,
    worst_angles,
)
from xlcalc.studies.verdict.demand import Demand, demand_of
from xlcalc.studies.verdict.load_ends import load_ends
from xlcalc.studies.verdict.remarks import (
    assumed_doubt,
    drive_doubts,
    generator_doubts,
    generator_remarks,
    remarks_of,
    spectrum_doubts,
    spectrum_remarks,
    too_many_text,
)

MOST_ASSUMED_KINDS: Final = 400
"""Kinds of drives up to which an assumed supply is solved: its unbalance makes matrices of 0.3 MB each."""

__all__ = ["Assessment", "JudgedState", "assess"]


def assess(
    plant: StudiedPlant,
    options: PccOptions,
    *,
    supply: str = "",
    largest_amps: float | None = None,
    solver: Solver | None = None,
) -> Assessment:
    """Judge a PCC of a plant in every state that its description leaves open.

    Parameters
    ----------
    plant : StudiedPlant
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
    network = plant.network
    network.index(options.pcc)
    case = _Case(
        plant=plant,
        network=network,
        options=options,
        preset=preset,
        largest_amps=largest_amps,
        solver=solver or Solver(),
    )
    return with_notes(case.assessment(), plant)


@dataclass(frozen=True, eq=False)
class _Case:
    plant: StudiedPlant
    network: NodalNetwork
    options: PccOptions
    preset: SupplyPreset
    largest_amps: float | None
    solver: Solver

    def assessment(self) -> Assessment:
        quick = self._quick()
        own = self._solved(self.plant)
        if isinstance(own, str):
            return without_result(self.options, self.network, own + self._without_unsolved(), quick=quick)
        flowing = self._at_pcc(own, 1.0)
        if flowing.is_dead:
            return without_result(self.options, self.network, dead_text(flowing), fundamental_amps=0.0)
        demand = demand_of(
            self.plant,
            self.network,
            self.options.pcc,
            self.options.demand_amps,
            flowing.fundamental_amps,
            self.largest_amps,
        )
        ends = load_ends(self.network)
        given = [self._state(GIVEN_SUPPLY, end, network, network, demand) for end, network in ends.items()]
        counts = worst_of(given)
        assert counts is not None
        assert counts.pcc is not None
        part = unknown_part(self.network.utility, self.preset)
        kinds = 0 if is_ideal(part) else len(grouped(self.plant.drives))
        skipped = counts.passes is False or kinds > MOST_ASSUMED_KINDS
        assumed = [] if skipped else self._assumed(given, ends, part, demand)
        doubts = [*demand.doubts, *spectrum_doubts(self.network, self.options.pcc)]
        for state in (*given, *assumed):
            if state.solution is not None:
                doubts += [*drive_doubts(state.solution), *generator_doubts(state.solution)]
        if counts.passes is not False:
            doubts += [too_many_text(kinds)] if kinds > MOST_ASSUMED_KINDS else []
            doubts += [f"{state.name}: {state.reason}" for state in given if state.pcc is None]
            doubts += [doubt for state in assumed if (doubt := assumed_doubt(state, part))]
        spread = self._spread() if self.plant.unknowns else None
        if spread is None and self.plant.unknowns:
            doubts.append("what nameplates leave open could not be sampled: no quick estimate of the plant")
        if spread is not None and counts.passes is not False:
            states = [counts, *([worst] if (worst := worst_of(assumed)) else [])]
            networks = [state.solution.network for state in states if state.solution is not None]
            judged = replace(self.options, demand_amps=demand.amps)
            doubts.append(spread_doubt(spread, networks, self.plant, judged, self.solver))
        doubts = [doubt for doubt in dict.fromkeys(doubts) if doubt]
        return Assessment(
            bus=self.options.pcc,
            judgement=counts.pcc.judgement.doubted(*doubts),
            pcc=counts.pcc,
            quick=None if quick is None else replace(quick, demand_amps=demand.amps),
            states=(*given, *assumed),
            demand=demand,
            fundamental_amps=flowing.fundamental_amps,
            spread=spread,
            remarks=(
                *(spread.remarks if spread else ()),
                *remarks_of(demand, given, self.network.utility, self.preset, self.options.installation),
                *spectrum_remarks(own, replace(self.options, demand_amps=demand.amps)),
                *generator_remarks(own),
            ),
        )

    def _spread(self) -> Spread | None:
        return spread_of(self.plant, self.plant.unknowns, self.options, self.solver, self.largest_amps)

    def _quick(self) -> PccResult | None:
        try:
            quick = self._at_pcc(self.solver.quick(self.plant), 1.0)
        except NoSolutionError:
            return None
        demand = self.options.demand_amps or max(quick.fundamental_amps, self.largest_amps or 0.0)
        return replace(quick, demand_amps=demand) if demand > 0.0 else None

    def _solved(self, plant: StudiedPlant, near: StudiedPlant | None = None) -> PlantSolution | str:
        """The coupled solution, or why there is none."""
        try:
            solution = self.solver.coupled(plant, near)
            solution.require()
        except NoSolutionError as problem:
            return str(problem)
        return solution

    def _at_pcc(self, solution: PlantSolution, demand_amps: float) -> PccResult:
        return solution.pcc(replace(self.options, demand_amps=demand_amps))

    def _without_unsolved(self) -> str:
        """Which figures still hold where drives have no solution of their own; empty where all have one."""
        try:
            unsolved = {
                result.drive.tag for result in self.solver.quick(self.plant).drives if not result.stable
            }
        except NoSolutionError:
            return ""
        others = tuple(drive for drive in self.plant.drives if drive.tag not in unsolved)
        if not unsolved or not others:
            return ""
        rest = self._solved(replace(self.plant, drives=others))
        if isinstance(rest, str):
            return ""
        flowing = self._at_pcc(rest, 1.0)
        if flowing.is_dead:
            return ""
        demand = self.options.demand_amps or max(flowing.fundamental_amps, self.largest_amps or 0.0)
        left = replace(flowing, demand_amps=demand)
        return (
            f"; without {', '.join(sorted(unsolved))} the figures of the other {len(others)} hold: TDD "
            f"{left.tdd_pct:.3g} %, voltage THD {left.thdv_pct:.3g} % at the PCC {self.options.pcc}"
        )

    def _state(
        self, supply: str, loads: str, network: NodalNetwork, end: NodalNetwork, demand: Demand
    ) -> JudgedState:
        """A state judged; the search for it starts from its end on the given supply, loads as given."""
        near = self._on(replace(end, loads=self.network.loads))
        solution = self._solved(self._on(network), near)
        if isinstance(solution, str):
            return JudgedState(supply=supply, loads=loads, solution=None, pcc=None, reason=solution)
        pcc = on_worst_row(self._at_pcc(solution, demand.amps))
        return JudgedState(supply=supply, loads=loads, solution=solution, pcc=pcc)

    def _assumed(
        self,
        given: Sequence[JudgedState],
        ends: Mapping[str, NodalNetwork],
        part: SupplyPreset,
        demand: Demand,
    ) -> list[JudgedState]:
        """States on the assumed supply, the worst end first, up to the first that does not pass.

        Where that end passes by a wide margin, the others, which are less on the given supply, are left out.
        """
        found: list[JudgedState] = []
        if is_ideal(part):
            return found
        for state in sorted(given, key=state_ratio, reverse=True):
            end = ends[state.loads]
            for network in self._on_assumed(end, part, demand):
                found.append(self._state(self.preset.name, state.loads, network, end, demand))
                if found[-1].passes is not True:
                    return found
            if max(state_ratio(one) for one in found) < NEAR_LIMIT:
                return found
        return found

    def _on_assumed(self, end: NodalNetwork, part: SupplyPreset, demand: Demand) -> list[NodalNetwork]:
        """An end on the assumed supply, at the angles that the quick estimate finds worst."""
        networks = {angle: on_assumed(end, part, angle) for angle in ANGLES_DEG}
        outcomes = zip(networks, self.solver.quick_many(list(map(self._on, networks.values()))), strict=True)
        quick = {
            angle: [self._at_pcc(outcome, demand.amps).judgement]
            for angle, outcome in outcomes
            if not isinstance(outcome, NoSolutionError)
        }
        return [networks[angle] for angle in worst_angles(quick)]

    def _on(self, network: NodalNetwork) -> StudiedPlant:
        return replace(self.plant, network=network)
