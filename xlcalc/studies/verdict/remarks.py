"""What a reader of a verdict has to know beside it, in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from xlcalc.network.elements import Utility
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.topology import connected
from xlcalc.standards import ieee519
from xlcalc.standards.ieee519 import Installation
from xlcalc.standards.supply_presets import IDEAL, TYPICAL, SupplyPreset, supply_preset
from xlcalc.standards.verdict import FAIL, PASS, printed
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.sources import Summation
from xlcalc.studies.verdict.assessed import JudgedState, worst_of
from xlcalc.studies.verdict.assumed_supply import described, is_ideal, unknown_part
from xlcalc.studies.verdict.demand import ESTIMATED, Demand, amps_text

PERFECT_ONLY: Final = "PASS only on a perfect supply"

TYPICAL_LEADING_PCT: Final = 15.0
"""Vars that a generator takes at any output, of its rating; 15 to 20 are common practice, no source."""

NO_VARS: Final = 1e-6
"""Of a rating: rounding."""


def remarks_of(
    demand: Demand,
    given: Sequence[JudgedState],
    utility: Utility,
    preset: SupplyPreset,
    installation: Installation = Installation.LOAD,
) -> tuple[str, ...]:
    """What qualifies the verdict.

    Parameters
    ----------
    demand : Demand
    given : sequence of JudgedState
        On the supply as it was given, one solved at least.
    utility : Utility
        As it was given.
    preset : SupplyPreset
        What stands for the unknown part of it.
    installation : Installation
        What the PCC connects.
    """
    remarks = []
    counts = worst_of(given)
    pcc = counts.pcc if counts else None
    if demand.basis == ESTIMATED:
        remarks.append(f"IL estimated: {amps_text(demand.amps)}, the largest fundamental of the study")
    if installation is Installation.GENERATION:
        remarks.append("power generation: judged by the first row of the limits whatever Isc/IL is")
    elif pcc is not None and ieee519.neighbouring_rows(pcc.isc_il, pcc.kv, pcc.edition):
        remarks.append(
            f"Isc/IL {pcc.isc_il:.4g} is within 10 % of an edge of the limit table: judged on both sides, "
            f"the harder row is {pcc.limit_row}"
        )
    if pcc is not None and pcc.edition != ieee519.DEFAULT_EDITION:
        remarks.append(
            f"judged by the edition {pcc.edition}, which that of {ieee519.DEFAULT_EDITION} replaced"
        )
    if len(given) > 1:
        texts = (f"{s.name} {s.pcc.tdd_pct:.2f} %" if s.pcc else f"{s.name} unsolved" for s in given)
        remarks.append("TDD by what is open of the plant: " + ", ".join(texts))
    part = unknown_part(utility, preset)
    if preset.name == IDEAL and not is_ideal(unknown_part(utility, supply_preset(TYPICAL))):
        remarks.append("judged on a perfect supply")
    elif not is_ideal(part) and pcc is not None and pcc.judgement.passes is not False:
        remarks.append(f"supply not given: judged perfect and {preset.name} ({described(part)})")
    return tuple(remarks)


def drive_doubts(solution: PlantSolution) -> list[str]:
    """A doubt for each kind of remark that drives have, such as uneven pulses."""
    tags: dict[str, list[str]] = {}
    for result in solution.drives:
        if result.reason:
            tags.setdefault(result.reason, []).append(result.drive.tag)
    return [
        f"drive {', '.join(alike)}: {reason}; the figures hold for this state, in which a running drive need "
        "not settle"
        for reason, alike in tags.items()
    ]


def spectrum_doubts(network: NodalNetwork, pcc: str) -> list[str]:
    """Why loads with their own spectrum leave a PCC without a verdict.

    Their orders 3, 9, 15, ... are a zero sequence, which the network is not solved for: it stays behind the
    first winding that blocks it, and a PCC on the load's side of that winding carries it. Nor can a verdict
    rest on orders that nobody gave.
    """
    missing = [
        f"the spectrum of {load.name} ends at order {max(each.order for each in load.harmonics)} or lacks "
        "orders below: give them, or set its 'orders not listed' to zero"
        for load in network.spectrum_loads
        if not load.complete
    ]
    ways = [branch for branch in network.branches if branch.passes_zero_sequence]
    return missing + [
        f"orders 3, 9, ... of load {load.name} ({load.triplen_pct:.3g} % of its current) flow through the "
        f"PCC {pcc}: no winding on the way blocks their zero sequence, and it is not solved"
        for load in network.spectrum_loads
        if load.triplen_pct > 0.0 and pcc in connected(load.bus, ways)
    ]


def spectrum_remarks(solution: PlantSolution, options: PccOptions) -> list[str]:
    """Where spectra of loads come from, and what the law of exponents gives where angles are not known."""
    loads = solution.network.spectrum_loads
    remarks = [
        f"load {load.name}: spectrum from {load.source}; orders that it does not list, those above "
        f"{max(harmonic.order for harmonic in load.harmonics)} too, count as zero"
        for load in loads
    ]
    if lacking := [load.name for load in loads if load.unknown.any()]:
        by_exponents = solution.pcc(replace(options, summation=Summation.EXPONENTS))
        remarks.append(
            f"angles of {', '.join(lacking)} not given: they add in phase with all the others; all sources "
            f"by the exponents of IEC TR 61000-3-6: TDD {by_exponents.tdd_pct:.3g} %"
        )
    return remarks


def generator_doubts(solution: PlantSolution) -> list[str]:
    """Why a plant on its generators alone has no verdict: its generator cannot run there.

    Its output lies outside of its capability curve: power fed back, more vars (leading) than it takes, more
    apparent power than its rating. Its voltage is then not what the figures rest on.
    """
    power, generator = _from_generators(solution), solution.network.island_generator
    if generator is None:
        return []
    doubts = []
    if power.real < 0.0:
        doubts.append(
            f"{-power.real / 1e3:.4g} kW are fed back into generators alone, which cannot take them"
        )
    given = generator.leading_pct is not None
    leading_pct = TYPICAL_LEADING_PCT if generator.leading_pct is None else generator.leading_pct
    most = leading_pct / 100.0 * generator.rating_va
    if -power.imag > max(most, NO_VARS * generator.rating_va):
        basis = "its 'leading pct'" if given else "usual (common practice, no source); give its 'leading pct'"
        doubts.append(
            f"generator {generator.name} has to take {-power.imag / 1e3:.4g} kvar (leading), more than the "
            f"{most / 1e3:.4g} kvar that are {basis}"
        )
    if abs(power) > generator.rating_va * (1.0 + NO_VARS):
        doubts.append(
            f"generator {generator.name} has to deliver {abs(power) / 1e3:.4g} kVA, more than its rating of "
            f"{generator.rating_va / 1e3:.4g} kVA"
        )
    return doubts


def generator_remarks(solution: PlantSolution) -> list[str]:
    """Leading vars that a generator alone has to take, such as those of filters at light load."""
    power, generator = _from_generators(solution), solution.network.island_generator
    if generator is None or power.imag >= -NO_VARS * generator.rating_va:
        return []
    share = -100.0 * power.imag / generator.rating_va
    return [
        f"the generators take {-power.imag / 1e3:.4g} kvar (leading) at {power.real / 1e3:.4g} kW, "
        f"{share:.3g} % of the rating of {generator.name}: compare with its capability curve"
    ]


def _from_generators(solution: PlantSolution) -> complex:
    """Fundamental power out of the generator that is the supply; 0 where the utility feeds."""
    network, flow = solution.network, solution.flow
    if not network.holds_terminal:
        return 0j
    volts, amps = flow.bus_volts(network.utility_bus), flow.inflow(network.utility_bus)
    return complex((volts[:, 0] * amps[:, 0].conj()).sum())


def too_many_text(kinds: int) -> str:
    """Why a large plant on a supply that nobody measured has no verdict."""
    return (
        f"unbalance and background of the supply are not given, and {kinds} kinds of drives are too many to "
        "try a typical one: give measured levels, or set 'supply' to ideal"
    )


def assumed_doubt(state: JudgedState, part: SupplyPreset) -> str:
    """Why a plant that passes on its own supply has no verdict for an assumed one; empty where it has."""
    levels = f"a {state.supply} one ({described(part)})"
    if state.pcc is None:
        return f"no result on any but a perfect supply; on {levels}: {state.reason}"
    if state.pcc.judgement.word == FAIL:
        worst = state.pcc.judgement.binding
        value, limit = printed(worst.value, worst.limit)
        return f"{PERFECT_ONLY}: on {levels} {worst.name} is {value} % against a limit of {limit} %"
    return "" if state.pcc.judgement.word == PASS else state.pcc.judgement.reason
