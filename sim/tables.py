"""Tidy tables of a run: rows as plain dictionaries, one fact a column, lengths in ft."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, Final

import numpy as np

from sim.answers import LEAKS, Answer, Detail, details
from sim.opponents import LANES, SHOTS
from sim.rallies import FATES, IN_PLAY, NET, OUT, Rally
from sim.run_in import PLAYERS
from sim.scenario import Policy, Scenario
from sim.statistics import paired_difference, wilson
from sim.tally import LATERAL_EDGES, MEASURES, ON_THE_WAY, Tally

Row = dict[str, Any]

_ALL: Final = "all"


def _with_all(names: Sequence[str]) -> list[tuple[str, slice | int]]:
    return [(_ALL, slice(None)), *((name, index) for index, name in enumerate(names))]


def _total(counts: np.ndarray, *chosen: slice | int) -> np.ndarray:
    """Sum the counts over the leading axes, each at an index or in all."""
    for index in chosen:
        counts = counts.sum(axis=0) if isinstance(index, slice) else counts[index]
    return counts


def _share(name: str, hits: int, trials: int) -> Row:
    if trials == 0:
        return {f"{name}_share": math.nan, f"{name}_low": math.nan, f"{name}_high": math.nan}
    low, high = wilson(hits, trials)
    return {f"{name}_share": hits / trials, f"{name}_low": low, f"{name}_high": high}


def summary_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Counts and shares by policy, return direction, shot and lane, ``all`` included."""
    for p, policy in enumerate(scenario.policies):
        for direction, d in _with_all(scenario.return_of_serve.directions):
            for shot, s in _with_all(SHOTS):
                for lane, n in _with_all(LANES):
                    fates = _total(tally.fates, d, s, n)
                    through, stretched, control = map(int, _total(tally.outcomes[p], d, s, n))
                    left, right, both = map(int, _total(tally.by_player[p], d, s, n))
                    in_play = int(fates[IN_PLAY])
                    yield {
                        "policy": policy.name,
                        "return_direction": direction,
                        "shot": shot,
                        "lane": lane,
                        "shots": int(fates.sum()),
                        "net": int(fates[NET]),
                        "out": int(fates[OUT]),
                        "in_play": in_play,
                        "reached": control + stretched,
                        "in_control": control,
                        "at_full_stretch": stretched,
                        "through": through,
                        **_share("reached", control + stretched, in_play),
                        **_share("in_control", control, in_play),
                        "reached_by_left": left,
                        "reached_by_right": right,
                        "in_control_by_both": both,
                    }


def verdict(low: float, high: float) -> str:
    """What the interval of a paired difference lets one say."""
    if low > 0.0:
        return "more"
    if high < 0.0:
        return "fewer"
    return "cannot tell"


def difference_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Paired differences of every policy to the baseline."""
    for p, policy in enumerate(scenario.policies):
        if policy is scenario.baseline:
            continue
        for direction, d in _with_all(scenario.return_of_serve.directions):
            for shot, s in _with_all(SHOTS):
                for k, measure in enumerate(MEASURES):
                    table = [int(value) for value in _total(tally.pairs[p], d, s)[k]]
                    both, mine, theirs, neither = table
                    difference, low, high = paired_difference(*table)
                    yield {
                        "policy": policy.name,
                        "baseline": scenario.baseline.name,
                        "return_direction": direction,
                        "shot": shot,
                        "measure": measure,
                        "in_play": sum(table),
                        "both": both,
                        "only_policy": mine,
                        "only_baseline": theirs,
                        "neither": neither,
                        "points": 100.0 * difference,
                        "points_low": 100.0 * low,
                        "points_high": 100.0 * high,
                        "verdict": verdict(low, high),
                    }


def leak_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Where balls got through."""
    for p, policy in enumerate(scenario.policies):
        for direction, d in _with_all(scenario.return_of_serve.directions):
            for shot, s in _with_all(SHOTS):
                in_play = int(_total(tally.outcomes[p].sum(axis=2), d, s).sum())
                for leak, balls in zip(LEAKS, _total(tally.leaks[p], d, s), strict=True):
                    yield {
                        "policy": policy.name,
                        "return_direction": direction,
                        "shot": shot,
                        "leak": leak,
                        "balls": int(balls),
                        "in_play": in_play,
                        **_share("leak", int(balls), in_play),
                    }


def lateral_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Shares by where the ball passes a step behind the non-volley line."""
    for p, policy in enumerate(scenario.policies):
        for direction, d in _with_all(scenario.return_of_serve.directions):
            for bin_, (from_, to) in enumerate(pairwise(LATERAL_EDGES)):
                _, stretched, control = counts = _total(tally.lateral[p], d)[bin_]
                in_play = int(counts.sum())
                yield {
                    "policy": policy.name,
                    "return_direction": direction,
                    "x_from_ft": float(from_),
                    "x_to_ft": float(to),
                    "in_play": in_play,
                    "reached": int(stretched + control),
                    "in_control": int(control),
                    **_share("reached", int(stretched + control), in_play),
                    **_share("in_control", int(control), in_play),
                }


def run_in_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    """Where the shot finds the two, and their spacing along the way."""
    for p, policy in enumerate(scenario.policies):
        for d, direction in enumerate(scenario.return_of_serve.directions):
            balls = int(tally.outcomes[p, d].sum())
            means = tally.on_the_way[p, d] / balls if balls else np.full(len(ON_THE_WAY), math.nan)
            mean = dict(zip(ON_THE_WAY, map(float, means), strict=True))
            yield {
                "policy": policy.name,
                "return_direction": direction,
                "in_play": balls,
                "left_arrived_share": mean["left_arrived"],
                "right_arrived_share": mean["right_arrived"],
                "left_depth_ft": mean["left_depth"],
                "right_depth_ft": mean["right_depth"],
                "spacing_ft": mean["spacing"],
                "narrowest_ft": mean["narrowest"],
                "widest_ft": mean["widest"],
                "contact_time_s": mean["contact_time"],
            }


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
