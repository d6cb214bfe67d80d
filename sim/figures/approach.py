"""Figures of the way in."""

from __future__ import annotations

from collections.abc import Iterator

from matplotlib.figure import Figure

from sim.analyses.approach import Approach
from sim.figures.approach_court import court_of_the_way
from sim.figures.approach_returns import map_of_returns
from sim.figures.approach_time import depth_over_time
from sim.figures.style import Units


def approach_figures(result: Approach, units: Units = "us") -> Iterator[tuple[str, Figure]]:
    """Every figure with its file stem; none where no ball stayed in play."""
    if result.ways[0][0].balls:
        yield "court", court_of_the_way(result, units)
        yield "depth-over-time", depth_over_time(result, units)
        yield "returns", map_of_returns(result, units)
