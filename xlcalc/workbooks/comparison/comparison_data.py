"""Inputs of a comparison of front ends, from a TOML file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.core.orders_given import OrdersNotListed, orders_not_listed_rule
from xlcalc.files.books import comparison_names as names
from xlcalc.files.toml import read_toml

BLOCKS = ("study", "supply", "drive", "limit", "cost")
TABLES = (*BLOCKS, "own_limits", "front_ends", "residual")


@dataclass(frozen=True)
class ComparisonData:
    """What the input cells hold.

    Parameters
    ----------
    blocks : mapping of str to mapping
        Values by field name, for each of `BLOCKS`.
    own_limits : mapping of int to float
        Percent by order.
    front_ends : tuple of mapping
        One per column; the last one is the residual spectrum.
    basis : str
        Where the residual spectrum comes from.
    loads : tuple of float
        Loads of the residual spectrum, percent.
    residual : mapping of int to tuple of float
        Percent of the rated fundamental by order, one value per load.
    orders_not_listed : str
        What orders without a value stand for: "not given" or "zero".
    """

    blocks: Mapping[str, Mapping[str, Any]]
    own_limits: Mapping[int, float]
    front_ends: tuple[Mapping[str, Any], ...]
    basis: str
    loads: tuple[float, ...]
    residual: Mapping[int, tuple[float, ...]]
    orders_not_listed: str = OrdersNotListed.NOT_GIVEN


def read_comparison(path: Path) -> ComparisonData:
    """Read the inputs.

    Raises
    ------
    InputError
        The file is missing or no TOML, or has another number of front ends or loads.
    """
    tables = read_toml(path)
    for name in tables:
        if name not in TABLES:
            raise InputError(f"table in {path.name}", name, f"one of {', '.join(TABLES)}")
    front_ends = tuple(tables.get("front_ends", ()))
    if len(front_ends) != names.COLUMNS:
        raise InputError(f"front_ends of {path.name}", len(front_ends), f"{names.COLUMNS} of them")
    residual = dict(tables.get("residual", {}))
    basis, loads = residual.pop("basis", ""), tuple(residual.pop("loads", ()))
    not_listed = orders_not_listed_rule(residual.pop("orders_not_listed", OrdersNotListed.NOT_GIVEN))
    for order, values in residual.items():
        if len(values) != len(loads):
            raise InputError(f"residual order {order} of {path.name}", len(values), f"{len(loads)} values")
    return ComparisonData(
        blocks={name: tables.get(name, {}) for name in BLOCKS},
        own_limits={int(order): value for order, value in tables.get("own_limits", {}).items()},
        front_ends=front_ends,
        basis=basis,
        loads=loads,
        residual={int(order): tuple(values) for order, values in residual.items()},
        orders_not_listed=not_listed,
    )
