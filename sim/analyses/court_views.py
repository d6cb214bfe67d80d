"""One policy from above, after returns in one direction: what the pictures of it are made of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sim.answers import REACHED, Answer, answer_all, passing
from sim.blocks import OneAfterTheOther, Workers
from sim.comparison import Progress
from sim.court import Array
from sim.coverage import Fan, Outline, Point, coverage, fan_after, outlines, widest
from sim.draws import BLOCK
from sim.flight import time_falling_to
from sim.rallies import Rally, play
from sim.run_in import PLAYERS, Place, starts, targets
from sim.scenario import Policy, Scenario

# What may be left out of an outline (ft): a line on a picture of a court is thicker.
CLOSE_ENOUGH: Final = 0.03
# Places where balls got through that are kept for a page.
_MOST_THROUGH: Final = 40


@dataclass(frozen=True)
class PlayerView:
    """One player from above (ft): start, mean place where the shot finds them, and mean target.

    ``in_control`` and ``at_full_stretch`` are outlines of what is covered against typical drives;
    a point is inside where it is within an odd number of rings. What is covered at full stretch
    includes what is covered in control.
    """

    start: Point
    found: Point
    target: Point
    in_control: tuple[Outline, ...]
    at_full_stretch: tuple[Outline, ...]


@dataclass(frozen=True)
class CourtView:
    """A policy from above (ft) after returns in one direction.

    ``contact`` is the opponents' mean contact, ``widest`` the first and the last typical drive,
    from the contact on; without any that lands in, there are none, nor outlines. ``through`` holds
    where balls got through, shape (balls, 2), of ``missed`` that did among ``in_play``; ``landed``
    where these first bounce, of the same shape, and ``ways`` which way they went, as numbers of
    `sim.answers.LEAKS`.
    """

    contact: Point
    widest: tuple[tuple[Point, Point], ...]
    players: dict[str, PlayerView]
    through: Array
    landed: Array
    ways: np.ndarray
    missed: int
    in_play: int


def court_views(
    groups: Sequence[Scenario],
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> tuple[dict[str, CourtView], ...]:
    """All policies of several scenarios from above, after returns in each direction.

    A direction without a ball in play is left out. Outlines are `simplified`. The result does not
    depend on the workers.
    """
    workers = workers or OneAfterTheOther()
    tasks = [
        (number, group, direction)
        for number, group in enumerate(groups)
        for direction in group.return_of_serve.directions
    ]
    found: list[dict[str, list[CourtView]]] = [{} for _ in groups]
    work = [(group, direction) for _, group, direction in tasks]
    for done, (task, views) in enumerate(workers.run(views_of, work), 1):
        number, _, direction = tasks[task]
        found[number][direction] = views
        progress(Progress(done, len(tasks)))
    return tuple(
        {
            direction: views[direction][policy]
            for direction in group.return_of_serve.directions
            if views[direction]
        }
        for group, views in zip(groups, found, strict=True)
        for policy in range(len(group.policies))
    )


def views_of(scenario: Scenario, direction: str) -> list[CourtView]:
    """Every policy of a scenario from above, in order; nothing where no ball is in play."""
    rally = play(scenario, direction, 0, min(scenario.run.shots, BLOCK))
    if not rally.in_play.size:
        return []
    fan = fan_after(scenario, rally)
    answers = answer_all(scenario, rally, scenario.policies)
    return [
        simplified(court_view(scenario, policy, rally, answer, fan, _MOST_THROUGH))
        for policy, answer in zip(scenario.policies, answers, strict=True)
    ]


def court_view(
    scenario: Scenario, policy: Policy, rally: Rally, answer: Answer, fan: Fan, most: int
) -> CourtView:
    """What one policy looks like against the balls in play of a rally, of which there are some.

    ``answer`` is the policy's to the rally, which is after returns in one direction, ``fan`` the
    typical drives from its mean contact (`coverage.fan_after`). At most so many places where balls
    got through are kept.
    """
    contact = rally.contact.take(rally.in_play)
    goals = targets(scenario, policy, rally.direction, contact)
    found = {name: mean_place(answer.places[name]) for name in PLAYERS}
    covered = coverage(scenario, policy, fan, found)
    players = {
        name: PlayerView(
            start=start,
            found=found[name],
            target=mean_place(goals[name]),
            in_control=outlines(fan, covered.in_control[name]),
            at_full_stretch=outlines(fan, covered.at_full_stretch[name]),
        )
        for name, start in starts(scenario, policy).items()
    }
    shown = _shown(answer, most)
    return CourtView(
        contact=fan.contact[:2],
        widest=widest(fan),
        players=players,
        through=places_through(rally, answer, most),
        landed=np.column_stack((rally.rebound.origin_x[shown], rally.rebound.origin_y[shown])),
        ways=answer.leak[shown],
        missed=int(np.count_nonzero(answer.leak != REACHED)),
        in_play=rally.in_play.size,
    )


def mean_place(place: Place) -> Point:
    """The mean of a player's places over the shots (ft)."""
    return float(place.x.mean()), float(place.y.mean())


def places_through(rally: Rally, answer: Answer, most: int) -> Array:
    """Where (ft) balls that nobody reached passed the pair's mean depth, shape (balls, 2).

    Those that bounced twice before it are given at their second bounce. Of more than ``most`` such
    balls so many are taken, evenly spread over their numbers.
    """
    missed = _shown(answer, most)
    left, right = (answer.places[name].take(missed) for name in PLAYERS)
    depth = 0.5 * (left.y + right.y)
    x, _, arrived = passing(rally, missed, depth)
    rebound = rally.rebound.take(missed)
    _, second_bounce, _ = rebound.position(time_falling_to(rebound, 0.0))
    return np.column_stack((x, np.where(arrived, depth, second_bounce)))


def _shown(answer: Answer, most: int) -> np.ndarray:
    """At most so many of the shots in play that nobody reached."""
    return thinned(np.flatnonzero(answer.leak != REACHED), most)


def thinned(shots: np.ndarray, most: int) -> np.ndarray:
    """At most so many shots, evenly spread."""
    if shots.size <= most:
        return shots
    return shots[np.linspace(0, shots.size - 1, most).round().astype(int)]


def simplified(view: CourtView) -> CourtView:
    """The same view with outlines of fewer points, nowhere off by more than `CLOSE_ENOUGH`."""
    return replace(
        view,
        players={
            name: replace(
                player,
                in_control=tuple(map(fewer_points, player.in_control)),
                at_full_stretch=tuple(map(fewer_points, player.at_full_stretch)),
            )
            for name, player in view.players.items()
        },
    )


def fewer_points(ring: Outline, close: float = CLOSE_ENOUGH) -> Outline:
    """A closed ring without the points that are closer (ft) than that to the line through the rest.

    Between two points kept, the one farthest from the line between them is kept as well, until none
    is too far off. All stretches are looked at together.

    Source: D. H. Douglas and T. K. Peucker, Algorithms for the reduction of the number of points
    required to represent a digitized line or its caricature, Cartographica 10 (1973) 112 (memory).
    """
    last = len(ring) - 1
    kept = np.zeros(last + 1, bool)
    farthest = int(np.argmax(np.hypot(*(ring - ring[0]).T)))
    kept[[0, farthest, last]] = True
    while True:
        ends = np.flatnonzero(kept)
        off = _distances(ring, ends)
        worst = np.maximum.reduceat(off, ends[:-1])
        stretch = np.repeat(np.arange(worst.size), np.diff(ends))
        too_far = np.flatnonzero((off[:-1] == worst[stretch]) & (worst[stretch] > close))
        if not too_far.size:
            return ring[kept]
        kept[too_far] = True


def _distances(ring: Outline, ends: np.ndarray) -> Array:
    """How far (ft) each point of a ring is from the line between the kept points beside it.

    ``ends`` numbers the points kept, the first and the last of the ring among them.
    """
    sizes = np.diff(ends)
    from_, along = ring[ends[:-1]], np.diff(ring[ends], axis=0)
    length = np.maximum(np.square(along).sum(axis=1), 1e-12)
    from_, along, length = (np.repeat(part, sizes, axis=0) for part in (from_, along, length))
    away = ring[:-1] - from_
    share = np.clip((away * along).sum(axis=1) / length, 0.0, 1.0)
    off = np.hypot(*(away - share[:, None] * along).T)
    return np.append(off, 0.0)
