"""Comparing policies: a run's counts, and the tidy tables made of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from sim.court import HALF_WIDTH
from sim.engine import (
    BLOCK,
    FATES,
    IN_PLAY,
    LEAKS,
    NET,
    OUT,
    Answer,
    Rally,
    answer_all,
    details,
    passing,
    play,
)
from sim.run_in import PLAYERS, Place, places_at, targets
from sim.scenario import LANES, SHOTS, Policy, Scenario
from sim.statistics import paired_difference, wilson

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]

THROUGH, AT_FULL_STRETCH, IN_CONTROL = range(3)
MEASURES: Final = ("reached", "in_control")
# Lateral position is where the ball passes this depth (ft): a step behind the line.
PASSING_DEPTH: Final = 8.0
LATERAL_EDGES: Final = np.arange(-HALF_WIDTH, HALF_WIDTH + 0.5, 1.0)
_ALL: Final = "all"
_INSTANTS_ON_THE_WAY: Final = np.linspace(0.0, 1.0, 9)
_ARRIVED_WITHIN: Final = 0.05


@dataclass
class Tally:
    """Counts of a run; tallies of different blocks add up.

    First axes: policy (where there is one), return direction, kind of shot, lane. ``pairs`` counts
    each measure's two-by-two table against the baseline in the order both, only the policy, only
    the baseline, neither.
    """

    fates: np.ndarray
    outcomes: np.ndarray
    by_player: np.ndarray
    pairs: np.ndarray
    leaks: np.ndarray
    lateral: np.ndarray
    on_the_way: np.ndarray

    @classmethod
    def empty(cls, policies: int, directions: int) -> Tally:
        size = policies, directions, len(SHOTS), len(LANES)
        return cls(
            fates=np.zeros((*size[1:], len(FATES)), np.int64),
            outcomes=np.zeros((*size, 3), np.int64),
            by_player=np.zeros((*size, 3), np.int64),
            pairs=np.zeros((policies, directions, len(SHOTS), len(MEASURES), 4), np.int64),
            leaks=np.zeros((policies, directions, len(SHOTS), len(LEAKS)), np.int64),
            lateral=np.zeros((policies, directions, LATERAL_EDGES.size - 1, 3), np.int64),
            on_the_way=np.zeros((policies, directions, len(_ON_THE_WAY))),
        )

    def add(self, other: Tally) -> None:
        """Add another tally of the same shape to this one."""
        for name in vars(self):
            getattr(self, name)[...] += getattr(other, name)


_ON_THE_WAY: Final = (
    "left_arrived",
    "right_arrived",
    "left_depth",
    "right_depth",
    "spacing",
    "narrowest",
    "widest",
    "contact_time",
)


@dataclass(frozen=True)
class Example:
    """The first block of one return direction, kept for pictures."""

    rally: Rally
    answers: list[Answer]


@dataclass(frozen=True)
class Comparison:
    """A finished run: the scenario, its counts and the first block of shots."""

    scenario: Scenario
    tally: Tally
    examples: dict[str, Example] = field(repr=False)

    @cached_property
    def summary_rows(self) -> list[Row]:
        """Counts and shares by policy, return direction, shot and lane, ``all`` included."""
        return list(_summary_rows(self.scenario, self.tally))

    @cached_property
    def difference_rows(self) -> list[Row]:
        """Paired differences of every policy to the baseline."""
        return list(_difference_rows(self.scenario, self.tally))

    @cached_property
    def leak_rows(self) -> list[Row]:
        """Where balls got through."""
        return list(_leak_rows(self.scenario, self.tally))

    @cached_property
    def lateral_rows(self) -> list[Row]:
        """Shares by where the ball passes a step behind the non-volley line."""
        return list(_lateral_rows(self.scenario, self.tally))

    @cached_property
    def run_in_rows(self) -> list[Row]:
        """Where the shot finds the two, and their spacing along the way."""
        return list(_run_in_rows(self.scenario, self.tally))

    @property
    def summary(self) -> pd.DataFrame:
        """`summary_rows` as a frame."""
        return _frame(self.summary_rows)

    @property
    def differences(self) -> pd.DataFrame:
        """`difference_rows` as a frame."""
        return _frame(self.difference_rows)

    @property
    def leaks(self) -> pd.DataFrame:
        """`leak_rows` as a frame."""
        return _frame(self.leak_rows)

    @property
    def lateral(self) -> pd.DataFrame:
        """`lateral_rows` as a frame."""
        return _frame(self.lateral_rows)

    @property
    def run_in(self) -> pd.DataFrame:
        """`run_in_rows` as a frame."""
        return _frame(self.run_in_rows)

    @property
    def shots(self) -> pd.DataFrame:
        """Every shot of the run and every policy, one row each; the run is played once more."""
        return _frame([row for rows in shot_rows(self.scenario) for row in rows])


def _frame(rows: list[Row]) -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame(rows)


def compare(
    scenario: Scenario, progress: Callable[[int, int], None] = lambda done, total: None
) -> Comparison:
    """Play all shots of a scenario against all its policies.

    ``progress`` is called with the blocks done and the blocks in all.
    """
    directions = scenario.return_of_serve.directions
    tally = Tally.empty(len(scenario.policies), len(directions))
    examples: dict[str, Example] = {}
    blocks = list(_blocks(scenario.run.shots))
    total = len(blocks) * len(directions)
    for replicate, shots in blocks:
        for place, direction in enumerate(directions):
            rally = play(scenario, direction, replicate, shots)
            answers = answer_all(scenario, rally, scenario.policies)
            tally.add(count(scenario, rally, answers, place, len(directions)))
            if replicate == 0:
                examples[direction] = Example(rally, answers)
            progress(replicate * len(directions) + place + 1, total)
    return Comparison(scenario, tally, examples)


def shot_rows(scenario: Scenario) -> Iterator[list[Row]]:
    """Rows of every shot and policy, a block at a time."""
    for replicate, shots in _blocks(scenario.run.shots):
        for direction in scenario.return_of_serve.directions:
            rally = play(scenario, direction, replicate, shots)
            answers = answer_all(scenario, rally, scenario.policies)
            for policy, answer in zip(scenario.policies, answers, strict=True):
                yield _shot_rows(scenario, rally, policy, answer, replicate * BLOCK)


def _blocks(shots: int) -> Iterator[tuple[int, int]]:
    for replicate in range(math.ceil(shots / BLOCK)):
        yield replicate, min(BLOCK, shots - replicate * BLOCK)


def count(
    scenario: Scenario, rally: Rally, answers: list[Answer], place: int, directions: int
) -> Tally:
    """Count one block of one return direction (the ``place``-th of ``directions``)."""
    tally = Tally.empty(len(answers), directions)
    shot, lane = rally.third_shot.shot, rally.third_shot.lane
    np.add.at(tally.fates[place], (shot, lane, rally.fate), 1)
    shot, lane = shot[rally.in_play], lane[rally.in_play]
    x, _, _ = passing(rally, np.arange(shot.size), np.full(shot.size, -PASSING_DEPTH))
    lateral = np.clip(
        np.searchsorted(LATERAL_EDGES, x, side="right") - 1, 0, LATERAL_EDGES.size - 2
    )
    baseline = answers[scenario.policies.index(scenario.baseline)]
    for index, (policy, answer) in enumerate(zip(scenario.policies, answers, strict=True)):
        outcome = np.select([answer.in_control, answer.reached], [IN_CONTROL, AT_FULL_STRETCH])
        np.add.at(tally.outcomes[index, place], (shot, lane, outcome), 1)
        np.add.at(tally.lateral[index, place], (lateral, outcome), 1)
        both = answer.control["left"] & answer.control["right"]
        for k, hit in enumerate((answer.stretch["left"], answer.stretch["right"], both)):
            np.add.at(tally.by_player[index, place], (shot[hit], lane[hit], k), 1)
        for k, (mine, theirs) in enumerate(
            ((answer.reached, baseline.reached), (answer.in_control, baseline.in_control))
        ):
            np.add.at(tally.pairs[index, place], (shot, k, 2 * ~mine + ~theirs), 1)
        missed = answer.leak >= 0
        np.add.at(tally.leaks[index, place], (shot[missed], answer.leak[missed]), 1)
        tally.on_the_way[index, place] = _on_the_way(scenario, rally, policy, answer.places)
    return tally


def _on_the_way(
    scenario: Scenario, rally: Rally, policy: Policy, places: dict[str, Place]
) -> np.ndarray:
    """Sums over the shots in play of what `_ON_THE_WAY` names."""
    contact = rally.contact.take(rally.in_play)
    goals = targets(scenario, policy, rally.direction, contact)
    spacings = []
    for share in _INSTANTS_ON_THE_WAY[:-1]:
        there = places_at(scenario, policy, goals, share * contact.time)
        spacings.append(_spacing(there))
    spacings.append(_spacing(places))
    left, right = places["left"], places["right"]
    return np.array(
        [
            *(
                np.sum(
                    np.hypot(places[name].x - goals[name].x, places[name].y - goals[name].y)
                    < _ARRIVED_WITHIN
                )
                for name in PLAYERS
            ),
            -np.sum(left.y),
            -np.sum(right.y),
            np.sum(spacings[-1]),
            np.sum(np.min(spacings, axis=0)),
            np.sum(np.max(spacings, axis=0)),
            np.sum(contact.time),
        ]
    )


def _spacing(places: dict[str, Place]) -> np.ndarray:
    left, right = places["left"], places["right"]
    return np.hypot(right.x - left.x, right.y - left.y)


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


def _summary_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
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


def _difference_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
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


def _leak_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
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


def _lateral_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
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


def _run_in_rows(scenario: Scenario, tally: Tally) -> Iterator[Row]:
    for p, policy in enumerate(scenario.policies):
        for d, direction in enumerate(scenario.return_of_serve.directions):
            balls = int(tally.outcomes[p, d].sum())
            means = tally.on_the_way[p, d] / balls if balls else np.full(len(_ON_THE_WAY), math.nan)
            mean = dict(zip(_ON_THE_WAY, map(float, means), strict=True))
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


def _shot_rows(
    scenario: Scenario, rally: Rally, policy: Policy, answer: Answer, first: int
) -> list[Row]:
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


def _answer_columns(answer: Answer, detail: Any, index: int) -> Row:
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
