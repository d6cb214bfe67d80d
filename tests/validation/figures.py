"""Figures of the validation page; all their numbers come from the checks in `tests.published`."""

from __future__ import annotations

from matplotlib.figure import Figure

from tests.validation.failures_figure import failures_figure
from tests.validation.flight_figures import flight_figure, speed_figure


def calculated() -> list[tuple[str, Figure]]:
    """Figures without estimates, with their file stems."""
    return [("flight", flight_figure()), ("speed-loss", speed_figure())]


def estimated() -> list[tuple[str, Figure]]:
    """Figures of shares that were played, with their file stems."""
    return [("failures", failures_figure())]
