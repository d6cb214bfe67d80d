"""All outside checks, in the order of the game: what is played first, then what is made of it."""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType

from tests.published import (
    test_aim,
    test_approach,
    test_ball_and_air,
    test_best_places,
    test_body,
    test_bounce,
    test_by_hand,
    test_court,
    test_covered_width,
    test_fit,
    test_flight,
    test_flight_integrated,
    test_games,
    test_normal,
    test_published_statistics,
    test_running,
    test_sensitivity,
    test_shot_shares,
    test_tactics,
)
from tests.published.check import Check, Property


@dataclass(frozen=True)
class Topic:
    name: str
    modules: tuple[ModuleType, ...]

    @property
    def checks(self) -> list[Check]:
        return [check for module in self.modules for check in module.CHECKS]

    @property
    def properties(self) -> list[Property]:
        return [held for module in self.modules for held in module.PROPERTIES]


TOPICS = (
    Topic("Court", (test_court,)),
    Topic("Ball and air", (test_ball_and_air,)),
    Topic("Flight", (test_flight, test_flight_integrated)),
    Topic("Bounce", (test_bounce,)),
    Topic("Running and reacting", (test_running, test_approach)),
    Topic("What opponents do", (test_shot_shares, test_aim)),
    Topic("Reach", (test_body, test_covered_width, test_by_hand)),
    Topic("Where to stand", (test_tactics, test_best_places)),
    Topic("Statistics", (test_normal, test_published_statistics)),
    Topic("Fits, games and doubt", (test_fit, test_games, test_sensitivity)),
)
CHECKS = [check for topic in TOPICS for check in topic.checks]
PROPERTIES = [held for topic in TOPICS for held in topic.properties]
