"""What a study expects at a point of common coupling or at a drive, and the band of its inputs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.face.drive import Drive, Supply, solve
from xlcalc.face.plant import DriveList, Plant
from xlcalc.face.study import Study, study
from xlcalc.io.plants.plant_file import PlantSite
from xlcalc.io.plants.site import Site
from xlcalc.measurement.agreement import Band, band
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.supply import ordinal
from xlcalc.standards.supply_presets import TYPICAL, supply_preset

UNCERTAIN: Final = {
    "short-circuit level": 0.20,
    "transformer impedance": 0.10,
    "line reactor": 0.10,
    "dc choke": 0.10,
    "dc capacitance": 0.20,
}
"""By how much, either way. Transformers: IEC 60076-1 (from memory); the rest common practice, no source."""
UNKNOWN_SUPPLY: Final = "supply distortion (typical)"
NEAR: Final = 1e-3
PASSES: Final = 8
_LOADS: Final = (1.0, 200.0)


@dataclass(frozen=True, kw_only=True)
class Expected:
    """A prediction at the measured load.

    Parameters
    ----------
    where : str
        The PCC, or the drive.
    bus : str or None
        The bus of a PCC.
    amps : Band
    volts_pct : Band, optional
        Percent of the nominal voltage; only at a PCC.
    load_share : float
        By what the loads of the study were multiplied to draw the measured fundamental.
    phasors : array of complex, optional
        Current of phase a by order, A; only at a drive.
    """

    where: str
    bus: str | None
    amps: Band
    volts_pct: Band | None
    load_share: float
    phasors: ComplexArray | None = None


def expected_at_pcc(
    plant: Plant,
    drives: DriveList,
    fundamental_amps: float,
    *,
    pcc: str | None = None,
    case: str | None = None,
) -> Expected:
    """Currents and voltages at a PCC while it carries a fundamental current.

    The loads of all drives are multiplied alike until the study draws that current.

    Parameters
    ----------
    plant, drives
        As read from a workbook or files.
    fundamental_amps : float
    pcc, case : str, optional
        Needed where the study has several.

    Raises
    ------
    InputError
        An unknown name, a study without solution, or a current that the drives cannot draw.
    """
    frame = drives.frame
    plant = in_case(plant, case)
    where = _Where(pcc)
    share, first = _matched_load(plant, frame, where, fundamental_amps)
    scaled = _loaded(frame, share)
    amps: dict[str, list[FloatArray]] = {}
    volts: dict[str, list[FloatArray]] = {}
    for name, other, table in _variants(plant, scaled):
        orders = where.orders(study(other, table))
        factor = fundamental_amps / orders["current amps"].iloc[0]
        amps.setdefault(name, []).append(factor * orders["current amps"].to_numpy(float))
        volts.setdefault(name, []).append(factor * orders["voltage pct"].to_numpy(float))
    factor = fundamental_amps / first["current amps"].iloc[0]
    name = str(first["pcc"].iloc[0])
    return Expected(
        where=f"PCC {name}" + (f", case {case}" if case else ""),
        bus=name,
        amps=_band(factor * first["current amps"].to_numpy(float), amps),
        volts_pct=_band(factor * first["voltage pct"].to_numpy(float), volts),
        load_share=share,
    )


def in_case(plant: Plant, case: str | None) -> Plant:
    """The plant with one of its cases alone.

    Raises
    ------
    InputError
        An unknown name, or several cases and no name.
    """
    site = plant.site
    if isinstance(site, Site):
        if case is not None:
            raise InputError("case", case, f"none: {site.name} has no cases", wrong_kind=True)
        return plant
    there = list(site.cases)
    if case is None and len(there) > 1:
        raise InputError("case", None, "one of " + ", ".join(there), wrong_kind=True)
    name = next((one for one in there if one.casefold() == (case or there[0]).casefold()), None)
    if name is None:
        raise InputError("case", case, "one of " + ", ".join(there))
    return Plant.of(replace(site, cases={name: site.cases[name]}))


def _band(expected: FloatArray, varied: Mapping[str, list[FloatArray]]) -> Band:
    return band(expected, {name: tuple(others) for name, others in varied.items()})


@dataclass(frozen=True)
class _Where:
    pcc: str | None

    def orders(self, found: Study) -> pd.DataFrame:
        """The table of the place that is meant.

        Raises
        ------
        InputError
            An unknown name, several places, or no solution.
        """
        table = found.orders()
        if table.empty:
            raise InputError("study", found.reason or "without results", "a study with a solution")
        there = [str(name) for name in table["pcc"].unique()]
        if self.pcc is None and len(there) > 1:
            raise InputError("pcc", None, "one of " + ", ".join(there), wrong_kind=True)
        named = next((name for name in there if name.casefold() == (self.pcc or name).casefold()), None)
        if named is None:
            raise InputError("pcc", self.pcc, "one of " + ", ".join(there))
        table = table[table["pcc"].astype(str) == named]
        return table.sort_values("order").head(MAX_ORDER)


def _matched_load(
    plant: Plant, frame: pd.DataFrame, where: _Where, amps: float
) -> tuple[float, pd.DataFrame]:
    """Share of the loads at which the place carries a fundamental current, by secants."""
    lowest, highest = _limits(frame)
    tried: list[tuple[float, float, pd.DataFrame]] = []
    share = 1.0
    for _ in range(PASSES):
        orders = where.orders(study(plant, _loaded(frame, share)))
        tried.append((share, float(orders["current amps"].iloc[0]), orders))
        if abs(tried[-1][1] / amps - 1.0) <= NEAR:
            return share, orders
        if len(tried) == 1:
            wanted = share * amps / tried[0][1]
        else:
            (x0, y0, _), (x1, y1, _) = tried[-2:]
            wanted = x1 + (amps - y1) * (x1 - x0) / (y1 - y0) if y1 != y0 else x1
        wanted = float(np.clip(wanted, lowest, highest))
        if wanted == share:
            break
        share = wanted
    best = min(tried, key=lambda one: abs(one[1] - amps))
    raise InputError(
        "fundamental current of the record",
        f"{amps:.4g} A",
        f"a current that the study can draw there: {best[1]:.4g} A with {100.0 * best[0]:.3g} % of its "
        "loads. Is it another place, another side of a transformer, or are loads missing",
    )


def _limits(frame: pd.DataFrame) -> tuple[float, float]:
    load = _loads(frame)
    return _LOADS[0] / float(load.min()), _LOADS[1] / float(load.max())


def _loads(frame: pd.DataFrame) -> pd.Series[float]:
    fields: Mapping[str, Any] = {field.name: field.default for field in DRIVES.fields}
    default = float(fields["load pct"])
    if "load pct" not in frame:
        return pd.Series(default, index=frame.index)
    return pd.to_numeric(frame["load pct"], errors="coerce").fillna(default)


def _loaded(frame: pd.DataFrame, share: float) -> pd.DataFrame:
    return frame.assign(**{"load pct": share * _loads(frame)})


def _variants(plant: Plant, frame: pd.DataFrame) -> list[tuple[str, Plant, pd.DataFrame]]:
    """Plants and drives with one input lower or higher."""
    found: list[tuple[str, Plant, pd.DataFrame]] = []
    for name, spread in UNCERTAIN.items():
        for share in (1.0 - spread, 1.0 + spread):
            other = changed_site(plant.site, name, share)
            column = f"{name} pct"
            if other is not None:
                found.append((name, Plant.of(other), frame))
            elif column in frame and frame[column].notna().any():
                found.append((name, plant, frame.assign(**{column: share * frame[column]})))
    settings: Any = plant.site.settings
    if settings["background 5th pct"] is None and settings["unbalance pct"] is None:
        for sign in (0.0, 180.0):
            given = {**_typical(), "background 5th deg": sign, "background 7th deg": sign}
            found.append((UNKNOWN_SUPPLY, Plant.of(_with_settings(plant.site, given)), frame))
    return found


def _typical() -> dict[str, object]:
    """Settings of a supply as it is assumed where nobody has measured it."""
    preset = supply_preset(TYPICAL)
    levels = {f"background {ordinal(order)} pct": percent for order, percent in preset.background}
    return {"unbalance pct": preset.unbalance_pct, **levels}


def changed_site(site: Site | PlantSite, name: str, share: float) -> Site | PlantSite | None:
    """A site with an input changed; None where the input is one of the drives.

    Parameters
    ----------
    site : Site or PlantSite
    name : str
        Of the input that changes.
    share : float
        By which its value is multiplied, above 0.
    """
    if name == "dc capacitance":
        now = site.settings["dc capacitance pu"]
        return _with_settings(site, {"dc capacitance pu": share * now})
    columns = {
        "short-circuit level": ("utility", ("utility mva", "max mva", "min mva")),
        "transformer impedance": ("transformers", ("transformer z pct", "second transformer z pct", "z pct")),
    }.get(name)
    if columns is None:
        return None
    title, headings = columns
    if isinstance(site, Site):
        return replace(site, site=_scaled(site.site, headings, share))
    rows = tuple(_scaled(row, headings, share) for row in site.tables.get(title, ()))
    return replace(site, tables={**site.tables, title: rows})


def _scaled(row: Mapping[str, Any], headings: tuple[str, ...], share: float) -> dict[str, Any]:
    return {
        key: share * value if key in headings and value is not None else value for key, value in row.items()
    }


def _with_settings(site: Site | PlantSite, given: Mapping[str, object]) -> Site | PlantSite:
    settings = {**site.settings, **given}
    if isinstance(site, Site):
        return replace(site, settings=settings)
    return replace(
        site, settings=settings, cases={name: {**case, **given} for name, case in site.cases.items()}
    )


def expected_at_drive(
    drive: Drive, supply: Supply, fundamental_amps: float, settings: Mapping[str, object] | None = None
) -> Expected:
    """Current of one drive while it draws a fundamental current; otherwise as `expected_at_pcc`.

    Parameters
    ----------
    drive : Drive
    supply : Supply
    fundamental_amps : float
        Measured rms current of the fundamental, above 0.
    settings : mapping, optional
        Of the drive's model.
    """
    own = dict(settings or {})

    def current(other: Drive, source: Supply, names: Mapping[str, object]) -> FloatArray:
        state = solve(other, source, names).state
        amps = other.rated_watts / 1e3 / source.kv
        return np.asarray(amps * np.abs(state.line_phasors).max(axis=0), float)

    load = float(drive.load_pct or 100.0)
    amps = current(drive, supply, own)
    for _ in range(PASSES):
        if abs(amps[0] / fundamental_amps - 1.0) <= NEAR:
            break
        load *= fundamental_amps / float(amps[0])
        if not _LOADS[0] <= load <= _LOADS[1]:
            raise InputError(
                "fundamental current of the record",
                f"{fundamental_amps:.4g} A",
                f"1 to 200 % of the load of {drive.tag}, which draws {amps[0]:.4g} A at "
                f"{drive.load_pct or 100:g} %",
            )
        drive = replace(drive, load_pct=load)
        amps = current(drive, supply, own)
    changes: dict[str, Callable[[float], FloatArray]] = {
        "short-circuit level": lambda s: current(drive, replace(supply, mva=s * supply.mva), own),
        "dc capacitance": lambda s: current(
            drive, supply, {**own, "dc capacitance pu": s * float(str(own.get("dc capacitance pu", 5.0)))}
        ),
    }
    if reactor := float(drive.values["line reactor pct"]):
        changes["line reactor"] = lambda s: current(replace(drive, line_reactor_pct=s * reactor), supply, own)
    if choke := float(drive.values["dc choke pct"]):
        changes["dc choke"] = lambda s: current(replace(drive, dc_choke_pct=s * choke), supply, own)
    final = solve(drive, supply, own).state
    varied = {
        name: [change(1.0 - UNCERTAIN[name]), change(1.0 + UNCERTAIN[name])]
        for name, change in changes.items()
    }
    if supply.background is None and not {"unbalance pct", "background 5th pct"} & own.keys():
        varied[UNKNOWN_SUPPLY] = [
            current(drive, supply, {**own, **_typical(), "background 5th deg": d, "background 7th deg": d})
            for d in (0.0, 180.0)
        ]
    normal = {
        name: [fundamental_amps / other[0] * other for other in others] for name, others in varied.items()
    }
    return Expected(
        where=f"drive {drive.tag}",
        bus=None,
        amps=_band(fundamental_amps / amps[0] * amps, normal),
        volts_pct=None,
        load_share=load / 100.0,
        phasors=np.asarray(drive.rated_watts / 1e3 / supply.kv * final.line_phasors[0]),
    )
