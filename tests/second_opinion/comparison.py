"""A shot on both sides, from the random numbers to who takes the ball, and what differs.

The two sides share nothing but those numbers, but for the slowest drives (see `_intended`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from sim.answers import LEAKS, Detail
from sim.rallies import FATES
from sim.run_in import PLAYERS
from tests.reference import answer
from tests.reference.fate import fate_of
from tests.reference.launch import Launch
from tests.reference.reach import is_forehand
from tests.reference.search import Instant, Sight
from tests.second_opinion.agreement import (
    CLOSE_FROM_START,
    CONTACT_FEET,
    CONTACT_SECONDS,
    LAUNCH,
    SLOWEST_DRIVE,
    SPARE_SECONDS,
    STRETCH_FEET,
    leaks_close_by,
)
from tests.second_opinion.shots import Shot

# A place follows from the contact: its own tolerance, and what the fastest player runs, and the
# bisector moves, in those of the contact.
PLACE_FEET = 3.0 * CONTACT_FEET + 18.0 * CONTACT_SECONDS


@dataclass(frozen=True)
class Difference:
    """Two sides differ: by how much, and up to how much their methods explain it."""

    what: str
    where: str
    package: object
    reference: object
    margin: float
    explained_to: float

    @property
    def explained(self) -> bool:
        return abs(self.margin) <= self.explained_to

    def __str__(self) -> str:
        return (
            f"{self.where} {self.what}: package {self.package}, reference {self.reference}, "
            f"margin {self.margin:.2g}"
        )


@dataclass
class Comparison:
    """What was asked, by kind of question, and the answers that differ."""

    asked: Counter[str] = field(default_factory=Counter)
    widest: dict[str, float] = field(default_factory=dict)
    differences: list[Difference] = field(default_factory=list)

    def add(self, other: Comparison) -> None:
        self.asked += other.asked
        for what, gap in other.widest.items():
            self.widest[what] = max(gap, self.widest.get(what, 0.0))
        self.differences += other.differences

    def number(self, what: str, where: str, package: float, other: float, limit: float) -> None:
        """Two numbers that are to agree within a limit."""
        self.asked[what] += 1
        gap = 0.0 if package == other else abs(package - other)
        self.widest[what] = max(gap, self.widest.get(what, 0.0))
        if not gap <= limit:
            self.differences.append(Difference(what, where, package, other, gap, limit))

    def word(
        self, what: str, where: str, package: object, other: object, margin: float, limit: float
    ) -> None:
        """Two answers that are to agree unless the ball was within a limit of the other one."""
        self.asked[what] += 1
        if package != other:
            self.differences.append(Difference(what, where, package, other, margin, limit))

    @property
    def unexplained(self) -> list[Difference]:
        return [difference for difference in self.differences if not difference.explained]


def compared(shot: Shot, numbers: list[int], samples: int) -> Comparison:
    """One shot against some of the scenario's policies (by number)."""
    found, where = Comparison(), str(shot)
    mine, contact = shot.contact, shot.reference_contact
    found.number("contact time", where, mine.T, contact.T, CONTACT_SECONDS)
    for axis in "XYZ":
        gap = getattr(mine, axis), getattr(contact, axis)
        found.number(f"contact {axis}", where, *gap, CONTACT_FEET)
    launch = shot.struck(_intended(shot, found))
    fate = fate_of(contact, launch, shot.ball)
    package_fate = FATES[shot.block.rally.fate[shot.index]]
    found.word("net, out or in play", where, package_fate, fate.name, fate.room, CLOSE_FROM_START)
    if fate.net_clearance is not None:
        over = float(shot.block.rally.net_clearance[shot.index])
        found.number("net clearance", where, over, fate.net_clearance, CLOSE_FROM_START)
    if fate.path is None or fate.net_time is None or package_fate != "in play":
        return found
    sight = Sight(fate.path, fate.net_time, samples)
    for number in numbers:
        found.add(_answered(shot, number, sight))
    return found


def _intended(shot: Shot, found: Comparison) -> Launch:
    """The launch to go on with: the reference's, but for the slowest drives the package's."""
    mine, other = shot.launch(shot.block.intended), shot.reference_aim(shot.reference_contact)
    if shot.struck_harder(other):
        gap = SLOWEST_DRIVE * other.speed
        found.number("slowest drive", str(shot), mine.speed, other.speed, gap)
        return mine
    for axis, package, reference in zip("xyz", mine.velocity, other.velocity, strict=True):
        found.number(f"launch {axis}", str(shot), package, reference, LAUNCH)
    return other


def _answered(shot: Shot, number: int, sight: Sight) -> Comparison:
    """What the pair does about a ball in play under one policy."""
    found, policy = Comparison(), shot.scenario.policies[number]
    where = f"{shot} {shot.kind}, {policy.name}"
    places = shot.reference_places(policy, shot.reference_contact)
    for name, mine, other in zip(PLAYERS, shot.package_places(number), places, strict=True):
        for axis in (0, 1):
            found.number(
                f"place, {'xy'[axis]}", f"{where}, {name}", mine[axis], other[axis], PLACE_FEET
            )
    left, right = shot.pair_at(places, policy)
    reaches = [answer.reach_of(sight, who) for who in (left, right)]
    package, i = shot.block.answers[number], shot.number_in_play
    for name, reach in zip(PLAYERS, reaches, strict=True):
        who = f"{where}, {name}"
        control, stretch = bool(package.control[name][i]), bool(package.stretch[name][i])
        found.word(
            "in control", who, control, reach.control, reach.control_margin, CLOSE_FROM_START
        )
        found.word("reached", who, stretch, reach.reached, reach.stretch_margin, CLOSE_FROM_START)
        spare = float(shot.block.details[number].spare[name][i])
        found.number("time to spare", who, spare, reach.spare, SPARE_SECONDS)
    if package.leak[i] >= 0 and answer.outcome_of(*reaches) == "through":
        label, other = LEAKS[package.leak[i]], answer.leak_of(sight, shot.contact, left, right)
        near = leaks_close_by(sight, shot.contact, left, right, CLOSE_FROM_START)
        margin = 0.0 if label in near else CLOSE_FROM_START * 2.0
        found.word("way through", where, label, other, margin, CLOSE_FROM_START)
    if package.reached[i] and answer.outcome_of(*reaches) != "through":
        _taken(shot, number, sight, (left, right), reaches, found)
    return found


def _taken(
    shot: Shot,
    number: int,
    sight: Sight,
    pair: tuple[answer.Ready, answer.Ready],
    reaches: list[answer.Reach],
    found: Comparison,
) -> None:
    """Who takes the ball, and when.

    Two instants may leave all but the same time. So the package's instant is right if, by the
    reference, it leaves as much as the best one; the rest is asked about that very instant.
    """
    detail, i = shot.block.details[number], shot.number_in_play
    where = f"{shot} {shot.kind}, {shot.scenario.policies[number].name}"
    left, right = (reach.claim for reach in reaches)
    mine, taker = int(detail.player[i]), int(right > left)
    control = any(reach.control for reach in reaches)
    limit = SPARE_SECONDS if control else STRETCH_FEET
    # Only like claims can be close: control comes before any reach at full stretch.
    margin = abs(left[2] - right[2]) if left[:2] == right[:2] else math.inf
    found.word("who takes it", where, PLAYERS[mine], PLAYERS[taker], margin, limit)
    instant = sight.at(float(detail.time[i]), bool(detail.volley[i]))
    who, reach = pair[mine], reaches[mine]
    if control:
        found.number("when: time to spare", where, who.spare(instant), reach.spare, limit)
    else:
        room = who.margin(instant, True)
        found.number("when: reach left", where, room, reach.stretch_margin, limit)
    _taken_where(detail, i, where, instant, who, found)
    # At the bounce itself both belong.
    after = instant.time - sight.path.bounce_time
    found.word("volley", where, instant.volley, after <= 0.0, after, SPARE_SECONDS)


def _taken_where(
    detail: Detail, i: int, where: str, instant: Instant, who: answer.Ready, found: Comparison
) -> None:
    """Where the ball is at the package's instant, and with which hand it is taken there."""
    for axis, x, there in zip("xyz", instant.ball_at, (detail.x, detail.y, detail.z), strict=True):
        found.number(f"where, {axis}", where, float(there[i]), x, CLOSE_FROM_START)
    forehand = is_forehand(instant.ball_at[0], who.at[0], who.player)
    aside = instant.ball_at[0] - who.at[0]
    found.word("a forehand", where, bool(detail.forehand[i]), forehand, aside, CLOSE_FROM_START)


def table(name: str, found: Comparison) -> Iterator[str]:
    """What was asked, what differs, and how closely the rest agrees, as lines."""
    yield f"{name}: {len(found.differences)} differ, {len(found.unexplained)} unexplained"
    for what, asked in found.asked.items():
        differ = [one for one in found.differences if one.what == what]
        gap = f", widest gap {found.widest[what]:.2g}" if what in found.widest else ""
        yield f"  {what}: {asked} asked, {len(differ)} differ{gap}"
    for difference in found.differences:
        yield f"  {'' if difference.explained else 'UNEXPLAINED '}{difference}"
