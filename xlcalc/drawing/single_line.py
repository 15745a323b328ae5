"""The single-line diagram of a plant: supply on top, buses below, what stands on each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from xlcalc.drawing.marks import Drawing, Form, Stroke
from xlcalc.network.branches import TransformerBranch
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.short_circuit import short_circuit_amps
from xlcalc.network.three_winding import WINDINGS, WindingPair
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant

COLUMN = 116.0
LEVEL = 172.0
MARGIN = 14.0
TOP = 74.0
DROP = 46.0
COIL = 20.0
TEXT_HEIGHT = 11.0
PCC_COLOUR = "A8321E"
LINE_COLOUR = "2F4858"
MOST_TAGS = 3


@dataclass
class _Place:
    """A bus, what leads to it, and what hangs on it, left to right."""

    bus: str
    above: str
    hung: list[tuple[str, str]] = field(default_factory=list)
    below: list[_Place] = field(default_factory=list)

    @property
    def columns(self) -> int:
        return max(1, len(self.hung) + sum(place.columns for place in self.below))

    @property
    def depth(self) -> int:
        return 1 + max((place.depth for place in self.below), default=0)


def single_line(plant: StudiedPlant, pccs: Sequence[str] = ()) -> Drawing:
    """The diagram of a plant.

    Parameters
    ----------
    plant : StudiedPlant
        Its network is drawn as it is switched; a loop is drawn as a second connection to the bus it ends at.
    pccs : sequence of str
        Buses that are marked as points of common coupling.

    Returns
    -------
    Drawing
        Names, kV, kVA, percent impedance, short-circuit current of every bus, drives by bus and pulse number,
        capacitors, loads and generators.
    """
    network = plant.network
    root = _tree(network)
    for place in _all(root):
        place.hung += _hung(network, plant.drives, place.bus)
    marks = list(_supply(network, MARGIN + COLUMN * root.columns / 2))
    marks += _drawn(network, root, MARGIN, TOP, tuple(pccs))
    width = 2 * MARGIN + COLUMN * root.columns
    return Drawing(tuple(marks), max(width, 3 * COLUMN), TOP + LEVEL * root.depth + MARGIN)


def _tree(network: NodalNetwork) -> _Place:
    """Buses below the one that is nearer to the supply."""
    root = _Place(network.utility_bus, "")
    known, waiting = {root.bus: root}, [root]
    used: set[int] = set()
    while waiting:
        place = waiting.pop(0)
        for number, (name, ends) in enumerate(_connections(network)):
            if number in used or place.bus not in ends:
                continue
            used.add(number)
            other = ends[1] if ends[0] == place.bus else ends[0]
            if other in known:
                place.hung.append(("line", f"{name}\nto bus {other}"))
                continue
            known[other] = _Place(other, name)
            place.below.append(known[other])
            waiting.append(known[other])
    return root


def _connections(network: NodalNetwork) -> list[tuple[str, tuple[str, str]]]:
    """Branches by their text and ends; a three-winding transformer joins its primary to both others."""
    found = [
        (_branch_text(branch), (branch.from_bus, branch.to_bus))
        for branch in network.branches
        if not isinstance(branch, WindingPair)
    ]
    for unit in network.three_winding:
        for winding, percent in ((1, unit.z_ps_pct), (2, unit.z_pt_pct)):
            if unit.buses[0] in network.buses and unit.buses[winding] in network.buses:
                text = f"{unit.name} {WINDINGS[winding]}\n{unit.rating_va / 1e3:,.0f} kVA, {percent:g} %"
                found.append((text, (unit.buses[0], unit.buses[winding])))
    return found


def _branch_text(branch: object) -> str:
    if isinstance(branch, TransformerBranch):
        rated = branch.transformer
        volts = f"{rated.primary_volts / 1e3:g} / {rated.secondary_volts / 1e3:g} kV"
        return f"{branch.name}\n{rated.rating_va / 1e3:,.0f} kVA, {rated.impedance_pct:g} %\n{volts}"
    return f"{getattr(branch, 'name', '')}\ncable or line"


def _all(place: _Place) -> list[_Place]:
    return [place, *(one for below in place.below for one in _all(below))]


def _hung(network: NodalNetwork, drives: Sequence[ScheduledDrive], bus: str) -> list[tuple[str, str]]:
    """Loads, generators, capacitors and drives of a bus: kind and text."""
    found = []
    for load in network.loads:
        if load.bus == bus:
            found.append(("load", f"{load.name}\n{load.watts / 1e3:,.0f} kW"))
    for machine in network.generators:
        if machine.bus == bus:
            found.append(("generator", f"{machine.name}\n{machine.rating_va / 1e3:,.0f} kVA"))
    for bank in network.capacitors:
        if bank.bus == bus:
            found.append(("capacitor", f"{bank.name}\n{bank.rated_var / 1e3:,.0f} kvar"))
    groups: dict[tuple[int, bool], list[ScheduledDrive]] = {}
    for drive in drives:
        if drive.bus == bus:
            kind = (drive.front_end.pulses, drive.front_end.filter is not None)
            groups.setdefault(kind, []).append(drive)
    for (pulses, filtered), same in sorted(groups.items()):
        units = sum(drive.quantity for drive in same)
        kw = sum(drive.quantity * drive.rated_watts for drive in same) / 1e3
        tags = ", ".join(drive.tag for drive in same[:MOST_TAGS])
        more = f" and {len(same) - MOST_TAGS} more rows" if len(same) > MOST_TAGS else ""
        with_filter = " with filter" if filtered else ""
        found.append(("drive", f"{units} x {pulses}-pulse{with_filter}\n{kw:,.0f} kW link\n{tags}{more}"))
    return found


def _supply(network: NodalNetwork, x: float) -> list[Stroke]:
    """The utility above its bus."""
    utility = network.utility
    level = f"{utility.short_circuit_va / 1e6:,.0f}"
    if utility.least_va is not None:
        level += f" (least {utility.least_va / 1e6:,.0f})"
    text = f"Utility\n{utility.volts / 1e3:g} kV, {level} MVA, X/R {utility.x_over_r:g}"
    return [
        Stroke(form=Form.BOX, x=x - 70, y=MARGIN, width=140, height=32, text=text, colour=LINE_COLOUR),
        Stroke(form=Form.LINE, x=x, y=MARGIN + 32, height=TOP - MARGIN - 32, colour=LINE_COLOUR),
    ]


def _drawn(
    network: NodalNetwork, place: _Place, left: float, y: float, pccs: tuple[str, ...]
) -> list[Stroke]:
    """A bus with all below it, from `left` on."""
    width = COLUMN * place.columns
    volts, wide = network.volts(place.bus), place.columns > 2
    amps = short_circuit_amps(network.short_circuit_va(place.bus), volts)
    text = f"{place.bus}  {volts / 1e3:g} kV, Isc {amps / 1e3:.3g} kA"
    marks = [
        Stroke(form=Form.LINE, x=left + 6, y=y, width=width - 12, strong=True, colour=LINE_COLOUR),
        _text(left + 8 if wide else left + width / 2 + 4, y - TEXT_HEIGHT - 2, 150.0, text, strong=True),
    ]
    if place.bus in pccs:
        marks.append(
            Stroke(
                form=Form.BOX,
                x=left + 8,
                y=y + 3,
                width=30,
                height=13,
                text="PCC",
                strong=True,
                colour=PCC_COLOUR,
            )
        )
    x = left
    for below in place.below:
        middle = x + COLUMN * below.columns / 2
        marks += _branch(middle, y, y + LEVEL, below.above)
        marks += _drawn(network, below, x, y + LEVEL, pccs)
        x += COLUMN * below.columns
    for kind, words in place.hung:
        marks += _hanging(kind, words, x + COLUMN / 2, y)
        x += COLUMN
    return marks


def _branch(x: float, y: float, end: float, text: str) -> list[Stroke]:
    """A transformer with two coils, or a plain line, from one bus down to the next."""
    if text.endswith("cable or line"):
        return [
            Stroke(form=Form.LINE, x=x, y=y, height=end - y, colour=LINE_COLOUR),
            _text(x + 5, y + DROP, COLUMN / 2 + 6, text.split("\n", maxsplit=1)[0]),
        ]
    coil = y + DROP
    lower = coil + 1.65 * COIL
    return [
        Stroke(form=Form.LINE, x=x, y=y, height=DROP, colour=LINE_COLOUR),
        Stroke(form=Form.CIRCLE, x=x - COIL / 2, y=coil, width=COIL, height=COIL, colour=LINE_COLOUR),
        Stroke(
            form=Form.CIRCLE,
            x=x - COIL / 2,
            y=coil + 0.65 * COIL,
            width=COIL,
            height=COIL,
            colour=LINE_COLOUR,
        ),
        Stroke(form=Form.LINE, x=x, y=lower, height=end - lower, colour=LINE_COLOUR),
        _text(x + COIL / 2 + 4, coil, COLUMN / 2 + 34, text),
    ]


def _hanging(kind: str, text: str, x: float, y: float) -> list[Stroke]:
    """What hangs on a bus: a symbol at the end of a line, its text below."""
    marks = [Stroke(form=Form.LINE, x=x, y=y, height=DROP, colour=LINE_COLOUR)]
    end = y + DROP
    if kind == "drive":
        marks += [
            Stroke(form=Form.BOX, x=x - 13, y=end, width=26, height=18, text="~ / =", colour=LINE_COLOUR),
            Stroke(form=Form.LINE, x=x, y=end + 18, height=10, colour=LINE_COLOUR),
            _circle(x, end + 28, "M"),
        ]
        end += 46
    elif kind == "capacitor":
        marks += [
            Stroke(form=Form.LINE, x=x - 10, y=end, width=20, strong=True, colour=LINE_COLOUR),
            Stroke(form=Form.LINE, x=x - 10, y=end + 5, width=20, strong=True, colour=LINE_COLOUR),
            Stroke(form=Form.LINE, x=x, y=end + 5, height=10, colour=LINE_COLOUR),
        ]
        end += 16
    elif kind == "generator":
        marks.append(_circle(x, end, "G"))
        end += 18
    else:
        marks.append(Stroke(form=Form.ARROW, x=x - 6, y=end, width=12, height=10, colour=LINE_COLOUR))
        end += 12
    marks.append(
        Stroke(
            form=Form.TEXT,
            x=x - COLUMN / 2 + 2,
            y=end + 2,
            width=COLUMN - 4,
            height=4 * TEXT_HEIGHT,
            text=text,
            centred=True,
        )
    )
    return marks


def _circle(x: float, y: float, letter: str) -> Stroke:
    return Stroke(form=Form.CIRCLE, x=x - 9, y=y, width=18, height=18, text=letter, colour=LINE_COLOUR)


def _text(x: float, y: float, width: float, text: str, strong: bool = False) -> Stroke:
    height = TEXT_HEIGHT * (1 + text.count("\n")) + 2
    return Stroke(form=Form.TEXT, x=x, y=y, width=width, height=height, text=text, strong=strong)
