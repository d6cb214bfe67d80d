"""Figures of a comparison, for screens, telephones and print."""

from __future__ import annotations

from collections.abc import Iterator

# Before anything else imports matplotlib.
from sim.figures import own_matplotlib

own_matplotlib.load()

# ruff: noqa: E402
from matplotlib.figure import Figure

from sim.analyses.uncertainty import Uncertainty
from sim.comparison import Comparison
from sim.figures.court_diagram import court_figure, court_figures
from sim.figures.lateral import lateral_figure
from sim.figures.shares import shares_figure
from sim.figures.style import Units, save
from sim.figures.uncertainty import uncertainty_figure

__all__ = [
    "all_figures",
    "court_figure",
    "lateral_figure",
    "save",
    "shares_figure",
    "uncertainty_figure",
]


def all_figures(
    comparison: Comparison, units: Units = "us", doubt: Uncertainty | None = None
) -> Iterator[tuple[str, Figure]]:
    """Every figure of a comparison with its file stem, one at a time.

    That of the ``doubt`` is made if there is some, and a policy to compare with the baseline.
    """
    yield "shares", shares_figure(comparison, units)
    if doubt and len(doubt.scenario.policies) > 1:
        yield "uncertainty", uncertainty_figure(doubt, units)
    for policy, figure in court_figures(comparison, units):
        yield f"court-{policy.slug}", figure
    yield "lateral", lateral_figure(comparison, units)
