"""Section 6 of the model page, "Run-in".

Each player runs straight to the target and stops there
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tests.reference.court import Vec2

RETURNER_DELAY = 0.30  # s from the return strike to the first step
PARTNER_DELAY = 0.25
RUNNING_PENALTY = 0.104  # s added to the reaction of a player who did not split-step


@dataclass(frozen=True)
class Player:
    """One player of the pair.

    Attributes:
        height: stature (ft).
        V: top running speed forwards (ft/s).
        tau: time constant of the run (s).
        right_handed: True for a right-handed player.
        full_stretch: flat distance from the standing mark to the racket tip at full lunge (ft).
        lateral: running speed sideways as a part of the speed forwards.
        back: running speed backwards as a part of the speed forwards.
        bend: how far the shoulder can be lowered for a low ball (ft).
        backhand: arm and racket length on the backhand as a part of the forehand's.
    """

    height: float
    V: float
    tau: float
    right_handed: bool
    full_stretch: float
    lateral: float = 0.85
    back: float = 0.65
    bend: float = 1.2
    backhand: float = 0.92


def run_distance(q: float, player: Player) -> float:
    """Distance (ft) run straight forwards ``q`` seconds after the start; 0 for ``q <= 0``."""
    if q <= 0.0:
        return 0.0
    return player.V * (q - player.tau * (1.0 - math.exp(-q / player.tau)))


def forward_equivalent(dx: float, dy: float, player: Player) -> float:
    """Length (ft) of a forward run that takes as long as a run by ``(dx, dy)`` (ft)."""
    along = 1.0 if dy > 0.0 else player.back
    return math.hypot(dx / player.lateral, dy / along)


def run_towards(start: Vec2, goal: Vec2, s: float, player: Player) -> Vec2:
    """Position (ft) after a straight run to ``goal``, stopping there, with ``s`` feet forwards."""
    dx, dy = goal[0] - start[0], goal[1] - start[1]
    length = forward_equivalent(dx, dy, player)
    if length <= s:
        return goal
    return start[0] + dx * s / length, start[1] + dy * s / length


def run_in(
    start: Vec2,
    target: Vec2,
    T: float,
    player: Player,
    *,
    delay: float,
    split_step: bool,
    settle: float = 0.15,
) -> Vec2:
    """Position (ft) of a player at the opponents' contact.

    Args:
        start: position at the return strike (ft).
        target: where the player is going (ft).
        T: time of the opponents' contact since the return strike (s).
        player: who runs.
        delay: when the run starts (s); 0.30 for the returner and 0.25 for the partner.
        split_step: True for a player who has settled ``settle`` seconds before ``T``.
        settle: how long before ``T`` (s).
    """
    stop = T - settle if split_step else T
    return run_towards(start, target, run_distance(max(0.0, stop - delay), player), player)
