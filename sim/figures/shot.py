"""One shot from the side, and each player's distance from the ball against the reach over time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from matplotlib.figure import Figure

from sim.analyses.one_shot import OneShot, Response
from sim.figures import style
from sim.figures.shot_side import draw_side, side_height
from sim.figures.shot_time import Panel
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Units
from sim.run_in import PLAYERS
from sim.texts.shot import description, sentence
from sim.wording import DIRECTIONS

_LINE: Final = SMALL * style.LINE
_NOTE_OF_FAILED: Final = (
    "From the side; lengths and heights have one scale. Dots: every tenth of a second."
)
_NOTE: Final = (
    "From the side: both players at the hit, or when the ball is least out of reach; who does not "
    "go for it is drawn standing. Shaded: what the paddle gets to at the ball's distance aside, "
    "dark in control, light at full stretch. Dots: every tenth of a second. Below: the line is how "
    "far the ball is from where the player's feet can be by then; where it dips into the shaded "
    "reach the ball is reached."
)


def shot_figures(shot: OneShot, units: Units = "us") -> Iterator[tuple[str, Figure]]:
    """A figure for each policy, with its file stem; one without policies for a shot that fails."""
    if shot.fate != "in play":
        yield "shot", _figure(shot, None, units)
        return
    for answer in shot.answers.values():
        yield f"shot-{answer.policy.slug}", _figure(shot, answer, units)


def _figure(shot: OneShot, answer: Response | None, units: Units) -> Figure:
    title = f"Shot {shot.number} after a return {DIRECTIONS[shot.direction]}"
    title += "" if answer is None else f": {answer.policy.name}"
    subtitle = shot.scenario.name
    told = style.wrapped(_told(shot, answer, units), ROOM, SMALL, most=8)
    told_top = style.head_height(title, subtitle)
    side_top = told_top + len(told) * _LINE + 0.5 * TEXT
    panels = [] if answer is None else [Panel(shot, answer, name, units) for name in PLAYERS]
    notes = style.wrapped(_NOTE_OF_FAILED if answer is None else _NOTE, ROOM, SMALL, most=9)
    below = side_top + side_height(shot)
    foot_top = below + sum(panel.height for panel in panels)
    with style.own_settings():
        figure = style.new_figure(foot_top + style.foot_height(notes))
        style.head(figure, title, subtitle)
        for row, line in enumerate(told):
            style.write(figure, MARGIN, told_top + (row + 1) * _LINE, line, SMALL)
        draw_side(figure, side_top, shot, answer, units)
        for panel in panels:
            panel.draw(figure, below)
            below += panel.height
        style.foot(figure, foot_top, notes)
    return figure


def _told(shot: OneShot, answer: Response | None, units: Units) -> str:
    """What the shot is, and what the policy does with it."""
    start = description(shot, units)
    start = start[0].upper() + start[1:]
    return start if answer is None else f"{start} {sentence(answer)}"
