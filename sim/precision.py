"""Precision on request: how far a run has come, and how much more it needs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from sim.draws import BLOCK
from sim.errors import Refused
from sim.scenario import Scenario
from sim.tables import difference_rows, summary_rows
from sim.tally import Tally

# The first estimates of the scatter are rough: a look is planned before all of the shots that they
# ask for, and not too far ahead; near the goal, a little beyond it.
_FARTHEST_LOOK: Final = 4.0
_PART_OF_THE_WAY: Final = 0.6
_NEAR_THE_GOAL: Final = 2.0
_SPARE: Final = 1.05
# Points; as long as no shot was in play.
_NOTHING_KNOWN: Final = 100.0


@dataclass(frozen=True)
class Precision:
    """A wish: the 95 % intervals of the headline numbers no wider than ``points`` to either side.

    ``of`` names the numbers: every policy's difference to the baseline, or every policy's share,
    after all returns. ``most_shots`` for each return direction are played at most. Raises `Refused`
    where there is nothing to wish for.
    """

    points: float
    of: Literal["difference", "share"] = "difference"
    measure: Literal["in_control", "reached"] = "in_control"
    most_shots: int = 1_000_000

    def __post_init__(self) -> None:
        if not self.points > 0.0 or self.most_shots < 1:
            raise Refused(
                "--precision: must be a number of percentage points above zero, such as 0.25, and "
                "--max-shots at least 1"
            )

    def reached(self, scenario: Scenario, tally: Tally) -> float:
        """How far (points) the widest interval in question reaches to either side, so far."""
        m = self.measure
        if self.of == "difference" and len(scenario.policies) > 1:
            ends = [
                (row["points"], row["points_low"], row["points_high"])
                for row in difference_rows(scenario, tally, overall=True)
                if row["measure"] == m
            ]
        else:
            ends = [
                (100.0 * row[f"{m}_share"], 100.0 * row[f"{m}_low"], 100.0 * row[f"{m}_high"])
                for row in summary_rows(scenario, tally, overall=True)
            ]
        widths = [max(value - low, high - value) for value, low, high in ends]
        return _NOTHING_KNOWN if any(map(math.isnan, widths)) else max(widths)

    def shots_until_next_look(self, played: int, reached: float) -> int:
        """Shots for each return direction to have played at the next look; whole blocks.

        Depends on what was played and found, and never on time, so that a run resumed or shared
        among workers looks at the same moments.
        """
        needed = (reached / self.points) ** 2
        far = min(_PART_OF_THE_WAY * needed, _FARTHEST_LOOK)
        near = min(_SPARE * needed, _NEAR_THE_GOAL)
        blocks = max(math.ceil(played * max(far, near) / BLOCK), played // BLOCK + 1)
        return min(blocks * BLOCK, self.most_shots)
