"""Figures of opponents who adapt."""

from __future__ import annotations

from collections.abc import Iterator

from matplotlib.figure import Figure

from sim.analyses.counter import Contest
from sim.figures.counter_learning import learning_figure
from sim.figures.counter_payoffs import payoffs_figure


def counter_figures(contest: Contest) -> Iterator[tuple[str, Figure]]:
    """Every figure with its file stem; nothing on them has a unit.

    What learning takes is a figure for all returns together, as the answer to look at first, and
    where there are several directions one for each: a single one would be too long to read.
    """
    for number, direction in enumerate(contest.standings):
        stem = "learning" if number == 0 else f"learning-{direction}"
        yield stem, learning_figure(contest, direction)
    yield "payoffs", payoffs_figure(contest)
