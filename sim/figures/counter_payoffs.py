"""What each third shot takes from each policy: a table of cells for each return direction."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import Final

import numpy as np
from matplotlib.figure import Figure

from sim.analyses.counter import Contest
from sim.analyses.counter_game import Game
from sim.analyses.counter_options import Option
from sim.court import Array
from sim.figures import marks, style
from sim.figures.cells import Shades, Table, draw_key, draw_table
from sim.figures.counter_names import BESIDE_NAMES, after, more_policies, names_of
from sim.figures.style import MARGIN, ROOM, SMALL, TEXT

_LETTERS: Final = {"line": "L", "middle": "M", "cross": "C"}
_LINE: Final = SMALL * 1.2
_LEAST_ROW: Final = 25.0
_BETWEEN_ROWS: Final = 3.0
_BETWEEN_STROKES: Final = 6.0
_WIDEST_CELL: Final = 34.0
_LEAST_SCALE: Final = 10.0


def payoffs_figure(contest: Contest) -> Figure:
    """What each shot takes from each policy; the best replies and those that cannot be told."""
    names = names_of(contest)
    left = MARGIN + marks.names_width(names) + BESIDE_NAMES
    columns = _columns(contest.options, ROOM + MARGIN - left)
    row = marks.row_height(names, _LEAST_ROW)
    strokes = _stroke_lines(contest.options, left + columns)
    head = 1.9 * TEXT + max(len(lines) for _, lines in strokes) * _LINE + _LINE + 2.0
    tables = {name: _table(game, columns, row, len(names)) for name, game in contest.games.items()}
    most = max(_LEAST_SCALE, *(float(table.values.max()) for table in tables.values()))
    shades = Shades(0.0, most)

    title = "What each third shot takes from each policy"
    notes = _notes(contest, len(names))
    key = style.head_height(title, contest.scenario.name) + 1.8 * TEXT
    start, step = key + 4.0, head + row * len(names) + 6.0
    bottom = start + step * len(contest.games) + 2.0
    with style.own_settings():
        figure = style.new_figure(bottom + style.foot_height(notes))
        style.head(figure, title, contest.scenario.name)
        draw_key(figure, MARGIN, key, shades, ("0", f"{most:.0f}"), "lost of 100 third shots")
        for number, (direction, table) in enumerate(tables.items()):
            top = start + number * step
            style.write(figure, MARGIN, top + 1.5 * TEXT, after(direction), weight="bold")
            _write_columns(figure, contest.options, left + columns, strokes, top + head)
            marks.write_names(figure, names, left - BESIDE_NAMES, top + head, row)
            width, height = float(columns[-1, 1]), row * len(names)
            axes = style.add_axes(figure, left, top + head, width, height)
            axes.set(xlim=(0.0, width), ylim=(height, 0.0))
            words = {cell: f"{abs(lost):.0f}" for cell, lost in np.ndenumerate(table.values)}
            draw_table(axes, table, shades, words)
        style.foot(figure, bottom, notes)
    return figure


def _table(game: Game, columns: Array, row: float, policies: int) -> Table:
    """What the pair loses of 100, by option and policy, as it is written and shaded."""
    tops = row * np.arange(policies)
    lost = np.round(100.0 - game.payoffs[:policies].T)
    best, as_good = np.zeros((2, *lost.shape), bool)
    for policy in range(policies):
        replies = game.best_replies(policy)
        best[replies[0], policy] = True
        as_good[replies, policy] = True
    return Table(columns, np.column_stack((tops, tops + row - _BETWEEN_ROWS)), lost, best, as_good)


def _notes(contest: Contest, policies: int) -> list[str]:
    lanes = ", ".join(f"{letter} {style.RETURNS[lane]}" for lane, letter in _LETTERS.items())
    intervals = [
        game.payoff(policy, option)
        for game in contest.games.values()
        for policy in range(policies)
        for option in range(len(contest.options))
    ]
    widest = max(0.5 * (high - low) for _, low, high in intervals)
    text = (
        f"{lanes}. Thick frame: the best reply to the policy. Line around: what cannot be told "
        "from it, all together at 95 %. Lost is what is not kept: a ball that gets through, and "
        f"part of one met at full stretch. Numbers are known to {style.give_or_take(widest)} or "
        f"better.{more_policies(contest)}"
    )
    return style.wrapped(text, ROOM, SMALL, most=6)


def _columns(options: list[Option], room: float) -> Array:
    """Both edges of every option's column (points), shape (options, 2); strokes stand apart."""
    gaps = len({option.stroke for option in options}) - 1
    cell = min((room - gaps * _BETWEEN_STROKES) / len(options), _WIDEST_CELL)
    changes = [one.stroke != other.stroke for one, other in pairwise(options)]
    left = cell * np.arange(len(options)) + _BETWEEN_STROKES * np.cumsum([0, *changes])
    return np.column_stack((left, left + cell))


def _stroke_lines(options: list[Option], columns: Array) -> list[tuple[float, list[str]]]:
    """Every stroke's name in lines that fit its columns, and where its middle is (points)."""
    found = []
    places = range(len(options))
    for stroke, group in groupby(places, key=lambda place: options[place].stroke):
        mine = columns[list(group)]
        begin, end = float(mine[0, 0]), float(mine[-1, 1])
        found.append((0.5 * (begin + end), style.wrapped(stroke, end - begin, SMALL)))
    return found


def _write_columns(
    figure: Figure,
    options: list[Option],
    columns: Array,
    strokes: list[tuple[float, list[str]]],
    bottom: float,
) -> None:
    """Strokes, and below them a letter for each lane, above the cells that begin at ``bottom``."""
    for middle, option in zip(columns.mean(axis=1), options, strict=True):
        letter = _LETTERS[option.lane]
        style.write(figure, middle, bottom - 4.0, letter, SMALL, color=style.QUIET, ha="center")
    for middle, lines in strokes:
        for number, line in enumerate(reversed(lines)):
            above = bottom - 4.0 - (number + 1) * _LINE
            style.write(figure, middle, above, line, SMALL, ha="center")
