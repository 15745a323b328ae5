"""From currents of options to the blocks of values at every PCC and filter, in every case."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray, Spectrum
from xlcalc.mitigation.milp.currents import current_arriving, transfer_ratio
from xlcalc.mitigation.milp.quantities import ValueBlock
from xlcalc.mitigation.milp.reference import FixedPart, reference
from xlcalc.mitigation.milp.unknowns import Columns, DriveColumn
from xlcalc.mitigation.offer.physics import SourceCurrent
from xlcalc.mitigation.problem import LimitCase
from xlcalc.network.sequence import components, natural_sequence
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.sources import ORDERS, LoadCurrent, Summation

SAME = 1e-9
HARMONICS = slice(1, MAX_ORDER)


@dataclass(frozen=True, eq=False)
class Fundamental:
    """Positive-sequence fundamental through a PCC: fixed part, and per unit of each unknown, A."""

    base: complex
    parts: ComplexArray

    def amps(self, unknowns: FloatArray) -> FloatArray:
        return np.abs(self.base + unknowns @ self.parts)


@dataclass(frozen=True, eq=False)
class PointBlocks:
    """Current and voltage at one PCC in one case."""

    case: LimitCase
    point: PccOptions
    current: ValueBlock
    voltage: ValueBlock
    fundamental: Fundamental


def case_reference(case: LimitCase, number: int, columns: Columns) -> FixedPart:
    """Fixed part of a case, solved with the first option of every drive."""
    sample = []
    for currents, group in zip(columns.currents, columns.groups, strict=True):
        source = currents.by_case[0][number]
        if source is not None:
            load = source.load
            sample.append(LoadCurrent(load.tag, load.bus, load.phases, load.quantity * group.count))
    return reference(case, sample)


def point_blocks(number: int, fixed: FixedPart, point: PccOptions, columns: Columns) -> PointBlocks:
    """Values at one PCC in case `number`."""
    case, pcc = fixed.case, point.pcc
    shape = (columns.count, 3, MAX_ORDER)
    amps: ComplexArray = np.zeros(shape, np.complex128)
    volts: ComplexArray = np.zeros(shape, np.complex128)
    loose_amps: FloatArray = np.zeros(shape)
    loose_volts: FloatArray = np.zeros(shape)
    for k, column in enumerate(columns.drive_columns):
        source = columns.currents[column.group].by_case[column.option][number]
        if source is None:
            continue
        for load in _loads(fixed, source, column, columns):
            amps[k] += load.at(case.network, pcc)
            volts[k] -= load.voltage_at(case.network, pcc)
        if source.unknown_angle.any():
            left = source.unknown_angle * source.load.quantity * (1.0 - _taken(column, columns, case))
            bus = source.load.bus
            loose_amps[k] = left * np.abs(case.network.current_share(pcc, bus, ORDERS))
            loose_volts[k] = left * np.abs(case.network.transfer_impedance(pcc, bus, ORDERS))
    for k, item in enumerate(columns.filter_columns, start=len(columns.drive_columns)):
        active_filter = columns.active_filter(item)
        place = columns.places[item.place]
        if active_filter is not None and active_filter.loss_watts and place.bus in case.network.buses:
            line_amps = active_filter.loss_watts / (np.sqrt(3.0) * case.network.volts(place.bus))
            loss = LoadCurrent.balanced(active_filter.name, place.bus, Spectrum.from_orders([(1, line_amps)]))
            amps[k] += fixed.turned(loss).at(case.network, pcc)
    base_amps, base_volts = fixed.currents[pcc], fixed.volts[pcc]
    parts_1 = np.array([components(part[:, :1])[1, 0] for part in amps], np.complex128)
    fundamental = Fundamental(complex(components(base_amps[:, :1])[1, 0]), parts_1)
    place_name = f"{pcc}, {case.name}"
    return PointBlocks(
        case,
        point,
        _block(f"current at {place_name}", base_amps, amps, loose_amps, point.summation),
        _block(f"voltage at {place_name}", base_volts, volts, loose_volts, point.summation),
        fundamental,
    )


def filter_block(number: int, fixed: FixedPart, place: int, choice: int, columns: Columns) -> ValueBlock:
    """What a filter must compensate in case `number`, A; zero as long as it is not bought."""
    case = fixed.case
    where = columns.places[place]
    item = where.choices[choice]
    amps: ComplexArray = np.zeros((columns.count, 3, MAX_ORDER), np.complex128)
    unknown_angle: FloatArray = np.zeros(amps.shape)
    supplied = where.bus in case.network.buses
    for k, column in enumerate(columns.drive_columns):
        source = columns.currents[column.group].by_case[column.option][number]
        if source is None or not supplied or (column.place, column.choice) != (place, choice):
            continue
        amps[k] = item.taken * current_arriving(case.network, fixed.turned(source.load), where.bus)
        share = np.abs(transfer_ratio(case.network, where.bus, source.load.bus))
        unknown_angle[k] = item.taken * share * source.unknown_angle * source.load.quantity
    nothing: ComplexArray = np.zeros((3, MAX_ORDER), np.complex128)
    name = f"compensated by {item.name} on {where.bus}, {case.name}"
    return _block(name, nothing, amps, unknown_angle, Summation.PHASOR)


def _taken(column: DriveColumn, columns: Columns, case: LimitCase) -> FloatArray:
    item = columns.active_filter(column)
    if item is None or columns.places[column.place].bus not in case.network.buses:
        return np.zeros(MAX_ORDER)
    return item.taken


def _loads(
    fixed: FixedPart, source: SourceCurrent, column: DriveColumn, columns: Columns
) -> tuple[LoadCurrent, ...]:
    """The drive and what a filter injects against it."""
    load = fixed.turned(source.load)
    item = columns.active_filter(column)
    if item is None or (bus := columns.places[column.place].bus) not in fixed.case.network.buses:
        return (load,)
    through = current_arriving(fixed.case.network, load, bus)
    return load, LoadCurrent(item.name, bus, -item.taken * through)


def _block(
    name: str, base: ComplexArray, parts: ComplexArray, unknown_angle: FloatArray, summation: Summation
) -> ValueBlock:
    base, parts, unknown_angle = base[:, HARMONICS], parts[:, :, HARMONICS], unknown_angle[:, :, HARMONICS]
    base_unknown_angle: FloatArray = np.zeros(base.shape)
    if summation is Summation.ARITHMETIC:
        unknown_angle = unknown_angle + np.abs(parts)
        base_unknown_angle = np.abs(base)
        parts, base = np.zeros_like(parts), np.zeros_like(base)
    phases = 1 if _balanced(base, parts, unknown_angle, base_unknown_angle) else 3
    size = (
        np.abs(base).max(axis=0)
        + (np.abs(parts) + unknown_angle).max(axis=(0, 1))
        + base_unknown_angle.max(axis=0)
    )
    present = np.flatnonzero(size > 1e-12 * max(float(size.max()), 1e-300))
    if present.size == 0:
        present = np.array([0])
    return ValueBlock(
        name=name,
        orders=present + 2,
        base=base[:phases, present],
        parts=parts[:, :phases, present],
        unknown_angle=unknown_angle[:, :phases, present],
        base_unknown_angle=base_unknown_angle[:phases, present],
    )


def _balanced(
    base: ComplexArray, parts: ComplexArray, unknown_angle: FloatArray, base_unknown_angle: FloatArray
) -> bool:
    """Whether phases b and c are phase a, turned by the natural sequence of each order."""
    sequence = np.array([natural_sequence(h) for h in range(2, MAX_ORDER + 1)])
    scale = max(float(np.abs(base).max()), float(np.abs(parts).max()), 1e-300)
    for phase in (1, 2):
        turn = np.exp(-2j * np.pi / 3.0 * sequence * phase)
        if np.abs(base[phase] - base[0] * turn).max() > SAME * scale:
            return False
        if np.abs(parts[:, phase] - parts[:, 0] * turn).max() > SAME * scale:
            return False
    spread = np.ptp(unknown_angle, axis=1).max() + np.ptp(base_unknown_angle, axis=0).max()
    return bool(spread <= SAME * max(scale, float(unknown_angle.max()), float(base_unknown_angle.max())))
