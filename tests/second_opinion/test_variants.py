"""What the bundled scenarios lack, from the random numbers to who takes the ball.

Wind, altitude, azimuths given directly, a left-handed pair, every rule.
"""

from __future__ import annotations

import pytest

from sim.answers import LEAKS
from sim.opponents import SHOTS
from sim.rallies import FATES
from tests.second_opinion.comparison import Comparison, compared, table
from tests.second_opinion.shots import Block, Shot
from tests.second_opinion.variants import POLICIES, VARIANTS, blocks_of, questions_of, shots_of

# A ball that is reached by less than both sides' methods tell may be answered either way; at most
# so many of the questions may be as close as that and differ.
MOST_CLOSE_CALLS = 0.005


@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize(
    "count", [pytest.param(1, id="quick"), pytest.param(45, id="many", marks=pytest.mark.slow)]
)
def test_from_the_start(variant: str, count: int) -> None:
    found = Comparison()
    for shot, number in questions_of(variant, count):
        found.add(compared(shot, [number], 60 if count == 1 else 400))
    assert found.asked["time to spare"] == 2 * count
    assert not found.unexplained, "\n".join(table(variant, found))
    assert len(found.differences) <= MOST_CLOSE_CALLS * found.asked.total()


def test_a_ball_that_turns_into_a_forehand_just_before_its_second_bounce() -> None:
    """Found by a dense search among 600,000 questions: in reach for the last 0.04 s only."""
    scenario = blocks_of("windy")[0].scenario
    stay_back = [policy["name"] for policy in POLICIES].index("stay back")
    shot = Shot(Block(scenario, "cross", 512), 505)
    found = compared(shot, [stay_back], 200)
    assert not found.unexplained, "\n".join(table("windy", found))


def test_the_variants_contain_what_they_are_for() -> None:
    """Capped drives, all kinds of shot, all fates and all leaks do come up."""
    capped = False
    fates, leaks, kinds = set(), set(), set()
    for variant in VARIANTS:
        for shot in shots_of(variant, 240):
            kinds.add((variant, shot.kind))
            fates.add(FATES[shot.block.rally.fate[shot.index]])
            if shot.kind == "drive" and not capped:
                capped = shot.launch(shot.block.intended).speed < shot.wishes["speed"] - 1e-6
        for block in blocks_of(variant):
            for answer in block.answers:
                leaks |= {LEAKS[i] for i in answer.leak if i >= 0}
    assert capped
    assert len(kinds) == len(VARIANTS) * len(SHOTS)
    assert fates == set(FATES)
    assert leaks == set(LEAKS)
