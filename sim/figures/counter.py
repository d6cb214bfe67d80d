"""Opponents who adapt, in pictures: what each shot takes, and what learning a habit takes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby, pairwise
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.counter import ALL, Contest
from sim.analyses.counter_game import Standing
from sim.analyses.counter_options import Option
from sim.analyses.jackknife import Estimate
from sim.court import Array
from sim.figures import marks, style
from sim.figures.cells import Shades
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look
from sim.texts.counter import strokes

_PANEL_NAMES: Final = {ALL: "After all returns"} | {
    name: f"After returns {words}" for name, words in style.RETURNS.items()
}
_LETTERS: Final = {"line": "L", "middle": "M", "cross": "C"}
_MOST_POLICIES: Final = 24
_WIDEST_NAME: Final = 104.0
_SMALL_LINE: Final = SMALL * 1.2
_BESIDE_NAMES: Final = 8.0
_LEAST_ROW: Final = 25.0
_BETWEEN_STROKES: Final = 5.0
_WIDEST_CELL: Final = 34.0
# From this shade on, white numbers are easier to read than dark ones.
_DARK: Final = 0.6
_LEAST_SCALE: Final = 10.0
_REPLIES: Final = 164.0
_TICK_STEPS: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0)
_MOST_STEPS: Final = 4
# Room (points) for a mark and the number beside it.
_BESIDE_MARK: Final = 28.0
_HALF_MARK: Final = 7.0


def counter_figures(contest: Contest) -> Iterator[tuple[str, Figure]]:
    """Both figures with their file stems; nothing on them has a unit."""
    yield "learning", learning_figure(contest)
    yield "payoffs", payoffs_figure(contest)


def payoffs_figure(contest: Contest) -> Figure:
    """What each shot takes from each policy: a table in shades for each return direction."""
    names = _names(contest)
    left = MARGIN + marks.names_width(names) + _BESIDE_NAMES
    places = _columns(contest.options, left)
    row = max(_LEAST_ROW, max(map(len, names)) * marks.NAME_LINE + 4.0)
    groups = _stroke_lines(contest.options, places)
    head = 1.9 * TEXT + max(len(lines) for _, lines in groups) * _SMALL_LINE + _SMALL_LINE + 2.0
    losses = {name: 100.0 - game.payoffs[: len(names)] for name, game in contest.games.items()}
    largest = max(_LEAST_SCALE, *(float(lost.max()) for lost in losses.values()))

    title = "What each third shot takes from each policy"
    subtitle = f"{contest.scenario.name} · lost of 100 third shots"
    notes = _payoff_notes(contest)
    start, step = style.head_height(title, subtitle), head + row * len(names) + 6.0
    bottom = start + step * len(contest.games) + 2.0
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        for number, (direction, lost) in enumerate(losses.items()):
            top = start + number * step
            style.write(figure, MARGIN, top + 1.5 * TEXT, _PANEL_NAMES[direction], weight="bold")
            _write_columns(figure, contest.options, places, groups, top + head)
            marks.write_names(figure, names, left - _BESIDE_NAMES, top + head, row)
            _draw_cells(figure, lost, places, (top + head, row), largest)
        style.foot(figure, bottom, notes)
    return figure


def learning_figure(contest: Contest) -> Figure:
    """Each policy against the usual mix of shots and against the best reply, joined by a line."""
    names = _names(contest)
    left = MARGIN + marks.names_width(names) + _BESIDE_NAMES
    width = ROOM + MARGIN - left - _REPLIES - 2.0 * _BESIDE_NAMES
    replies = {
        direction: _replies(contest, direction, len(names)) for direction in contest.standings
    }
    rows = {direction: _row_height(names, words) for direction, words in replies.items()}
    low, high, ticks = _scale(contest, len(names), width)

    title = "What opponents gain by learning the habit"
    subtitle = f"{contest.scenario.name} · kept of 100 third shots"
    notes = _learning_notes(contest, ticks)
    key = style.head_height(title, subtitle) + 1.9 * TEXT
    head, scale = 2.6 * TEXT + _SMALL_LINE, 1.8 * SMALL
    heights = [head + rows[direction] * len(names) + scale for direction in contest.standings]
    bottom = key + sum(heights) + 4.0
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        words = {False: "against the usual mix", True: "against the best reply"}
        marks.draw_key(figure, key, words)
        top = key
        for (direction, standing), height in zip(contest.standings.items(), heights, strict=True):
            row, at = rows[direction], top + head
            style.write(figure, MARGIN, top + 1.9 * TEXT, _PANEL_NAMES[direction], weight="bold")
            marks.write_names(figure, names, left - _BESIDE_NAMES, at, row)
            axes = style.add_axes(figure, left, at, width, row * len(names))
            axes.set(xlim=(low, high), ylim=(len(names) - 0.5, -0.5))
            _draw_scale(axes, ticks, row)
            _draw_value(axes, standing.value.at(0), row)
            _draw_dumbbells(axes, standing, len(names), width)
            _write_replies(figure, replies[direction], left + width + 2.0 * _BESIDE_NAMES, at, row)
            top += height
        style.foot(figure, bottom, notes)
    return figure


def _names(contest: Contest) -> list[list[str]]:
    policies = contest.scenario.policies[:_MOST_POLICIES]
    return [style.wrapped(policy.name, _WIDEST_NAME, TEXT) for policy in policies]


def _more_policies(contest: Contest) -> str:
    policies = len(contest.scenario.policies)
    if policies <= _MOST_POLICIES:
        return ""
    return f" The first {_MOST_POLICIES} of {policies} policies."


def _payoff_notes(contest: Contest) -> list[str]:
    lanes = ", ".join(f"{letter} {style.RETURNS[lane]}" for lane, letter in _LETTERS.items())
    text = (
        f"{lanes}. The darker, the more the pair loses; boxed: the best reply to the policy. "
        "Lost is what is not kept: a ball that gets through, and part of one met at full stretch."
        f"{_more_policies(contest)}"
    )
    return style.wrapped(text, ROOM, SMALL, most=5)


def _columns(options: list[Option], left: float) -> list[tuple[float, float]]:
    """Left edge and width (points) of every option's column; strokes stand a little apart."""
    gaps = len({option.stroke for option in options}) - 1
    cell = min((ROOM + MARGIN - left - gaps * _BETWEEN_STROKES) / len(options), _WIDEST_CELL)
    strokes_before = np.cumsum(
        [0, *(one.stroke != other.stroke for one, other in pairwise(options))]
    )
    return [
        (left + number * cell + float(before) * _BETWEEN_STROKES, cell)
        for number, before in enumerate(strokes_before)
    ]


def _stroke_lines(
    options: list[Option], places: list[tuple[float, float]]
) -> list[tuple[float, list[str]]]:
    """Every stroke's name in lines that fit its columns, and where its middle is (points)."""
    found = []
    for stroke, group in groupby(
        zip(options, places, strict=True), key=lambda pair: pair[0].stroke
    ):
        mine = [place for _, place in group]
        begin, end = mine[0][0], mine[-1][0] + mine[-1][1]
        found.append((0.5 * (begin + end), style.wrapped(stroke, end - begin, SMALL)))
    return found


def _write_columns(
    figure: Figure,
    options: list[Option],
    places: list[tuple[float, float]],
    groups: list[tuple[float, list[str]]],
    bottom: float,
) -> None:
    """Strokes, and below them a letter for each lane, above the cells that begin at ``bottom``."""
    for (left, width), option in zip(places, options, strict=True):
        middle, letter = left + 0.5 * width, _LETTERS[option.lane]
        style.write(figure, middle, bottom - 4.0, letter, SMALL, color=style.QUIET, ha="center")
    for middle, lines in groups:
        for number, line in enumerate(reversed(lines)):
            above = bottom - 4.0 - (number + 1) * _SMALL_LINE
            style.write(figure, middle, above, line, SMALL, ha="center")


def _draw_cells(
    figure: Figure,
    lost: Array,
    places: list[tuple[float, float]],
    rows: tuple[float, float],
    largest: float,
) -> None:
    """Numbers on shades, from white for nothing lost to dark for the ``largest``."""
    top, height = rows
    shades = Shades(0.0, largest, "white", style.THROUGH)
    usual: Look = {"transform": style.points(figure), "linewidth": 0.0}
    for policy, losses in enumerate(lost):
        best = int(losses.argmax())
        for option, loss in enumerate(losses):
            (left, width), above = places[option], top + policy * height
            shade, dark = shades.fill(float(loss)), shades.part(float(loss)) > _DARK
            figure.add_artist(
                Rectangle((left, above), width, height - 1.0, facecolor=shade, **usual)
            )
            look: Look = {"color": "white" if dark else style.INK, "ha": "center"}
            look["weight"] = "bold" if option == best else "normal"
            below = above + 0.5 * height + 0.34 * SMALL
            style.write(figure, left + 0.5 * width, below, f"{abs(loss):.0f}", SMALL, **look)
        left, width = places[best]
        box: Look = usual | {"linewidth": 2.4, "edgecolor": style.INK, "fill": False, "zorder": 3}
        above = top + policy * height
        figure.add_artist(Rectangle((left, above + 0.5), width, height - 2.0, **box))


def _learning_notes(contest: Contest, ticks: list[float]) -> list[str]:
    text = (
        "Kept: missed by the opponents or met in control; met at full stretch in part. Dashed: "
        "what the best mix of places keeps, whatever the opponents do. On the right the best "
        "reply, or one of several alike. With 95 % intervals."
        f"{'' if ticks[0] <= 0.0 else ' The scale does not start at 0.'}{_more_policies(contest)}"
    )
    return style.wrapped(text, ROOM, SMALL, most=6)


def _replies(contest: Contest, direction: str, policies: int) -> list[list[str]]:
    """The best replies in lines; after all returns, where they differ, what they take together."""
    if direction not in contest.games:
        taken = contest.standings[direction].taken.whole[:policies]
        return [[f"{fewer:.0f} fewer"] for fewer in taken]
    game = contest.games[direction]
    words = (
        strokes([contest.options[o] for o in game.best_replies(policy)], most=1)
        for policy in range(policies)
    )
    return [style.wrapped(text.partition(";")[0], _REPLIES, SMALL) for text in words]


def _row_height(names: list[list[str]], replies: list[list[str]]) -> float:
    lines = max(max(map(len, names)) * marks.NAME_LINE, max(map(len, replies)) * _SMALL_LINE)
    return max(_LEAST_ROW, lines + 6.0)


def _write_replies(
    figure: Figure, replies: list[list[str]], left: float, top: float, row: float
) -> None:
    for place, lines in enumerate(replies):
        first = top + (place + 0.5) * row - 0.5 * (len(lines) - 1) * _SMALL_LINE + 0.36 * SMALL
        for number, line in enumerate(lines):
            style.write(figure, left, first + number * _SMALL_LINE, line, SMALL)


def _scale(contest: Contest, policies: int, width: float) -> tuple[float, float, list[float]]:
    """Both ends of the scale and its ticks, with every interval and number inside."""
    least, most = 100.0, 0.0
    for standing in contest.standings.values():
        for estimate in (standing.against_best_reply, standing.against_usual, standing.value):
            half = estimate.half_width()
            least = min(least, float((estimate.whole - half)[:policies].min()))
            most = max(most, float((estimate.whole + half)[:policies].max()))
    least, most = max(least, 0.0), min(most, 100.0)
    for step in _TICK_STEPS:
        first, last = math.floor(least / step), math.ceil(most / step)
        if last - first <= _MOST_STEPS:
            break
    ticks = [step * number for number in range(first, max(last, first + 1) + 1)]
    per_point = (ticks[-1] - ticks[0]) / (width - _BESIDE_MARK - _HALF_MARK)
    return ticks[0] - _BESIDE_MARK * per_point, ticks[-1] + _HALF_MARK * per_point, ticks


def _draw_scale(axes: Axes, ticks: list[float], row: float) -> None:
    bottom, top = axes.get_ylim()
    for tick in ticks:
        style.draw(axes, [tick, tick], [top, bottom], zorder=1, color=style.FAINT, linewidth=0.8)
        below = bottom + 4.0 / row
        style.label(axes, tick, below, f"{tick:g}", color=style.QUIET, va="top")


def _draw_value(axes: Axes, value: Estimate, row: float) -> None:
    """What the best mix keeps: a dashed line with its name above."""
    at, (bottom, top) = float(value.whole), axes.get_ylim()
    look: Look = {"color": style.QUIET, "linewidth": 1.2, "linestyle": (0, (3.0, 3.0))}
    style.draw(axes, [at, at], [bottom, top], zorder=2, **look)
    words = f"best mix {at:.0f}"
    style.label(axes, at, top - 4.0 / row, words, color=style.QUIET, va="bottom")


def _draw_dumbbells(axes: Axes, standing: Standing, policies: int, width: float) -> None:
    low, high = axes.get_xlim()
    for place in range(policies):
        usual = standing.against_usual.at(place).interval()
        reply = standing.against_best_reply.at(place).interval()
        style.draw(
            axes, [reply[0], usual[0]], [place, place], zorder=3, color=style.FAINT, linewidth=5.0
        )
        marks.draw_estimate(axes, usual, place, filled=False)
        marks.draw_estimate(axes, reply, place, filled=True)
        beside = reply[1] - 9.0 * (high - low) / width
        look: Look = {"ha": "right", "weight": "bold", "size": TEXT}
        style.label(axes, beside, place, f"{reply[0]:.0f}", **look)
