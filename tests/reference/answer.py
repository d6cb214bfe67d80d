"""Sections 12 and 13 of the model page: who takes the ball, and how.

**Who takes it**, in the list of shots: the player with more time to spare, at the instant that
leaves the most; with none in control, whoever has more reach left at full stretch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from tests.reference.court import Vec2
from tests.reference.leaks import leak_label
from tests.reference.reach import is_forehand, margin
from tests.reference.return_of_serve import Contact
from tests.reference.run_in import RUNNING_PENALTY, Player
from tests.reference.search import Instant, Sight, Value
from tests.reference.spare_time import in_control, time_needed

SHORTEST_REACTION = 0.12


@dataclass(frozen=True)
class Ready:
    """A player as the third shot finds them.

    Attributes:
        player: who.
        at: where they stand (ft).
        reaction: from the contact to the first step (s), lateness included.
    """

    player: Player
    at: Vec2
    reaction: float

    def margin(self, instant: Instant, stretched: bool) -> float:
        """Reach minus ground distance (ft) at one instant."""
        since = instant.time - self.reaction
        return margin(self.at, instant.ball_at, instant.volley, stretched, since, self.player)

    def forehand(self, instant: Instant) -> bool:
        """Whether the ball is on the forehand side of where the player stood."""
        return is_forehand(instant.ball_at[0], self.at[0], self.player)

    def spare(self, instant: Instant) -> float:
        """How much later (s) the reaction could come for control at this very instant."""
        needed = time_needed(self.at, instant.ball_at, instant.volley, self.player)
        return instant.time - self.reaction - needed

    def beats(self, instant: Instant, spare: float) -> bool:
        """Whether more than so much time (s) is to spare at this instant."""
        since = instant.time - self.reaction - spare
        return in_control(self.at, instant.ball_at, instant.volley, since, self.player)


@dataclass(frozen=True)
class Reach:
    """What one player can do about one ball in play.

    A margin is the greatest value over time of (reach - ground distance) in feet; minus infinity if
    the ball is never at a height that the player gets to.

    Attributes:
        control_margin: in control.
        stretch_margin: at full stretch.
        spare: how much later the player could have reacted and still have taken the ball in
            control (s); negative when it could not, minus infinity if no reaction would do.
    """

    control_margin: float
    stretch_margin: float
    spare: float

    @property
    def control(self) -> bool:
        """In control."""
        return self.control_margin >= 0.0

    @property
    def reached(self) -> bool:
        """In control or at full stretch: a ball in control always counts as reached."""
        return self.control or self.stretch_margin >= 0.0

    @property
    def claim(self) -> tuple[bool, bool, float]:
        """The player with the greater claim takes the ball."""
        return self.control, self.reached, self.spare if self.control else self.stretch_margin


def ready(player: Player, at: Vec2, reaction: float, split_step: bool) -> Ready:
    """A player as the shot finds them; ``reaction`` (s) is as drawn."""
    late = 0.0 if split_step else RUNNING_PENALTY
    return Ready(player, at, max(reaction, SHORTEST_REACTION) + late)


def reach_of(sight: Sight, who: Ready) -> Reach:
    """What one player can do about a ball in play."""
    turns = turns_of(sight, who)

    def greatest(value: Value) -> float:
        return max([sight.greatest(value), *(sight.closer(value, *turn) for turn in turns)])

    control = greatest(lambda instant: who.margin(instant, False))
    stretch = greatest(lambda instant: who.margin(instant, True))
    return Reach(control, stretch, most_spare(sight, who, turns))


def turns_of(sight: Sight, who: Ready) -> list[tuple[Instant, Instant]]:
    """Instants, one after the other, between which the ball changes from one hand to the other.

    There the reach jumps, and may be greatest just beside the jump.
    """
    return [
        (first, second)
        for instants in sight.stretches
        for first, second in pairwise(instants)
        if who.forehand(first) != who.forehand(second)
    ]


def most_spare(sight: Sight, who: Ready, turns: list[tuple[Instant, Instant]]) -> float:
    """The greatest time to spare (s) over all instants.

    An instant is worth a search of its own only if it beats the best so far: every twentieth is
    looked at first, so that few of the others do.
    """
    best, found = -math.inf, []
    for instants in sight.stretches:
        for i in sorted(range(len(instants)), key=lambda i: i % 20):
            # A reaction a thousand seconds earlier stands for one as early as you like.
            if who.beats(instants[i], max(best, -1e3)):
                best = who.spare(instants[i])
                around = instants[max(0, i - 1) : i + 2]
                found.append((around[0], around[-1]))
    for around in found[-5:] + turns:
        best = max(best, sight.closer(who.spare, *around))
    return best


def outcome_of(left: Reach, right: Reach) -> str:
    """``control``, ``stretch`` or ``through``: either player will do."""
    if left.control or right.control:
        return "control"
    return "stretch" if left.reached or right.reached else "through"


def leak_of(sight: Sight, contact: Contact, left: Ready, right: Ready) -> str:
    """Where the ball gets through if nobody reaches it."""
    return leak_label(sight.path, contact.X, left.at, right.at, left.player, right.player)
