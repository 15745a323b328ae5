"""What the kernels and their callers share: records, status codes, slots of results.

`NET` is the circuit in per unit, `WORK` the workspace of one running solution.

Records instead of many arrays keep calls cheap and compilation short. Diode 6k + x carries the upper current
of phase x of bridge k, 6k + 3 + x the lower one. Two-component vectors are space vectors in the frame of the
supply (amplitude-invariant Clarke transformation).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

ORDER = 14  # highest power of the Taylor series in the angle
MAX_BRIDGES = 8
MAX_LOOPS = 3 * MAX_BRIDGES
MAX_SOURCES = 50
MAX_TERMS = 8
MAX_CHANGES = 100
SOURCE = MAX_LOOPS  # rows of `g`
DC = SOURCE + 2

NODES = 16  # of the Gauss rule over one Taylor step
RESPONSE_NODES = 6  # the same for derivatives, whose steps are shorter
BLOCK = 16  # directions of the variational equation that are followed together

OK = 0
NO_CONVERGENCE = 1
COLLAPSE = 2
CHATTER = 3
SINGULAR = 4
TOO_FAST = 5

MEANS = 12  # slots of the means over the angle
LINE_SQUARE = 0  # three phases
TERMINAL_SQUARE = 3  # three phases
DC_VOLTS = 6
DC_POWER = 7
LOSS = 8
SOURCE_POWER = 9
CAPACITOR_SQUARE = 10

_STATES = 6 * MAX_BRIDGES + 1 + 4 * MAX_TERMS
_REDUCED = 3 * MAX_BRIDGES + 2 + 4 * MAX_TERMS
_TERMS = ORDER + 2
MAX_DIRECTIONS = _REDUCED + MAX_CHANGES
_F = np.float64
_I = np.int64
_C = np.complex128

NET = np.dtype(
    [
        ("xs", _F),  # common reactance and resistance: source plus line reactor
        ("rs", _F),
        ("xt", _F),  # the part of them ahead of the terminals: source only
        ("rt", _F),
        ("susceptance", _F),  # of the dc capacitor
        ("esr", _F),
        ("load_current", _F),
        ("load_conductance", _F),
        ("load_power", _F),
        ("mean_power", _F),  # above 0: `load_current` is solved for, so that the mean power is this
        ("drop", _F),  # diode forward voltage and resistance
        ("rd", _F),
        ("floor", _F),  # bus voltage below which the load no longer holds its power
        ("terms", _I),  # partial fractions of the source impedance: pole and residue, with their conjugates
        ("pole", _C, (MAX_TERMS,)),
        ("residue", _C, (MAX_TERMS,)),
        ("sources", _I),  # used length of the two source arrays
        ("order", _F, (MAX_SOURCES,)),
        ("emf", _C, (MAX_SOURCES, 2)),  # peak space-vector components of the source EMF
        ("bridge", _F, (MAX_BRIDGES, 4)),  # leakage reactance, resistance, choke reactance, resistance
        ("axis", _F, (MAX_BRIDGES, 3, 2)),  # unit vectors of the phases of each bridge
    ],
    align=True,
)

WORK = np.dtype(
    [
        ("loop_diode", _I, (MAX_LOOPS,)),
        ("loop_bridge", _I, (MAX_LOOPS,)),
        ("loop_sign", _F, (MAX_LOOPS,)),  # +1 through an upper diode, -1 through a further lower diode
        ("loop_vector", _F, (MAX_LOOPS, 2)),
        ("upper", _I, (MAX_BRIDGES,)),  # reference phase of the conducting diodes, -1 while the bridge blocks
        ("lower", _I, (MAX_BRIDGES,)),
        ("chol", _F, (MAX_LOOPS, MAX_LOOPS)),
        # inverse inductance times resistance (row = source loop), source (two rows), dc incidence (one row)
        ("g", _F, (MAX_LOOPS + 3, MAX_LOOPS)),
        ("q", _F, (_TERMS, MAX_LOOPS)),  # Taylor coefficients of the loop currents
        ("v", _F, (_TERMS,)),  # capacitor voltage
        ("s", _F, (_TERMS,)),  # voltage behind the capacitor resistance
        ("w", _F, (_TERMS,)),  # bus voltage
        ("inv", _F, (_TERMS,)),  # 1 / bus voltage
        ("load", _F, (_TERMS,)),  # load current
        ("emf", _F, (2, _TERMS)),
        ("inner", _F, (2, _TERMS)),  # EMF less the voltage across the terms of the source impedance
        ("term", _C, (2 * MAX_TERMS, _TERMS)),  # state of term s in axis i at row 2 s + i
        ("ib", _F, (MAX_BRIDGES, 2, _TERMS)),  # space vector of each bridge current
        ("it", _F, (2, _TERMS)),  # of the line current
        ("vt", _F, (2, _TERMS)),  # of the voltage ahead of the leakage
        ("phase", _F, (3, _TERMS)),  # phase voltages at one bridge
        ("guard", _F, (6 * MAX_BRIDGES, _TERMS)),
        # a block of directions of the variational equation
        ("dq", _F, (_TERMS, MAX_LOOPS, BLOCK)),
        ("demf", _F, (2, _TERMS, BLOCK)),  # changes of the EMF that drive the directions
        ("dv", _F, (_TERMS, BLOCK)),
        ("dterm", _C, (2 * MAX_TERMS, _TERMS, BLOCK)),
        ("ds", _F, (_TERMS, BLOCK)),
        ("dw", _F, (_TERMS, BLOCK)),
        ("ddc", _F, (BLOCK,)),  # change of the direct current
        ("lost", _F, (2, BLOCK)),  # change of the voltage across the terms
        ("total", _F, (BLOCK,)),
        ("line", _F, (RESPONSE_NODES, 2, BLOCK)),  # change of the line current at the nodes of a step
        ("gain", _F, (_TERMS,)),  # d(bus voltage) / d(voltage behind the capacitor resistance)
        ("slope", _F, (_TERMS,)),  # d(load current) / d(bus voltage)
        ("area", _F, (1,)),  # integral of the capacitor voltage over a run
        ("darea", _F, (MAX_DIRECTIONS,)),  # its derivative in each direction
        ("dload", _F, (MAX_DIRECTIONS,)),  # change of the constant load current in each direction
        ("loop", _F, (MAX_LOOPS,)),
        ("before", _F, (6 * MAX_BRIDGES,)),  # rate of change ahead of an event
        ("after", _F, (6 * MAX_BRIDGES,)),
        ("rate", _F, (MAX_LOOPS, MAX_DIRECTIONS)),  # derivative of the loop currents' rate of change
        ("row", _F, (MAX_DIRECTIONS,)),  # derivative of the guard
        ("shift", _F, (MAX_DIRECTIONS,)),  # derivative of the event instant
        ("own", _F, (MAX_BRIDGES, 3)),  # phase currents of each bridge at one instant
        ("phi", _F, (_STATES * MAX_DIRECTIONS,)),  # derivative of the state, row by row
        ("system", _F, (_REDUCED * (_REDUCED + 1),)),  # of Newton's method, row by row
        ("six", _F, (6,)),
        ("gaps", _F, (4,)),  # see `integrate.run`
        ("y0", _F, (6 * MAX_BRIDGES,)),  # a second state
        ("v0", _F, (1,)),
        ("z0", _F, (4 * MAX_TERMS,)),
        ("mask0", _I, (MAX_BRIDGES,)),
    ],
    align=True,
)


FloatArray = npt.NDArray[np.float64]


def _rule(nodes: int) -> tuple[FloatArray, FloatArray]:
    """Abscissas and weights on 0 to 1."""
    x, weight = np.polynomial.legendre.leggauss(nodes)
    return 0.5 * (x + 1.0), 0.5 * weight


ABSCISSA, WEIGHT = _rule(NODES)
RESPONSE_ABSCISSA, RESPONSE_WEIGHT = _rule(RESPONSE_NODES)
