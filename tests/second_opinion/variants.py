"""Scenarios made to put every rule, kind of shot and setting to the question."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from sim.answers import LEAKS, Answer
from sim.opponents import SHOTS
from sim.scenario import RETURN_DIRECTIONS, Scenario
from tests.second_opinion.shots import Block, Question, Shot, in_turns

SEED = 20
BLOCK = 320
POLICIES: list[dict[str, Any]] = [
    {"name": "follow", "rule": "follow"},
    {"name": "tethered", "rule": "tethered"},
    {"name": "halves", "rule": "halves"},
    {"name": "centre", "rule": "centre", "spacing": "6 ft"},
    {"name": "bisect", "rule": "bisect", "depth": "10 ft"},
    {
        "name": "fixed",
        "rule": "fixed",
        "centres": {"line": "3 ft", "middle": "-1 ft", "cross": "-9 ft"},
    },
    {
        "name": "best",
        "rule": "best",
        "places": {
            "line": {
                "left": {"from_centre": "-6.5 ft", "depth": "19 ft"},
                "right": {"from_centre": "4.5 ft", "depth": "21 ft"},
            },
            "middle": {
                "left": {"from_centre": "-5 ft", "depth": "9 ft"},
                "right": {"from_centre": "3.5 ft", "depth": "16 ft"},
            },
            "cross": {
                "left": {"from_centre": "0 ft", "depth": "7 ft"},
                "right": {"from_centre": "10 ft", "depth": "12.25 ft"},
            },
        },
    },
    {"name": "stay back", "rule": "centre", "depth": "22 ft", "spacing": "10 ft"},
    {"name": "one up one back", "rule": "centre", "returner_depth": "20 ft"},
    {"name": "keep running", "rule": "follow", "split_step": False},
    {"name": "keep running, halves", "rule": "halves", "depth": "7.5 ft", "split_step": False},
]
MIXED_SHOTS = {"drive": 45, "drop": 35, "lob": 20}
VARIANTS: dict[str, dict[str, Any]] = {
    "default": {},
    "odd side, left-handed and unequal": {
        "pair": {
            "left": {"height": "6 ft 1 in", "handed": "left", "age_group": "thirties"},
            "right": {"height": "5 ft 2 in", "full_stretch": "5 ft 4 in"},
        },
        "return_of_serve": {"side": "odd"},
        "opponents": {"shots": MIXED_SHOTS},
    },
    "level 5.0 indoors at altitude": {
        "opponents": {"level": "5.0", "shots": MIXED_SHOTS},
        "ball": {"kind": "indoor"},
        "air": {"altitude": "5000 ft"},
    },
    "partner at the line": {
        "run_in": {"partner_starts": "line"},
        "opponents": {"level": "4.0", "shots": MIXED_SHOTS},
    },
    "windy": {
        "opponents": {"shots": MIXED_SHOTS},
        "air": {"wind_from_behind": "6 mph", "wind_to_the_right": "4 mph"},
    },
    "drive azimuth given": {
        "opponents": {
            "level": "4.5",
            "shots": MIXED_SHOTS,
            "drive": {"azimuth": {"kind": "normal", "mean": "4 deg", "sd": "6 deg"}},
        },
    },
    "over seventy against lobs": {
        "pair": {
            "left": {"height": "5 ft 3 in", "age_group": "seventies"},
            "right": {"age_group": "seventies", "handed": "left"},
        },
        "opponents": {"level": "3.0", "shots": {"drive": 20, "drop": 20, "lob": 60}},
    },
}
# Hard drives to aim, but too one-sided for the questions that all variants are asked.
EXTREMES: dict[str, dict[str, Any]] = {
    "gale": {
        "opponents": {"level": "3.0", "shots": {"drive": 100, "drop": 0, "lob": 0}},
        "air": {"wind_from_behind": "15 mph", "wind_to_the_right": "15 mph"},
    },
}


@cache
def block_of(variant: str, direction: str) -> Block:
    """The first shots of a variant after returns in one direction."""
    settings = (VARIANTS | EXTREMES)[variant]
    data = {"name": variant, "policies": POLICIES, "run": {"seed": SEED}} | settings
    return Block(Scenario.model_validate(data), direction, BLOCK)


def blocks_of(variant: str) -> list[Block]:
    """A block for each return direction."""
    return [block_of(variant, direction) for direction in RETURN_DIRECTIONS]


def shots_of(variant: str, count: int, *, in_play: bool = False) -> list[Shot]:
    """The first ``count`` shots of a variant, taking turns in return direction and kind of shot."""
    queues = []
    for block in blocks_of(variant):
        numbers = block.rally.in_play if in_play else range(BLOCK)
        kinds = block.rally.third_shot.shot
        for kind in range(len(SHOTS)):
            queues.append([Shot(block, int(i)) for i in numbers if kinds[i] == kind])
    return in_turns(queues, count)


def outcomes_of(answer: Answer) -> list[str]:
    """What comes of each shot in play: who reaches it and how well, or where it leaks."""
    both = answer.control["left"] & answer.control["right"]
    reached = np.select([both, answer.in_control], ["both", "one"], "stretch")
    return [LEAKS[i] if i >= 0 else how for i, how in zip(answer.leak, reached, strict=True)]


def questions_of(variant: str, count: int) -> list[Question]:
    """Shots in play, each with the number of a policy, taking turns in what comes of them."""
    queues: dict[str, list[Question]] = {}
    for block in blocks_of(variant):
        for number, answer in enumerate(block.answers):
            for i, outcome in zip(block.rally.in_play, outcomes_of(answer), strict=True):
                queues.setdefault(outcome, []).append((Shot(block, int(i)), number))
    # Shuffled, so that directions, kinds of shot and policies mix within each queue.
    shuffled = np.random.default_rng(list(VARIANTS).index(variant))
    return in_turns(
        [[queue[i] for i in shuffled.permutation(len(queue))] for queue in queues.values()], count
    )


every_variant = pytest.mark.parametrize("variant", VARIANTS)


def quick_or_many(few: int, many: int) -> pytest.MarkDecorator:
    """So many shots of each variant always, and so many with ``-m slow``."""
    return pytest.mark.parametrize(
        "count",
        [pytest.param(few, id="quick"), pytest.param(many, id="many", marks=pytest.mark.slow)],
    )
