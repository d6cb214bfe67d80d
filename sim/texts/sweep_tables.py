"""Tables and words of a sweep, for its text: the best values, the curve in numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from sim.analyses.sweep import MEASURE_WORDS, Part, Sweep
from sim.analyses.sweep_axes import Axis, runs
from sim.analyses.sweep_best import AgainstBest
from sim.analyses.sweep_ranking import in_front
from sim.analyses.sweep_tables import difference_rows, share_rows
from sim.statistics import share_of_replicates
from sim.tables import Row
from sim.texts.table import aligned
from sim.wording import DIRECTIONS, MINUS, decimals, joined, percent, points

_MOST_LINES: Final = 21
NOTHING: Final = "no balls in play"
AS_NOW: Final = "as it is now"
_ANY: Final = "any"


def setting_words(axes: Sequence[Axis], setting: Part) -> str:
    """A setting in words: its value with the unit, or names and values where that says too
    little."""
    if len(axes) == 1 and axes[0].unit:
        return axes[0].shown(setting[0])
    return ", ".join(f"{a.words} {a.shown(v)}" for a, v in zip(axes, setting, strict=True))


def ranges(axis: Axis, places: Iterable[int]) -> str:
    """Places on an axis as ranges of values.

    Neighbours make a range: ``4 ft, 8 to 10.5 ft``.
    """
    return ", ".join(between(axis, run) for run in runs(places))


def between(axis: Axis, run: list[int]) -> str:
    """A run of neighbouring places as a range of values."""
    ends = [axis.values[run[0]], axis.values[run[-1]]]
    return axis.shown(*ends[: len(run)])


def front_names(sweep: Sweep) -> list[tuple[str, ...]]:
    """At every value the policies that cannot be told from the best one."""
    names = [policy.name for policy in sweep.plan.policies]
    return [tuple(names[k] for k in best.tied) or (NOTHING,) for best in in_front(sweep)]


def best_setting(sweep: Sweep, name: str) -> Part:
    """The best setting of a policy, by name."""
    place = next(k for k, policy in enumerate(sweep.plan.policies) if policy.name == name)
    best = sweep.best(place).best
    return sweep.plan.settings[best or 0]


def now_words(sweep: Sweep, name: str) -> str:
    """What is varied, as it stands for a policy."""
    plan = sweep.plan
    policy = next(policy for policy in plan.policies if policy.name == name)
    words = []
    for axis in plan.axes:
        values = joined([axis.shown(value) for value in axis.now(plan.scenario, policy)])
        words.append(values if len(plan.axes) == 1 and axis.unit else f"{axis.words} {values}")
    return ", ".join(words)


def is_now(sweep: Sweep, name: str) -> bool:
    """Whether a policy is at its best as it stands: then there is nothing to judge."""
    policy = next(policy for policy in sweep.plan.policies if policy.name == name)
    return sweep.plan.is_now(policy, best_setting(sweep, name))


def best_table(sweep: Sweep, rows: list[Row]) -> list[list[str]]:
    """Each policy now and at its best, from the rows of `best_rows`."""
    measure = MEASURE_WORDS[sweep.plan.measure]
    header = ["policy", "now", "best", "cannot be told from it", f"{measure}, %"]
    table = [[*header, "against now, points"]]
    names = [policy.name for policy in sweep.plan.policies]
    for row in rows:
        best = sweep.best(names.index(row["policy"]))
        setting = best_setting(sweep, row["policy"])
        line = [row["policy"], now_words(sweep, row["policy"])]
        line += [setting_words(sweep.plan.axes, setting), _tied_words(sweep, best)]
        line += [percent(row["best_share"], row["best_low"], row["best_high"])]
        table.append([*line, AS_NOW if is_now(sweep, row["policy"]) else points(row)])
    return table


def _tied_words(sweep: Sweep, best: AgainstBest) -> str:
    axes = sweep.plan.axes
    if len(axes) == 1:
        return ranges(axes[0], best.tied)
    others = [k for k in best.tied if k != best.best]
    return f"{len(others)} of {len(sweep.plan.settings) - 1} others" if others else "none"


def direction_table(sweep: Sweep) -> list[list[str]]:
    """The best of each policy after each return direction."""
    plan = sweep.plan
    table = [["policy", *(DIRECTIONS[direction] for direction in plan.directions[1:])]]
    for p, policy in enumerate(plan.policies):
        line = [policy.name]
        for d in range(1, len(plan.directions)):
            best = sweep.best(p, plan.measure, d)
            if best.best is None:
                line.append(NOTHING)
                continue
            words = setting_words(plan.axes, plan.settings[best.best])
            line.append(f"{words} ({_tied_words(sweep, best)})")
        table.append(line)
    return table


def curve(sweep: Sweep) -> list[str]:
    """The curve in numbers: a line for each value, or for some of them."""
    plan, (axis,) = sweep.plan, sweep.plan.axes
    measure = MEASURE_WORDS[plan.measure]
    step = math.ceil(len(axis.values) / _MOST_LINES)
    shown = range(0, len(axis.values), step)
    some = f", one value in {step}" if step > 1 else ""
    rows = _by_value(share_rows(sweep), sweep)
    table = [[axis.words, *(policy.name for policy in plan.policies)]]
    for k in shown:
        cells = [_plus_minus(row, "share", 100.0) for row in rows[k]]
        table.append([axis.shown(axis.values[k]), *cells])
    ranked = plan.of_scenario and len(plan.policies) > 1
    if ranked:
        front = front_names(sweep)
        table[0].append("in front")
        for line, k in zip(table[1:], shown, strict=True):
            line.append(_ANY if len(front[k]) == len(plan.policies) > 2 else " or ".join(front[k]))
    parts = [f"{measure.capitalize()}, % of the balls in play, after all returns{some}"]
    parts += [aligned(table), ""]
    if not plan.of_scenario:
        return parts
    against = _by_value(difference_rows(sweep), sweep)
    if against[0]:
        names = [row["policy"] for row in against[0]]
        table = [[axis.words, *names]]
        for k in shown:
            cells = [_plus_minus(row, "points", 1.0, signed=True) for row in against[k]]
            table.append([axis.shown(axis.values[k]), *cells])
        name = plan.scenario.baseline.name
        parts += [f"{measure.capitalize()}, points against {name}{some}", aligned(table), ""]
    return parts


def _by_value(rows: Iterable[Row], sweep: Sweep) -> list[list[Row]]:
    """The rows of all returns and the sweep's measure, a list for each value."""
    (axis,) = sweep.plan.axes
    found: dict[float, list[Row]] = {axis.number(value): [] for value in axis.values}
    for row in rows:
        if (row["return_direction"], row["measure"]) == ("all", sweep.plan.measure):
            found[row[axis.column]].append(row)
    return list(found.values())


def _plus_minus(row: Row, name: str, scale: float, *, signed: bool = False) -> str:
    """An estimate and how far its interval reaches to the farther side, both rounded alike."""
    prefix = "" if name == "share" else f"{name}_"
    value, low, high = (scale * row[key] for key in (name, f"{prefix}low", f"{prefix}high"))
    if math.isnan(value):
        return NOTHING
    half = max(value - low, high - value)
    places = decimals(half)
    half = math.ceil(half * 10**places - 1e-6) / 10**places
    sign = "" if not signed or float(f"{value:.{places}f}") == 0.0 else "+" if value > 0 else MINUS
    shown = f"{abs(value) if signed else value:.{places}f}"
    return f"{sign}{shown} ±{half:.{places}f}"


def slices(sweep: Sweep, chosen: int) -> list[str]:
    """At every value of the other key the best value of the chosen one, for the first policy."""
    plan = sweep.plan
    axis, given = plan.axes[chosen], plan.axes[1 - chosen]
    step = math.ceil(len(given.values) / _MOST_LINES)
    name = plan.policies[0].name
    first, heading = f"best {axis.words}", f"Best {axis.words} at each {given.words}, for {name}"
    if plan.of_scenario and plan.chosen is None:
        # Nobody chooses what the scenario says: there is a most, but no best.
        first = f"{axis.words} with most"
        heading = f"Where {name} has most {MEASURE_WORDS[plan.measure]}, at each {given.words}"
    header = [given.words, first, "cannot be told from it"]
    table = [[*header, f"{MEASURE_WORDS[plan.measure]}, %"]]
    for place in range(0, len(given.values), step):
        best = sweep.best_along(0, chosen, place)
        line = [given.shown(given.values[place])]
        if best.best is None:
            table.append([*line, NOTHING, "", ""])
            continue
        where = (best.best, place) if chosen == 0 else (place, best.best)
        number = where[0] * len(plan.axes[1].values) + where[1]
        hits, balls = sweep.counts[0][number].of(plan.measure)
        line += [axis.shown(axis.values[best.best]), ranges(axis, best.tied)]
        table.append([*line, percent(hits.sum() / balls.sum(), *share_of_replicates(hits, balls))])
    some = f", one value in {step}" if step > 1 else ""
    return [f"{heading}{some}", aligned(table), ""]
