"""How far the exact study of a mix differs from the model of the search, value by value.

The search works on drives that stand alone on their bus. What the exact study finds is put on each value as a
factor, so that the next search keeps the limits as the study would judge them; values that are small in both
keep theirs, for their relative change says nothing.
"""

from __future__ import annotations

import numpy as np

from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.assessment.mix_assessment import MixAssessment
from xlcalc.mitigation.milp.model import Model
from xlcalc.studies.pcc import CURRENT, TDD, VOLTAGE, VOLTAGE_THD

SIGNIFICANT = 0.02
"""Part of its limit from which on a value is corrected by what the exact study finds."""

LARGEST_CORRECTION = 30.0


def correction(
    model: Model, unknowns: FloatArray, alone: MixAssessment | None, coupled: MixAssessment | None
) -> FloatArray:
    """Factors on the values of the model.

    Parameters
    ----------
    model : Model
    unknowns : array
        The mix that was studied.
    alone, coupled : MixAssessment or None
        Its studies; at least one. Where both count, no value falls below the model's own.

    Returns
    -------
    array, shape (values,)
    """
    ratios = model.keep * model.limits.ratios(model.quantities.values(unknowns), unknowns)
    found = [by_value(model, assessment, ratios) for assessment in (alone, coupled) if assessment is not None]
    return found[0] if len(found) == 1 else np.maximum(np.maximum(*found), 1.0)


def by_value(model: Model, assessment: MixAssessment, ratios: FloatArray) -> FloatArray:
    """The values of an exact study over `ratios`, those of the model over their limits, shape (values,)."""
    factor = np.ones(model.quantities.count)
    for k, point in enumerate(assessment.points):
        exact = {(v.quantity, v.order or 0): v.ratio for v in point.result.judgement.verdicts}
        for block, (each, total) in ((2 * k, (CURRENT, TDD)), (2 * k + 1, (VOLTAGE, VOLTAGE_THD))):
            for index in np.flatnonzero(model.quantities.block_of == block):
                order = int(model.quantities.order_of[index])
                now = exact[total if order == 0 else each, order]
                if max(now, ratios[index]) >= SIGNIFICANT:
                    change = now / max(float(ratios[index]), 1e-6)
                    factor[index] = float(np.clip(change, 1.0 / LARGEST_CORRECTION, LARGEST_CORRECTION))
    return factor
