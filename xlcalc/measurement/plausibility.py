"""What in a recording looks wrong: clipped samples, swapped phases, currents against the power flow, gaps."""

from __future__ import annotations

from itertools import islice
from typing import Final

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import FloatArray
from xlcalc.measurement.quantities import sequence_components, triple
from xlcalc.measurement.recording import CURRENT, VOLTAGE, Recording
from xlcalc.measurement.windows import Window, windows

CLIPPED_RUN: Final = 4
"""Samples in a row at the largest value of a channel that count as clipped; common practice, no source."""
SAME: Final = 0.02
"""Share of the largest fundamental below which a phase counts as without load."""
NEARLY: Final = 0.3
"""Zero and negative over positive sequence that count as nearly balanced; common practice, no source."""


def implausible(recording: Recording) -> tuple[str, ...]:
    """Sentences on what a person should look at before the recording is believed.

    Nothing is changed. The first window decides on phases and signs.

    Parameters
    ----------
    recording : Recording
    """
    found = [note for column in range(len(recording.channels)) for note in _of_samples(recording, column)]
    try:
        first = next(islice(windows(recording, max_order=2), 1), None)
    except NoSolutionError as problem:
        return (*found, str(problem))
    if first is not None:
        found += [*_rotation(recording, first), *_signs(recording, first)]
    return tuple(found)


def _of_samples(recording: Recording, column: int) -> list[str]:
    samples, name = recording.samples[:, column], recording.channels[column].name
    notes = []
    missing = np.isnan(samples)
    if missing.all():
        return [f"{name}: no samples"]
    if missing.any():
        first = int(np.flatnonzero(missing)[0]) / recording.rate
        notes.append(f"{name}: {int(missing.sum())} samples are missing, the first at {first:.6g} s")
    for word, extreme in (("largest", np.nanmax(samples)), ("smallest", np.nanmin(samples))):
        run, at = _longest_run(samples == extreme)
        if extreme != 0.0 and run >= CLIPPED_RUN and run < samples.size:
            notes.append(
                f"{name}: {run} samples in a row at the {word} value {extreme:.6g} from "
                f"{at / recording.rate:.6g} s: clipped?"
            )
    return notes


def _longest_run(there: np.ndarray) -> tuple[int, int]:
    """Length of the longest run of true, and where it begins."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], there.astype(np.int8), [0]])))
    if not edges.size:
        return 0, 0
    lengths = edges[1::2] - edges[::2]
    longest = int(np.argmax(lengths))
    return int(lengths[longest]), int(edges[::2][longest])


def _fundamentals(recording: Recording, window: Window, quantity: str) -> np.ndarray | None:
    columns = triple(recording, quantity)
    if columns is None:
        return None
    phasors = np.array([window.phasors(column)[0] for column in columns])
    return phasors if np.all(np.isfinite(phasors)) else None


def _rotation(recording: Recording, window: Window) -> list[str]:
    notes = []
    for quantity in (VOLTAGE, CURRENT):
        phasors = _fundamentals(recording, window, quantity)
        if phasors is None or np.abs(phasors).max() == 0.0:
            continue
        _, positive, negative = np.abs(sequence_components(phasors))
        turned = _reversed(phasors)
        if turned:
            notes.append(f"{quantity}: phase {turned} has the wrong sign")
        elif negative > positive:
            notes.append(
                f"{quantity}: the negative sequence ({negative:.4g}) is above the positive ({positive:.4g}): "
                "two phases are swapped, or the field turns the other way"
            )
    return notes


def _reversed(phasors: FloatArray) -> str:
    """The one phase whose reversal makes a very unbalanced set nearly balanced; empty where there is none."""

    def uneven(values: FloatArray) -> float:
        zero, positive, negative = np.abs(sequence_components(values))
        return float((zero + negative) / max(positive, 1e-300))

    own = uneven(phasors)
    for k, phase in enumerate("abc"):
        turned = phasors.copy()
        turned[k] *= -1.0
        if own > 0.5 and uneven(turned) < NEARLY:
            return phase
    return ""


def _signs(recording: Recording, window: Window) -> list[str]:
    """Currents that flow against the others, or all against their voltages."""
    powers: dict[str, float] = {}
    for phase in "abc":
        volts, amps = recording.index(VOLTAGE, phase), recording.index(CURRENT, phase)
        if volts is not None and amps is not None:
            product = window.phasors(volts)[0] * np.conj(window.phasors(amps)[0])
            if np.isfinite(product):
                powers[phase] = float(product.real)
    largest = max((abs(power) for power in powers.values()), default=0.0)
    against = [phase for phase, power in powers.items() if power < -SAME * largest]
    if not against:
        return []
    if len(against) == len(powers):
        return [
            "the active power of every phase is negative: the load feeds back, or the currents have the "
            "wrong sign"
        ]
    return [
        f"the active power of phase {', '.join(against)} is negative, that of the others is not: wrong "
        "sign of a current, or phases of voltage and current that do not belong together"
    ]
