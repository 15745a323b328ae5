"""Operating cases of one plant, side by side: short-circuit levels, generators, capacitors, any PCC."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from xlcalc.checks import number
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.network.switching import switched
from xlcalc.standards.verdict import NO_VERDICT
from xlcalc.study.assessed import Assessment
from xlcalc.study.assessment import assess
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.quick_assessment import quick_assessment
from xlcalc.study.solution import PlantSolution
from xlcalc.study.solver import Solver

if TYPE_CHECKING:
    import pandas as pd

COUPLED = "coupled"
UNCOUPLED = "uncoupled"
NOT_SUPPLIED: Final = "not supplied in this case"
QUICK: Final = "quick estimate only: the coupled solution decides"


@dataclass(frozen=True)
class Case:
    """One way to run the plant.

    Parameters
    ----------
    name : str
        Once per study.
    off : tuple of str
        What is out of service: elements, buses, drives by tag, or "utility".
    short_circuit_va, x_over_r : float, optional
        Of the utility in this case; None keeps the plant's. Above 0 VA, above 0.
    """

    name: str
    off: tuple[str, ...] = ()
    short_circuit_va: float | None = None
    x_over_r: float | None = None

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InputError("name of a case", self.name, "a name that is not blank", wrong_kind=True)
        if self.short_circuit_va is not None:
            number(f"short_circuit_va of {self.name}", self.short_circuit_va, unit="VA", above=0)
        if self.x_over_r is not None:
            number(f"x_over_r of {self.name}", self.x_over_r, above=0)

    def applied(self, plant: Plant) -> Plant:
        """The plant as this case runs it.

        Raises
        ------
        InputError
            An unknown name, or something left on a bus without supply.
        """
        network = plant.network
        utility = network.utility
        if self.short_circuit_va is not None:
            utility = replace(utility, short_circuit_va=self.short_circuit_va)
        if self.x_over_r is not None:
            utility = replace(utility, x_over_r=self.x_over_r)
        tags = {drive.tag for drive in plant.drives}
        running = switched(replace(network, utility=utility), [name for name in self.off if name not in tags])
        drives = tuple(d for d in plant.drives if d.tag not in self.off and d.bus not in self.off)
        for drive in drives:
            if drive.bus not in running.buses:
                raise InputError(
                    f"bus of {drive.tag} in case {self.name}", drive.bus, "a bus with supply", wrong_kind=True
                )
        return replace(plant, network=running, drives=drives)


@dataclass(frozen=True)
class CaseResult:
    """One case solved in one way.

    Parameters
    ----------
    case : Case
    solution : PlantSolution or None
        None where there is none.
    assessments : tuple of Assessment or None
        In the order of the study's PCCs; None where the case leaves that one without supply.
    """

    case: Case
    method: str
    solution: PlantSolution | None
    assessments: tuple[Assessment | None, ...]

    @property
    def pccs(self) -> tuple[PccResult | None, ...]:
        """In the order of the study's PCCs; None where there is no result for that one."""
        return tuple(one.pcc if one else None for one in self.assessments)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why there is no verdict, by PCC; empty texts where there is one."""
        return tuple(one.reason if one else NOT_SUPPLIED for one in self.assessments)


@dataclass(frozen=True)
class CaseStudy:
    """All cases, in the order given, the coupled and the uncoupled solution of each in turn."""

    options: tuple[PccOptions, ...]
    results: tuple[CaseResult, ...]

    def table(self) -> pd.DataFrame:
        """One column per case and method, one row per PCC and quantity.

        Quantities: Isc/IL, IL amps, IL basis, TDD %, THDV %, verdict, binding, reason, remarks.
        """
        import pandas as pd

        columns = {
            (result.case.name, result.method): {
                (option.pcc, quantity): value
                for k, option in enumerate(self.options)
                for quantity, value in _quantities(result.assessments[k]).items()
            }
            for result in self.results
        }
        frame = pd.DataFrame(columns, dtype=object)
        frame.index.names = ["PCC", "quantity"]
        frame.columns.names = ["case", "method"]
        return frame


def run_cases(
    plant: Plant,
    cases: Sequence[Case],
    options: Sequence[PccOptions],
    methods: Sequence[str] = (COUPLED, UNCOUPLED),
    *,
    supply: str = "",
    solver: Solver | None = None,
) -> CaseStudy:
    """Solve all cases of a plant and judge every PCC in each.

    A PCC has one demand current in all cases: what was typed, else the largest fundamental of them. The
    uncoupled solution gives figures, but no verdict.

    Parameters
    ----------
    plant : Plant
        With a nodal network.
    cases : sequence of Case
        Each name once.
    options : sequence of PccOptions
        One per PCC.
    methods : sequence of str
        "coupled", "uncoupled" or both.
    supply, solver
        As `xlcalc.study.assessment.assess`.

    Raises
    ------
    InputError
        A name twice, an unknown method, or a case that does not fit the plant.
    """
    seen: set[str] = set()
    for case in cases:
        if case.name in seen:
            raise InputError("name of a case", case.name, "each name once", wrong_kind=True)
        seen.add(case.name)
    for method in methods:
        if method not in (COUPLED, UNCOUPLED):
            raise InputError("methods", method, "coupled or uncoupled", wrong_kind=True)
    for option in options:
        plant.network.volts(option.pcc)
    known = solver or Solver()
    plants = [case.applied(plant) for case in cases]
    results: dict[tuple[str, str], CaseResult] = {}
    for method in methods:
        most = [largest_amps(plants, option, _solve_with(known, method)) for option in options]
        for case, running in zip(cases, plants, strict=True):
            found = tuple(
                _judged(running, option, amps, method, supply, known)
                for option, amps in zip(options, most, strict=True)
            )
            results[case.name, method] = CaseResult(case, method, _solution(known, method, running), found)
    ordered = tuple(results[case.name, method] for case in cases for method in methods)
    return CaseStudy(tuple(options), ordered)


def _judged(
    plant: Plant, options: PccOptions, largest: float | None, method: str, supply: str, solver: Solver
) -> Assessment | None:
    """A PCC in one case; None where it has no supply there."""
    if options.pcc not in plant.network.buses:
        return None
    if method == UNCOUPLED:
        return quick_assessment(plant, options, QUICK, largest_amps=largest, solver=solver)
    return assess(plant, options, supply=supply, largest_amps=largest, solver=solver)


def largest_amps(
    plants: Iterable[Plant], options: PccOptions, solve: Callable[[Plant], PlantSolution]
) -> float | None:
    """The largest fundamental at a PCC over the cases of a study, A; None where none has current there.

    Parameters
    ----------
    plants : iterable of Plant
        As each case runs them.
    options : PccOptions
    solve : callable
        Gives the solution of a plant or raises `NoSolutionError`, which leaves the case out.
    """
    most = 0.0
    for plant in plants:
        if options.pcc not in plant.network.buses:
            continue
        try:
            pcc = solve(plant).pcc(replace(options, demand_amps=1.0))
        except NoSolutionError:
            continue
        most = max(most, 0.0 if pcc.is_dead else pcc.fundamental_amps)
    return most or None


def _solve_with(solver: Solver, method: str) -> Callable[[Plant], PlantSolution]:
    return solver.coupled if method == COUPLED else solver.quick


def _solution(solver: Solver, method: str, plant: Plant) -> PlantSolution | None:
    try:
        return _solve_with(solver, method)(plant)
    except NoSolutionError:
        return None


def _quantities(found: Assessment | None) -> dict[str, object]:
    pcc = found.pcc if found else None
    return {
        "Isc/IL": pcc.isc_il if pcc else None,
        "IL amps": pcc.demand_amps if pcc else None,
        "IL basis": found.il_basis if found else None,
        "TDD %": pcc.tdd_pct if pcc else None,
        "THDV %": pcc.thdv_pct if pcc else None,
        "verdict": found.word if found else NO_VERDICT,
        "binding": found.summary if found else None,
        "reason": found.reason if found else NOT_SUPPLIED,
        "remarks": found.remark if found else "",
    }
