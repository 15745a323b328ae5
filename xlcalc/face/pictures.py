"""Figures of matplotlib, which is loaded for them only."""

from __future__ import annotations

from typing import TYPE_CHECKING

from xlcalc.core.errors import InputError

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

SHOWN_ORDERS = 25


def drive_figure(title: str, waveform: pd.DataFrame, spectrum: pd.DataFrame) -> Figure:
    """Waveform and spectrum of one drive, tables as `DriveSolution` gives them.

    Parameters
    ----------
    title : str
    waveform : DataFrame
        Column ``amps`` by degrees.
    spectrum : DataFrame
        Column ``percent`` of the fundamental by order.

    Returns
    -------
    matplotlib.figure.Figure
    """
    figure = _figure(title)
    wave, bars = figure.subplots(1, 2)
    wave.plot(waveform.index, waveform["amps"])
    wave.set(xlabel="degrees", ylabel="line current (A)", xlim=(0, 360), xticks=range(0, 361, 60))
    wave.grid(visible=True, alpha=0.3)
    shown = spectrum.loc[2:SHOWN_ORDERS]
    bars.bar(shown.index, shown["percent"])
    bars.set(xlabel="order", ylabel="percent of the fundamental")
    return figure


def pcc_figure(title: str, orders: pd.DataFrame) -> Figure:
    """Current and voltage by order at one PCC against their limits, a table as `Study.orders`."""
    shown = orders[orders["order"].between(2, SHOWN_ORDERS)]
    figure = _figure(title)
    quantities = {"current": "percent of IL", "voltage": "percent of nominal voltage"}
    for axes, (what, unit) in zip(figure.subplots(1, 2), quantities.items(), strict=True):
        axes.bar(shown["order"], shown[f"{what} pct"])
        axes.step(shown["order"], shown[f"{what} limit pct"], where="mid", color="black", label="limit")
        axes.set(xlabel="order", ylabel=f"{what}, {unit}")
        axes.legend()
    return figure


def _figure(title: str) -> Figure:
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise InputError(
            "plot", None, "an installation with matplotlib: pip install 'xlcalc[plot]'"
        ) from None
    figure = Figure(figsize=(9.0, 3.6), layout="constrained")
    figure.suptitle(title)
    return figure
