"""The dataclasses that fields fill; each checks the range of its attribute as the field does."""

from __future__ import annotations

from functools import partial

from xlcalc.schema.fields import Fills

IN_FORMULA = partial(Fills, "mitigation.offer.curves.CostFormula")
IN_ECONOMICS = partial(Fills, "mitigation.offer.economics.Economics")
IN_LOSSES = partial(Fills, "mitigation.offer.economics.Losses")
IN_ACTIVE_FILTER = partial(Fills, "mitigation.offer.drive_options.ActiveFilter")
IN_DRIVE_OPTION = partial(Fills, "mitigation.offer.drive_options.DriveOption")
IN_RESIDUAL = partial(Fills, "mitigation.offer.physics.Residual")
IN_RESIDUAL_LINE = partial(Fills, "mitigation.offer.physics.ResidualLine")
IN_PROBLEM = partial(Fills, "mitigation.problem.Problem")
IN_LINE = partial(Fills, "network.branches.Line")
IN_TRANSFORMER_BRANCH = partial(Fills, "network.branches.TransformerBranch")
IN_CAPACITOR_BANK = partial(Fills, "network.capacitors.CapacitorBank")
IN_TUNED_FILTER = partial(Fills, "network.capacitors.TunedFilter")
IN_TRANSFORMER = partial(Fills, "network.elements.Transformer")
IN_UTILITY = partial(Fills, "network.elements.Utility")
IN_GENERATOR = partial(Fills, "network.loads.Generator")
IN_HARMONIC_CURRENT = partial(Fills, "network.loads.HarmonicCurrent")
IN_MOTOR_LOAD = partial(Fills, "network.loads.MotorLoad")
IN_STATIC_LOAD = partial(Fills, "network.loads.StaticLoad")
IN_NODAL_NETWORK = partial(Fills, "network.nodal.NodalNetwork")
IN_THREE_WINDING_TRANSFORMER = partial(Fills, "network.three_winding.ThreeWindingTransformer")
IN_BUS = partial(Fills, "network.topology.Bus")
IN_FRONT_END = partial(Fills, "rectifier.drive.FrontEnd")
IN_FILTER_RATING = partial(Fills, "rectifier.passive_filter.FilterRating")
IN_PCC_OPTIONS = partial(Fills, "studies.pcc.PccOptions")
IN_DRIVE = partial(Fills, "studies.plant.ScheduledDrive")
