"""Invented plants of all kinds of loads, each from a seed: tables, drives and settings as they are typed."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from typing import Any

Row = dict[str, Any]

KV = (0.4, 0.48, 0.69)
GROUPS = ("Dyn11", "Dyn1", "Dd0", "Dyn5", "Yyn0", "Yd1", "Dzn0")
SOURCE = "invented for a test"


@dataclass
class RandomPlant:
    """A plant of one or two feeders and up to five boards.

    Parameters
    ----------
    seed : int
        Equal seeds give equal plants.
    """

    seed: int
    tables: dict[str, list[Row]] = field(default_factory=dict)
    drives: list[Row] = field(default_factory=list)
    settings: Row = field(default_factory=dict)
    cases: list[Row] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._pick = random.Random(self.seed)
        self._number = 0
        self._boards: dict[str, float] = {}
        self._supply()
        for _ in range(self._pick.randint(1, 3)):
            self._feeder()
        self._generator()
        for bus, kva in self._boards.items():
            self._fill(bus, kva)
        self._settings()

    def _supply(self) -> None:
        kv = self._pick.choice((11.0, 13.8, 20.0))
        most = self._log(60, 600)
        row = {"bus": "Intake", "max mva": most, "min mva": most * self._pick.uniform(0.5, 1.0)}
        self.tables = {"buses": [{"name": "Intake", "kv": kv}], "utility": [{**row, "x/r": self._log(4, 20)}]}

    def _feeder(self) -> None:
        """A board behind a transformer, two behind one of three windings, or one more behind a cable."""
        kva = self._pick.choice((630.0, 1000.0, 1600.0, 2500.0))
        common = {"name": self._name("T"), "kva": kva, "x/r": self._log(4, 12)}
        if self._pick.random() < 0.2:
            first, second = self._board(kva / 2), self._board(kva / 2)
            pair = {"primary bus": "Intake", "secondary bus": first, "tertiary bus": second}
            ps = self._pick.uniform(6, 12)
            z = {"z ps pct": ps, "z pt pct": ps, "z st pct": ps * self._pick.uniform(1.3, 1.9)}
            group = self._pick.choice(("Dyn11d0", "Dd0yn1", "Yd1d11"))
            self._add("three-winding transformers", {**common, **pair, **z, "vector group": group})
            return
        own = {"z pct": self._pick.uniform(4, 8), "vector group": self._pick.choice(GROUPS)}
        if own["vector group"] in ("Dd0", "Dzn0") and self._pick.random() < 0.6:
            own["shift deg"] = self._pick.choice((-20.0, -15.0, -10.0, -7.5, 7.5, 10.0, 15.0, 20.0))
        bus = self._board(kva)
        self._add("transformers", {**common, **own, "from bus": "Intake", "to bus": bus})
        if self._pick.random() < 0.4:
            line = {"from bus": bus, "to bus": self._board(kva / 4, self._boards_kv[bus])}
            line |= {"length m": self._log(20, 250), "r ohm per km": 0.08, "x ohm per km": 0.08}
            self._add("cables", {"name": self._name("K"), **line, "c uf per km": 0.4, "parallel": 2})

    def _board(self, kva: float, kv: float | None = None) -> str:
        name = self._name("B")
        self._boards[name] = kva
        self._add("buses", {"name": name, "kv": kv or self._pick.choice(KV)})
        return name

    @property
    def _boards_kv(self) -> dict[str, float]:
        return {row["name"]: row["kv"] for row in self.tables["buses"]}

    def _generator(self) -> None:
        if self._pick.random() < 0.3:
            bus, kva = self._pick.choice(list(self._boards.items()))
            row = {"name": self._name("G"), "bus": bus, "kva": 0.6 * kva, "kw": 0.2 * kva}
            self._add("generators", {**row, "kvar": 0.05 * kva, "subtransient pct": 15.0, "x/r": 20.0})

    def _fill(self, bus: str, kva: float) -> None:
        """Loads of up to two thirds of the rating of what feeds the board."""
        left = kva * self._pick.uniform(0.3, 0.65)
        kinds = (self._drive, self._drive, self._drive, self._static, self._spectrum, self._front_end)
        while left > 0.08 * kva:
            share = min(left, kva * self._pick.uniform(0.05, 0.3))
            self._pick.choice(kinds)(bus, share)
            left -= share
        if self._pick.random() < 0.4:
            self._capacitor(bus, kva)

    def _drive(self, bus: str, kw: float) -> None:
        pulses = self._pick.choice((6, 6, 6, 6, 12, 18, 24))
        row: Row = {"tag": self._name("D"), "bus": bus, "pulses": pulses}
        row["quantity"] = self._pick.choice((1, 1, 2, 4)) if pulses == 6 else 1
        row |= {"rating": round(kw / row["quantity"], 2), "unit": "kW", "efficiency pct": 96.0}
        row["load pct"] = round(self._pick.uniform(40, 100), 1)
        kind = self._pick.random() if pulses == 6 else 1.0
        row["line reactor pct"] = self._pick.choice((0.0, 2.0, 3.0, 5.0))
        row["dc choke pct"] = self._pick.choice((0.0, 3.0, 4.0))
        if kind < 0.1:
            more = {"filter capacitor pct": 15.0, "filter reactor pct": 8.0, "filter tuned order": 5.0}
            row |= more | {"line reactor pct": 5.0, "dc choke pct": 0.0}
        elif kind < 0.3:
            row["phase shift deg"] = round(self._pick.uniform(-30, 30), 1)
        self.drives.append(row)

    def _static(self, bus: str, kw: float) -> None:
        row = {"name": self._name("L"), "bus": bus, "kind": self._pick.choice(("static", "motor")), "kw": kw}
        row["model"] = self._pick.choice(("parallel", "series", "none"))
        self._add("loads", {**row, "pf": self._pick.uniform(0.8, 0.98)})

    def _spectrum(self, bus: str, kw: float) -> None:
        """A charger of three phases, or lamps and computers between phase and neutral."""
        row = {"name": self._name("S"), "bus": bus, "kind": "spectrum", "kw": kw, "pf": 0.95}
        self._add("loads", {**row, "orders not listed": "zero"})
        single = self._pick.random() < 0.4
        self._orders(row["name"], (3, 5, 7, 9, 11) if single else (5, 7, 11, 13), 40 if single else 25)

    def _front_end(self, bus: str, kw: float) -> None:
        row = {"name": self._name("A"), "bus": bus, "kva": 1.3 * kw, "kvar": 0.1 * kw}
        row["kw"] = kw * self._pick.choice((1.0, 0.7, -0.5))
        row["state"] = self._pick.choice(("running", "running", "running", "standby"))
        lcl = {
            "filter kvar": 0.05 * kw,
            "line reactor pct": 4.0,
            "damping pct": self._pick.choice((2.0, 5.0)),
        }
        self._add("active front ends", {**row, **lcl, "orders not listed": "zero"})
        self._orders(row["name"], (5, 7, 11, 13), 4)

    def _orders(self, name: str, orders: tuple[int, ...], most_pct: float) -> None:
        known = self._pick.random() < 0.6
        for order in orders:
            row = {
                "load": name,
                "order": order,
                "percent": most_pct * self._pick.uniform(0.3, 1.0) * 3 / order,
            }
            row["deg"] = round(self._pick.uniform(-180, 180)) if known else None
            self._add("spectra", {**row, "source": SOURCE})

    def _capacitor(self, bus: str, kva: float) -> None:
        kind = self._pick.choice(("bank", "detuned", "tuned", "damped", "c-type"))
        row = {"name": self._name("C"), "bus": bus, "kind": kind, "kvar": kva * self._pick.uniform(0.05, 0.3)}
        if kind == "detuned":
            row["reactor pct"] = self._pick.choice((5.67, 7.0, 14.0))
        elif kind != "bank":
            row["tuned order"] = self._pick.choice((4.8, 6.7, 10.6))
        self._add("capacitors", row)

    def _settings(self) -> None:
        self.settings = {"supply": "ideal", "dc capacitance pu": round(self._log(1.0, 8.0), 2)}
        if self._pick.random() < 0.5:
            self.settings |= {"background 5th pct": 1.0, "background 7th pct": 0.5}
        if self._pick.random() < 0.3:
            self.settings["unbalance pct"] = round(self._pick.uniform(0.2, 1.5), 2)
        night = {"name": "Night", "drive load pct": 45, "short circuit": "minimum", "share of year pct": 40}
        self.cases = [
            {"name": "Day", "share of year pct": 60},
            {**night, "loads": self._pick.choice(("on", "off"))},
        ]

    def _add(self, table: str, row: Row) -> None:
        self.tables.setdefault(table, []).append(row)

    def _name(self, letter: str) -> str:
        self._number += 1
        return f"{letter}{self._number}"

    def _log(self, low: float, high: float) -> float:
        return math.exp(self._pick.uniform(math.log(low), math.log(high)))
