"""Pictures of results as files: SVG and PNG of each in a folder."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from xlcalc.core.errors import InputError
from xlcalc.drawing import figures
from xlcalc.drawing.single_line import single_line
from xlcalc.files.outputs import check_outputs
from xlcalc.files.writing import write_files
from xlcalc.studies.kinds import kinds_of
from xlcalc.studies.pcc import PccResult, pcc_columns
from xlcalc.studies.plant import StudiedPlant

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from xlcalc.face.record import Record
    from xlcalc.jobs.schedule.site_run import SiteRun
    from xlcalc.jobs.sweep.sweep_job import SweepResult
    from xlcalc.mitigation.choice import ChosenMix
    from xlcalc.standards.verdict import Judgement
    from xlcalc.studies.sources import Contribution

KINDS: Final = ("svg", "png")
OPTION: Final = "--plots"
RANKED: Final = 12
CYCLES: Final = 2.0
LOWEST_HZ: Final = 50.0
_SIGN: Final = re.compile(r"[^A-Za-z0-9.]+")

Pictures = Iterator[tuple[str, "Figure"]]


def check_folder(folder: Path | None, *, overwrite: bool) -> None:
    """Refuse a folder that holds something, and an installation that makes no pictures.

    Raises
    ------
    InputError
        It is a file, or it is not empty and nothing may be replaced, or matplotlib is missing.
    """
    if folder is None:
        return
    figures.needed()
    if folder.exists() and not folder.is_dir():
        raise InputError(OPTION, str(folder), "a folder")
    if folder.is_dir() and any(folder.iterdir()) and not overwrite:
        raise InputError(OPTION, f"{folder}, which is not empty", "a new or empty folder, or --overwrite")


def write_pictures(
    folder: Path | None, pictures: Iterable[tuple[str, Figure]], inputs: Sequence[Path]
) -> str:
    """Write both kinds of every picture; returns what was done, in words."""
    if folder is None:
        return ""
    files: dict[Path, list[bytes]] = {}
    for name, figure in pictures:
        base = _SIGN.sub("-", name).strip("-").casefold()
        for kind in KINDS:
            files[folder / f"{base}.{kind}"] = [figures.as_bytes(figure, kind)]
    folder.mkdir(parents=True, exist_ok=True)
    check_outputs(list(files), inputs, overwrite=True, option=OPTION)
    write_files(files)
    return f"Wrote {len(files)} pictures to {folder}"


def of_schedule(runs: Iterable[SiteRun]) -> Pictures:
    """Single-line diagram and drives of every site, and each PCC in each case against its limits."""
    several = list(runs)
    for run in several:
        site = f"{run.site.name} " if len(several) > 1 else ""
        first = run.cases[0]
        plant = StudiedPlant(first.network, tuple(result.drive for result in first.kinds.results))
        yield f"{site}single-line", figures.diagram(single_line(plant, [point.pcc for point in first.points]))
        for case in run.cases:
            for point in case.points:
                found = case.kinds.assessments[point.pcc]
                if found.pcc is None:
                    continue
                where = " ".join(filter(None, (site.strip(), case.name, point.pcc)))
                yield from _pcc(where, found.pcc)
                if case.kinds.coupled:
                    yield _causes(where, *found.contributions(point.summation))
        for name, figure in figures.drives(kinds_of(plant)):
            yield f"{site}{name}", figure


def _pcc(where: str, result: PccResult) -> Pictures:
    columns = pcc_columns(result)
    orders = range(2, len(columns["current_pct"]) + 1)
    for what, unit in (("current", "% of demand current"), ("voltage", "% of nominal")):
        values, limits = columns[f"{what}_pct"][1:], columns[f"{what}_limit_pct"][1:]
        title = f"Harmonic {what} at {where} against its limits"
        yield f"{what} {where}", figures.against_limits(title, orders, values, limits, unit)


def _causes(where: str, order: int, causes: Sequence[Contribution]) -> tuple[str, Figure]:
    shown = causes[:RANKED]
    tags, shares = [cause.tag for cause in shown], [cause.share_pct for cause in shown]
    title = f"What causes order {order} at {where}"
    return f"contributions {where}", figures.ranking(title, tags, shares, "% of the sum of all drives")


def of_choice(choice: ChosenMix) -> Pictures:
    """Cost against TDD, the chosen mix at each PCC in its worst case and its causes, purchase and drives."""
    from xlcalc.mitigation.milp.currents import fitted

    problem, mix = choice.problem, choice.mix
    currency = problem.economics.currency
    unit = f"cost, {currency}" if currency else "cost"
    if choice.front:
        points = [
            (p.mix.tdd_pct, p.mix.cost, f"{p.mix.cost:,.0f}{'' if p.passes else ', exceeds limits'}")
            for p in choice.front
        ]
        yield "trade-off", figures.trade_off("Cost against TDD", points, (mix.tdd_pct, mix.cost), unit)
    ranked = sorted(choice.assessment.points, key=lambda point: -point.ratio)
    for pcc in dict.fromkeys(point.point.pcc for point in ranked):
        worst = next(point for point in ranked if point.point.pcc == pcc)
        yield from _pcc(worst.name, worst.result)
        order, causes = worst.contributions
        if causes:
            yield _causes(worst.name, order, causes)
    table = choice.mix_table()
    bought = table[table["purchase"] > 0.0].groupby("option", sort=False)["purchase"].sum()
    if len(bought):
        dearest = bought.sort_values(ascending=False)[:RANKED]
        names = [str(name) for name in dearest.index]
        title, prices = "What the mix costs to buy", dearest.tolist()
        yield "purchase", figures.ranking(title, names, prices, unit.replace("cost", "purchase"))
    case = problem.cases[0]
    runs = ((drive, case.drive(drive)) for drive in problem.drives)
    ready = [fitted(run, mix.options[drive.tag]) for drive, run in runs if run is not None]
    plant = StudiedPlant(case.network, tuple(drive for drive in ready if drive is not None))
    pccs = [point.pcc for point in case.points]
    scheduled = StudiedPlant(case.network, problem.drives)
    yield "single-line as scheduled", figures.diagram(single_line(scheduled, pccs))
    yield from figures.drives(kinds_of(plant))


def of_sweep(result: SweepResult) -> Pictures:
    """Distortion not exceeded by a share of the combinations, and the inputs that matter most."""
    from xlcalc.jobs.sweep.sweep_run import OUTPUTS
    from xlcalc.jobs.sweep.sweep_tables import curve_table

    curve = curve_table(result.samples)
    share = curve.iloc[:, 0].tolist()
    for name in OUTPUTS:
        columns = [column for column in curve if str(column).startswith(name)]
        limit = float(result.levels.loc[result.levels["quantity"] == name, "lowest limit"].min())
        values = {str(column): curve[column].tolist() for column in columns}
        title = f"{name} not exceeded by a share of the combinations"
        yield f"levels {name}", figures.shares(title, share, values, limit, "%")
        column = f"rank correlation with {name}"
        ranks = result.ranks.dropna(subset=[column]).drop_duplicates("input")[:RANKED]
        if len(ranks):
            inputs = [str(one) for one in ranks["input"]]
            title = f"Inputs that matter most for {name}"
            yield f"inputs {name}", figures.ranking(title, inputs, ranks[column].tolist(), column)


def of_record(record: Record, judged: dict[str, Judgement]) -> Pictures:
    """The first cycles, the spectrum, and what was judged by order against its limits."""
    for name, judgement in judged.items():
        rows: dict[int, tuple[float, float]] = {}
        for verdict in judgement.verdicts:
            if verdict.order and math.isfinite(verdict.value) and verdict.limit:
                worst = rows.get(verdict.order, (0.0, 1.0))
                if verdict.value / verdict.limit >= worst[0] / worst[1]:
                    rows[verdict.order] = (verdict.value, verdict.limit)
        if rows:
            orders = sorted(rows)
            values, limits = [rows[h][0] for h in orders], [rows[h][1] for h in orders]
            title = f"{name}: the value nearest to its limit, by order"
            yield f"limits {name}", figures.against_limits(title, orders, values, limits, "%")
    if record.is_log:
        return
    held = record.waveforms
    count = min(held.samples.shape[0], round(CYCLES * held.rate / (record.hz or LOWEST_HZ)))
    seconds = [k / held.rate for k in range(count)]
    for quantity in dict.fromkeys(channel.quantity for channel in held.channels):
        samples = {
            channel.name: held.samples[:count, k].tolist()
            for k, channel in enumerate(held.channels)
            if channel.quantity == quantity
        }
        unit = next(channel.unit for channel in held.channels if channel.quantity == quantity)
        yield f"waveform {quantity}", figures.traces(f"First cycles: {quantity}", seconds, samples, unit)
    table = record.spectrum()
    for channel, rows_of in table[table["order"].between(2, figures.SHOWN_ORDERS)].groupby(
        "channel", sort=False
    ):
        nothing = [math.nan] * len(rows_of)
        percent = rows_of["% of fundamental"].tolist()
        title = f"Spectrum of {channel}"
        unit = "% of the fundamental"
        orders_of = rows_of["order"].tolist()
        yield f"spectrum {channel}", figures.against_limits(title, orders_of, percent, nothing, unit)
