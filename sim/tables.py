"""Tidy tables of a run: rows as plain dictionaries, one fact a column, lengths in ft."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import pairwise
from typing import Any, Final

import numpy as np

from sim.answers import LEAKS, Answer, Detail, details
from sim.draws import Sampling
from sim.opponents import LANES, SHOTS
from sim.rallies import FATES, IN_PLAY, Rally
from sim.run_in import PLAYERS
from sim.scenario import Policy, Scenario
from sim.statistics import (
    LEVEL,
    adjusted,
    difference_of_replicates,
    mean_of_replicates,
    paired_difference,
    share_of_replicates,
    told_apart,
    wilson,
)
from sim.tally import (
    AT_FULL_STRETCH,
    IN_CONTROL,
    LATERAL_EDGES,
    MEASURES,
    ON_THE_WAY,
    Tally,
)

Row = dict[str, Any]

# All return directions, shots or lanes together.
ALL: Final = "all"
CANNOT_TELL: Final = "cannot tell yet"
NO_LARGER: Final = "no difference larger than"
# Points; a difference below half a ball of 100 is none to a pair on court.
NO_DIFFERENCE_LARGER_THAN: Final = (0.1, 0.2, 0.5)


def _with_all(names: Sequence[str], *, overall: bool = False) -> list[tuple[int, str]]:
    """``all`` and every name, with their places in `_with_totals`; ``all`` alone if ``overall``."""
    return list(enumerate([ALL] if overall else [ALL, *names]))


def _with_totals(counts: np.ndarray, axes: int) -> np.ndarray:
    """Counts with, along so many axes after the first (replicates), their total before them."""
    for axis in range(1, axes + 1):
        counts = np.concatenate((counts.sum(axis=axis, keepdims=True), counts), axis=axis)
    return counts


def share_columns(name: str, hits: np.ndarray, trials: np.ndarray, sampling: Sampling) -> Row:
    """A share with its interval from counts by replicate, as columns of a table."""
    share, low, high = share_with_interval(hits, trials, sampling)
    return {f"{name}_share": share, f"{name}_low": low, f"{name}_high": high}


def share_with_interval(
    hits: np.ndarray, trials: np.ndarray, sampling: Sampling
) -> tuple[float, float, float]:
    """A share with its interval from counts by replicate; NaN without trials."""
    total, size = int(hits.sum()), int(trials.sum())
    if size == 0:
        return math.nan, math.nan, math.nan
    if sampling == "quasi-random":
        return total / size, *share_of_replicates(hits, trials)
    return total / size, *wilson(total, size)


def _difference(
    table: np.ndarray, sampling: Sampling, level: float = LEVEL
) -> tuple[float, float, float]:
    """A paired difference with its interval from a table of pairs by replicate."""
    if sampling == "quasi-random":
        return difference_of_replicates(table, level)
    both, mine, theirs, neither = map(int, table.sum(axis=0))
    return paired_difference(both, mine, theirs, neither, level)


def summary_rows(scenario: Scenario, tally: Tally, *, overall: bool = False) -> Iterator[Row]:
    """Counts and shares by policy, return direction, shot and lane, ``all`` included.

    With ``overall`` a row a policy: everything together.
    """
    sampling = scenario.run.sampling
    all_fates = _with_totals(tally.fates, 3)
    for p, policy in enumerate(scenario.policies):
        all_outcomes = _with_totals(tally.outcomes[:, p], 3)
        all_players = _with_totals(tally.by_player[:, p], 3)
        for d, direction in _with_all(scenario.return_of_serve.directions, overall=overall):
            for s, shot in _with_all(SHOTS, overall=overall):
                for n, lane in _with_all(LANES, overall=overall):
                    fates, outcomes = all_fates[:, d, s, n], all_outcomes[:, d, s, n]
                    players = all_players[:, d, s, n].sum(axis=0)
                    net, out, in_play = fates.sum(axis=0)
                    through, stretched, control = outcomes.sum(axis=0)
                    trials, in_control = fates[:, IN_PLAY], outcomes[:, IN_CONTROL]
                    reached = outcomes[:, AT_FULL_STRETCH] + in_control
                    yield {
                        "policy": policy.name,
                        "return_direction": direction,
                        "shot": shot,
                        "lane": lane,
                        "shots": int(net + out + in_play),
                        "net": int(net),
                        "out": int(out),
                        "in_play": int(in_play),
                        "reached": int(control + stretched),
                        "in_control": int(control),
                        "at_full_stretch": int(stretched),
                        "through": int(through),
                        **share_columns("reached", reached, trials, sampling),
                        **share_columns("in_control", in_control, trials, sampling),
                        "reached_by_left": int(players[0]),
                        "reached_by_right": int(players[1]),
                        "in_control_by_both": int(players[2]),
                    }


def verdicts(comparisons: Sequence[np.ndarray], sampling: Sampling) -> list[str]:
    """What each of several comparisons lets one say, all of them together at 95 %.

    A comparison is a table of pairs by replicate, shape (replicates, 4).
    """
    told = told_apart([partial(_difference, pairs, sampling) for pairs in comparisons])
    together = adjusted(len(comparisons))
    return [
        verdict(*_difference(pairs, sampling, together), told=apart)
        for pairs, apart in zip(comparisons, told, strict=True)
    ]


def verdict(difference: float, low: float, high: float, *, told: bool) -> str:
    """A verdict from an interval, and from whether the difference is told from zero.

    >>> verdict(0.03, 0.02, 0.04, told=True), verdict(0.0, -0.001, 0.0015, told=False)
    ('more', 'no difference larger than 0.2 points')
    >>> verdict(0.01, -0.01, 0.03, told=False)
    'cannot tell yet'
    """
    if told:
        return "more" if difference > 0.0 else "fewer"
    largest = 100.0 * max(-low, high)
    for bound in NO_DIFFERENCE_LARGER_THAN:
        if largest <= bound:
            return f"{NO_LARGER} {bound} points"
    return CANNOT_TELL


def difference_rows(scenario: Scenario, tally: Tally, *, overall: bool = False) -> Iterator[Row]:
    """Paired differences of every policy to the baseline; verdicts hold for all policies at once.

    ``overall`` as in `summary_rows`.
    """
    sampling = scenario.run.sampling
    others = [p for p, policy in enumerate(scenario.policies) if policy is not scenario.baseline]
    all_pairs = {p: _with_totals(tally.pairs[:, p], 2) for p in others}
    comparisons = {
        (direction, shot, measure): [all_pairs[p][:, d, s, k] for p in others]
        for d, direction in _with_all(scenario.return_of_serve.directions, overall=overall)
        for s, shot in _with_all(SHOTS, overall=overall)
        for k, measure in enumerate(MEASURES)
    }
    said = {cell: verdicts(pairs, sampling) for cell, pairs in comparisons.items()}
    for index, p in enumerate(others):
        for (direction, shot, measure), pairs in comparisons.items():
            both, mine, theirs, neither = map(int, pairs[index].sum(axis=0))
            difference, low, high = _difference(pairs[index], sampling)
            yield {
                "policy": scenario.policies[p].name,
                "baseline": scenario.baseline.name,
                "return_direction": direction,
                "shot": shot,
                "measure": measure,
                "in_play": both + mine + theirs + neither,
                "both": both,
                "only_policy": mine,
                "only_baseline": theirs,
                "neither": neither,
                "points": 100.0 * difference,
                "points_low": 100.0 * low,
                "points_high": 100.0 * high,
                "verdict": said[direction, shot, measure][index],
            }


def leak_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Where balls got through."""
    all_fates = _with_totals(tally.fates, 3)
    for p, policy in enumerate(scenario.policies):
        all_leaks = _with_totals(tally.leaks[:, p], 2)
        for d, direction in _with_all(scenario.return_of_serve.directions):
            for s, shot in _with_all(SHOTS):
                in_play, leaks = all_fates[:, d, s, 0, IN_PLAY], all_leaks[:, d, s]
                for k, leak in enumerate(LEAKS):
                    yield {
                        "policy": policy.name,
                        "return_direction": direction,
                        "shot": shot,
                        "leak": leak,
                        "balls": int(leaks[:, k].sum()),
                        "in_play": int(in_play.sum()),
                        **share_columns("leak", leaks[:, k], in_play, scenario.run.sampling),
                    }


def lateral_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Shares by where the ball passes a step behind the non-volley line."""
    sampling = scenario.run.sampling
    for p, policy in enumerate(scenario.policies):
        all_counts = _with_totals(tally.lateral[:, p], 1)
        for d, direction in _with_all(scenario.return_of_serve.directions):
            counts = all_counts[:, d]
            for column, (from_, to) in enumerate(pairwise(LATERAL_EDGES)):
                outcomes = counts[:, column]
                in_play, control = outcomes.sum(axis=1), outcomes[:, IN_CONTROL]
                reached = outcomes[:, AT_FULL_STRETCH] + control
                yield {
                    "policy": policy.name,
                    "return_direction": direction,
                    "x_from_ft": float(from_),
                    "x_to_ft": float(to),
                    "in_play": int(in_play.sum()),
                    "reached": int(reached.sum()),
                    "in_control": int(control.sum()),
                    **share_columns("reached", reached, in_play, sampling),
                    **share_columns("in_control", control, in_play, sampling),
                }


_RUN_IN_COLUMNS: Final = {
    "left_arrived": "left_arrived_share",
    "right_arrived": "right_arrived_share",
    "left_depth": "left_depth_ft",
    "right_depth": "right_depth_ft",
    "spacing": "spacing_ft",
    "narrowest": "narrowest_ft",
    "widest": "widest_ft",
    "contact_time": "contact_time_s",
}


def run_in_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Where the shot finds the two, and their spacing along the way; means over balls in play."""
    for p, policy in enumerate(scenario.policies):
        for d, direction in enumerate(scenario.return_of_serve.directions):
            balls = tally.fates[:, d, :, :, IN_PLAY].sum(axis=(1, 2))
            row: Row = {
                "policy": policy.name,
                "return_direction": direction,
                "in_play": int(balls.sum()),
            }
            for k, name in enumerate(ON_THE_WAY):
                column = _RUN_IN_COLUMNS[name]
                mean, low, high = mean_of_replicates(tally.on_the_way[:, p, d, k], balls)
                row |= {column: mean, f"{column}_low": low, f"{column}_high": high}
            yield row


SHOT_COLUMNS: Final = [
    "shot_number",
    "return_direction",
    "policy",
    "shot",
    "lane",
    "contact_time_s",
    "contact_x_ft",
    "contact_y_ft",
    "contact_z_ft",
    "net_clearance_ft",
    "outcome",
    "leak",
    "player",
    "hit_time_s",
    "hit_x_ft",
    "hit_y_ft",
    "hit_z_ft",
    "hand",
    "taken",
    "both_in_control",
    "left_x_ft",
    "left_y_ft",
    "left_spare_s",
    "right_x_ft",
    "right_y_ft",
    "right_spare_s",
]


def rows_of_shots(
    scenario: Scenario, rally: Rally, policy: Policy, answer: Answer, first: int
) -> list[Row]:
    """A row for every shot of a block against one policy; ``first`` shots went before it."""
    detail = details(scenario, rally, policy, answer)
    in_play = {int(shot): index for index, shot in enumerate(rally.in_play)}
    contact, third_shot, fates = rally.contact, rally.third_shot, rally.fate
    rows = []
    for shot in range(fates.size):
        row: Row = {
            "shot_number": first + shot + 1,
            "return_direction": rally.direction,
            "policy": policy.name,
            "shot": SHOTS[third_shot.shot[shot]],
            "lane": LANES[third_shot.lane[shot]],
            "contact_time_s": float(contact.time[shot]),
            "contact_x_ft": float(contact.x[shot]),
            "contact_y_ft": float(contact.y[shot]),
            "contact_z_ft": float(contact.z[shot]),
            "net_clearance_ft": float(rally.net_clearance[shot]),
            "outcome": FATES[fates[shot]],
            "leak": "",
            "player": "",
        }
        index = in_play.get(shot)
        if index is not None:
            row |= _answer_columns(answer, detail, index)
        rows.append(row)
    return rows


def _answer_columns(answer: Answer, detail: Detail, index: int) -> Row:
    leak, player = int(answer.leak[index]), int(detail.player[index])
    control = bool(answer.in_control[index])
    outcome = "in control" if control else "at full stretch" if player >= 0 else "through"
    columns: Row = {
        "outcome": outcome,
        "leak": LEAKS[leak] if leak >= 0 else "",
        "player": PLAYERS[player] if player >= 0 else "",
        "hit_time_s": float(detail.time[index]),
        "hit_x_ft": float(detail.x[index]),
        "hit_y_ft": float(detail.y[index]),
        "hit_z_ft": float(detail.z[index]),
        "hand": "" if player < 0 else "forehand" if detail.forehand[index] else "backhand",
        "taken": "" if player < 0 else "volley" if detail.volley[index] else "after the bounce",
        "both_in_control": bool(answer.control["left"][index] & answer.control["right"][index]),
    }
    for name in PLAYERS:
        columns[f"{name}_x_ft"] = float(answer.places[name].x[index])
        columns[f"{name}_y_ft"] = float(answer.places[name].y[index])
        columns[f"{name}_spare_s"] = float(detail.spare[name][index])
    return columns
