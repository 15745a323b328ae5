"""Operating cases of one plant, side by side: short-circuit levels, generators, capacitors, any PCC."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from xlcalc.checks import number
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.network.switching import switched
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Plant
from xlcalc.study.solution import PlantSolution, nodal, solve_coupled, solve_uncoupled

if TYPE_CHECKING:
    import pandas as pd

COUPLED = "coupled"
UNCOUPLED = "uncoupled"


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
        network = nodal(plant)
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
    pccs : tuple of PccResult or None
        In the order of the study's PCCs; None where there is no result for that one.
    reasons : tuple of str
        Why not, by PCC; empty texts where there is a result.
    """

    case: Case
    method: str
    solution: PlantSolution | None
    pccs: tuple[PccResult | None, ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class CaseStudy:
    """All cases, in the order given, the coupled and the uncoupled solution of each in turn."""

    options: tuple[PccOptions, ...]
    results: tuple[CaseResult, ...]

    def table(self) -> pd.DataFrame:
        """One column per case and method, one row per PCC and quantity.

        Quantities: Isc/IL, IL amps, TDD %, THDV %, verdict, binding, reason.
        """
        import pandas as pd

        columns = {
            (result.case.name, result.method): {
                (option.pcc, quantity): value
                for k, option in enumerate(self.options)
                for quantity, value in _quantities(result.pccs[k], result.reasons[k]).items()
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
) -> CaseStudy:
    """Solve all cases of a plant and judge every PCC in each.

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
    ways: dict[str, Callable[[Plant], PlantSolution]] = {COUPLED: solve_coupled, UNCOUPLED: solve_uncoupled}
    for method in methods:
        if method not in ways:
            raise InputError("methods", method, "coupled or uncoupled", wrong_kind=True)
    for option in options:
        nodal(plant).volts(option.pcc)
    results = [
        _solved(case, method, case.applied(plant), ways[method], options)
        for case in cases
        for method in methods
    ]
    return CaseStudy(tuple(options), tuple(results))


def _solved(
    case: Case,
    method: str,
    plant: Plant,
    solve: Callable[[Plant], PlantSolution],
    options: Sequence[PccOptions],
) -> CaseResult:
    try:
        solution = solve(plant)
    except NoSolutionError as problem:
        return CaseResult(case, method, None, (None,) * len(options), (str(problem),) * len(options))
    pccs: list[PccResult | None] = []
    reasons = []
    for option in options:
        if option.pcc not in plant.network.buses:
            pccs.append(None)
            reasons.append("not supplied in this case")
            continue
        try:
            pccs.append(solution.pcc(option))
            reasons.append("")
        except NoSolutionError as problem:
            pccs.append(None)
            reasons.append(str(problem))
    return CaseResult(case, method, solution, tuple(pccs), tuple(reasons))


def _quantities(pcc: PccResult | None, reason: str) -> dict[str, object]:
    if pcc is None:
        blank: dict[str, object] = dict.fromkeys(
            ("Isc/IL", "IL amps", "TDD %", "THDV %", "verdict", "binding")
        )
        return {**blank, "reason": reason}
    return {
        "Isc/IL": pcc.isc_il,
        "IL amps": pcc.demand_amps,
        "TDD %": pcc.tdd_pct,
        "THDV %": pcc.thdv_pct,
        "verdict": pcc.judgement.word,
        "binding": pcc.judgement.summary,
        "reason": "",
    }
