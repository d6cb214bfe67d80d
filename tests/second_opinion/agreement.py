"""What counts as the same, and what the two sides may differ by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from tests.reference import answer, reach
from tests.reference.leaks import leak_label
from tests.reference.return_of_serve import Contact
from tests.reference.search import Sight

# The package flies in few large steps and the reference to ten digits. A contact is told apart to
# a hundredth of an inch and a tenth of a millisecond, far below what a player could do about it.
CONTACT_FEET = 1e-3
CONTACT_SECONDS = 1e-4
# An eighth of an inch, a twelfth of the ball's radius: where a ball lands, and by how much it
# clears the net, cannot matter more finely.
FLIGHT_FEET = 0.01
FLIGHT_SECONDS = 5e-4
# Struck from the same point, balls whose velocities agree this well (ft/s) fly, in the two seconds
# that a lob takes, no farther apart than the tolerance of the flight.
LAUNCH = 2.0 * FLIGHT_FEET
# A ball that is reached by less than the flights' tolerance may be answered either way; at most
# so many of the questions may be as close as that and differ.
CLOSE_FEET = FLIGHT_FEET
MOST_CLOSE_CALLS = 0.005
# Contact, launch and flight each add their own tolerance when nothing is handed over.
CLOSE_FROM_START = 3.0 * FLIGHT_FEET
# Reactions of one player spread by 40 ms: three more or less are no matter, and a ball that flies
# within its tolerance near the end of an arm's reach moves the spare time by up to two.
SPARE_SECONDS = 3e-3
# Of a ball at full stretch the package tells the best of a dozen instants a step, and looks no
# closer: the margin (ft) that a fast ball gains on a player in half the time between two of them.
STRETCH_FEET = 0.1
# Both strike a drive that cannot clear the net at its speed at the least speed that does: the
# reference found by minimising, the package in turns that close in slowly, to one part in a
# hundred.
SLOWEST_DRIVE = 0.01


def differing(shot: object, what: str, package: Any, other: Any, tolerance: float) -> Iterator[str]:
    """A line about a difference that is too large; differing infinities are too large."""
    close = bool(package == other or abs(package - other) <= tolerance)
    if not close:
        yield f"{shot} {what}: package {package:.6g}, reference {other:.6g}"


def report(lines: list[str]) -> str:
    """What a failing test says."""
    return "\n".join([f"{len(lines)} disagreements", *lines[:20]])


@dataclass
class Calls:
    """Questions answered with yes or no: how many, and how many differed but were close."""

    asked: int = 0
    close: int = 0

    def compare(
        self, what: str, package: object, other: object, room: float, close: float
    ) -> Iterator[str]:
        """A line if the two answers differ though there is more room (ft) than is close."""
        self.asked += 1
        if package == other:
            return
        if abs(room) <= close:
            self.close += 1
            return
        yield f"{what}: package {package}, reference {other}, by {room:.4f} ft"


def leaks_close_by(
    sight: Sight, contact: Contact, left: answer.Ready, right: answer.Ready, close: float
) -> set[str]:
    """The ways through if the pair stood or reached a hair's breadth (ft) differently."""

    def moved(who: answer.Ready, aside: float, ahead: float, up: float) -> answer.Ready:
        taller = replace(who.player, height=who.player.height + up / reach.SHOULDER)
        return replace(who, player=taller, at=(who.at[0] + aside, who.at[1] + ahead))

    found = set()
    for by in product((0.0, -close, close), repeat=3):
        one, other = moved(left, *by), moved(right, *by)
        found.add(leak_label(sight.path, contact.X, one.at, other.at, one.player, other.player))
    return found
