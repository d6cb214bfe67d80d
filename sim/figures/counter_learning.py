"""What opponents gain by learning a habit: each policy against the usual mix and the best reply."""

from __future__ import annotations

from typing import Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sim.analyses.counter import Contest
from sim.analyses.counter_game import Standing
from sim.analyses.jackknife import Estimate
from sim.figures import marks, scales, style
from sim.figures.counter_names import BESIDE_NAMES, after, more_policies, names_of
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT, Look
from sim.texts.counter import strokes
from sim.wording import decimals

_LINE: Final = SMALL * 1.2
_LEAST_ROW: Final = 25.0
_BESIDE: Final = 164.0
_HEAD: Final = 1.9 * TEXT
_SCALE: Final = 1.8 * SMALL
_MOST_STEPS: Final = 4
# Room (points) for a mark and the number beside it.
_BESIDE_MARK: Final = 28.0
_HALF_MARK: Final = 7.0


def learning_figure(contest: Contest, direction: str) -> Figure:
    """Each policy after returns in a direction, or after all, on the scale of all of these."""
    names, standing = names_of(contest), contest.standings[direction]
    left = MARGIN + marks.names_width(names) + BESIDE_NAMES
    width = ROOM + MARGIN - left - _BESIDE - 2.0 * BESIDE_NAMES
    beside = _beside(contest, direction, len(names))
    row = max(marks.row_height(names, _LEAST_ROW), max(map(len, beside)) * _LINE + 6.0)
    low, high, ticks = _scale(contest, len(names), width)

    title = "What opponents gain by learning the habit"
    subtitle = f"{contest.scenario.name} · {after(direction).lower()} · kept of 100 third shots"
    notes = _notes(contest, direction, ticks)
    key = style.head_height(title, subtitle) + 1.9 * TEXT
    top = key + _HEAD
    bottom = top + row * len(names) + _SCALE + 4.0
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, subtitle)
        words = {False: "against the usual mix", True: "against the best reply"}
        marks.draw_key(figure, key, words)
        marks.write_names(figure, names, left - BESIDE_NAMES, top, row)
        axes = style.add_axes(figure, left, top, width, row * len(names))
        axes.set(xlim=(low, high), ylim=(len(names) - 0.5, -0.5))
        scales.draw_upright(axes, ticks, scales.plain(ticks))
        _draw_value(axes, standing.value.at(0))
        _draw_dumbbells(axes, standing, len(names))
        _write_beside(figure, beside, left + width + 2.0 * BESIDE_NAMES, top, row)
        style.foot(figure, bottom, notes)
    return figure


def _notes(contest: Contest, direction: str, ticks: list[float]) -> list[str]:
    alone = direction in contest.games
    right = "the best reply, or one of several alike" if alone else "what learning takes"
    text = (
        "Kept: missed by the opponents or met in control; met at full stretch in part. Dashed: "
        "what the best mix of places keeps, whatever the opponents do. On the right: "
        f"{right}. All with 95 % intervals.{'' if ticks[0] <= 0.0 else f' {scales.CUT}'}"
        f"{more_policies(contest)}"
    )
    return style.wrapped(text, ROOM, SMALL, most=6)


def _beside(contest: Contest, direction: str, policies: int) -> list[list[str]]:
    """The best replies in lines; after all returns, where they differ, what they take together."""
    if direction not in contest.games:
        taken = contest.standings[direction].taken
        return [[_fewer(*taken.at(policy).interval())] for policy in range(policies)]
    game = contest.games[direction]
    words = (
        strokes([contest.options[o] for o in game.best_replies(policy)], most=1)
        for policy in range(policies)
    )
    return [style.wrapped(text.partition(";")[0], _BESIDE, SMALL) for text in words]


def _fewer(points: float, low: float, high: float) -> str:
    places = decimals(0.5 * (high - low))
    return f"{points:.{places}f} fewer [{low:.{places}f}, {high:.{places}f}]"


def _write_beside(
    figure: Figure, beside: list[list[str]], left: float, top: float, row: float
) -> None:
    for place, lines in enumerate(beside):
        first = top + (place + 0.5) * row - 0.5 * (len(lines) - 1) * _LINE + 0.36 * SMALL
        for number, line in enumerate(lines):
            style.write(figure, left, first + number * _LINE, line, SMALL)


def _scale(contest: Contest, policies: int, width: float) -> tuple[float, float, list[float]]:
    """Both ends of the scale and its ticks, with every interval and number inside."""
    least, most = 100.0, 0.0
    for standing in contest.standings.values():
        for estimate in (standing.against_best_reply, standing.against_usual, standing.value):
            half = estimate.half_width()
            least = min(least, float((estimate.whole - half)[:policies].min()))
            most = max(most, float((estimate.whole + half)[:policies].max()))
    ticks = scales.ticks(max(least, 0.0), min(most, 100.0), _MOST_STEPS, least=1.0)
    per_point = (ticks[-1] - ticks[0]) / (width - _BESIDE_MARK - _HALF_MARK)
    return ticks[0] - _BESIDE_MARK * per_point, ticks[-1] + _HALF_MARK * per_point, ticks


def _draw_value(axes: Axes, value: Estimate) -> None:
    """What the best mix keeps: a dashed line in the band of its interval, with its name above."""
    at, least, most = value.interval(least=0.0, most=100.0)
    (bottom, top), (_, up) = axes.get_ylim(), scales.a_point(axes)
    band: Look = {"facecolor": style.GROUND, "linewidth": 0.0, "zorder": 0}
    axes.add_artist(Rectangle((least, top), most - least, bottom - top, **band))
    style.draw(axes, [at, at], [bottom, top], zorder=2, **marks.DASHED)
    style.label(axes, at, top + 4.0 * up, f"best mix {at:.0f}", color=style.QUIET, va="bottom")


def _draw_dumbbells(axes: Axes, standing: Standing, policies: int) -> None:
    right, _ = scales.a_point(axes)
    for place in range(policies):
        usual = standing.against_usual.at(place).interval()
        reply = standing.against_best_reply.at(place).interval()
        between: Look = {"zorder": 3, "color": style.FAINT, "linewidth": 5.0}
        style.draw(axes, [reply[0], usual[0]], [place, place], **between)
        marks.draw_estimate(axes, usual, place, filled=False)
        marks.draw_estimate(axes, reply, place, filled=True)
        beside: Look = {"ha": "right", "weight": "bold", "size": TEXT, "bbox": style.CLEAR}
        style.label(axes, reply[1] - 9.0 * right, place, f"{reply[0]:.0f}", **beside)
