"""Figures of a comparison, for screens, telephones and print."""

from __future__ import annotations

from collections.abc import Iterator

from matplotlib.figure import Figure

from sim.comparison import Comparison
from sim.figures.court_diagram import court_figure, court_figures
from sim.figures.lateral import lateral_figure
from sim.figures.shares import shares_figure
from sim.figures.style import Units, save

__all__ = ["all_figures", "court_figure", "lateral_figure", "save", "shares_figure"]


def all_figures(comparison: Comparison, units: Units = "us") -> Iterator[tuple[str, Figure]]:
    """Every figure of a comparison with its file stem, one at a time."""
    yield "shares", shares_figure(comparison, units)
    for policy, figure in court_figures(comparison, units):
        yield f"court-{policy.slug}", figure
    yield "lateral", lateral_figure(comparison, units)
