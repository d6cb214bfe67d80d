"""Places on the court as players find them: walking steps from lines they can see."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from sim.analyses.handout import in_paces
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE
from sim.players import Player
from sim.units import METRES_PER_FOOT

CENTRE_LINE: Final = "centre line"
NON_VOLLEY_LINE: Final = "non-volley line"
BASELINE_NAME: Final = "baseline"
# Up to here (ft) a place is on a line, and up to there just beside the centre line. [A]
_ON: Final = 0.1
_JUST: Final = 0.75


class Off(NamedTuple):
    """How far a place is off a line: the line, the way from it, and the length (ft)."""

    line: str
    way: str
    length: float


def across(x: float) -> Off:
    """A place's ``x`` (ft) from the centre line, or from a sideline that is nearer.

    >>> across(-5.0), across(7.5)
    (Off(line='centre line', way='left of', length=5.0), Off(line='right sideline', way='inside', \
length=2.5))
    """
    side = "left" if x < 0.0 else "right"
    to_sideline = HALF_WIDTH - abs(x)
    if abs(x) <= abs(to_sideline):
        return Off(CENTRE_LINE, f"{side} of", abs(x))
    way = "inside" if to_sideline >= 0.0 else "outside"
    return Off(f"{side} sideline", way, abs(to_sideline))


def deep(y: float) -> Off:
    """A place's ``y`` (ft) from the non-volley line, or from the baseline where that is nearer.

    >>> deep(-8.0).line, deep(-22.5)
    ('non-volley line', Off(line='baseline', way='behind', length=0.5))
    """
    nearer = abs(-y - NON_VOLLEY_ZONE) <= abs(-y - BASELINE)
    return deep_from(NON_VOLLEY_LINE if nearer else BASELINE_NAME, y)


def deep_from(line: str, y: float) -> Off:
    """A place's ``y`` (ft) from the non-volley line or from the baseline, by name.

    >>> deep_from("non-volley line", -15.5)
    Off(line='non-volley line', way='behind', length=8.5)
    """
    if line == NON_VOLLEY_LINE:
        behind = -y - NON_VOLLEY_ZONE
        return Off(line, "behind" if behind >= 0.0 else "inside", abs(behind))
    behind = -y - BASELINE
    return Off(line, "behind" if behind > 0.0 else "inside", abs(behind))


def off_in_words(off: Off, player: Player) -> str:
    """How far off a line in the player's own paces.

    >>> from sim.scenario import Scenario
    >>> player = Scenario(name="pair").pair.left
    >>> off_in_words(across(-5.0), player), off_in_words(deep(-7.2), player)
    ('2 paces left of the centre line', 'right behind the non-volley line')
    >>> off_in_words(across(-0.5), player)
    'just left of the centre line'
    """
    if just_beside(off):
        return f"just {off.way} the {off.line}"
    number = in_paces(off.length, player)
    if number > 0.0:
        return f"{paces(number)} {off.way} the {off.line}"
    # The non-volley line belongs to the zone: nobody volleys on it.
    return f"right behind the {off.line}" if off.line == NON_VOLLEY_LINE else f"on the {off.line}"


def just_beside(off: Off) -> bool:
    """Whether a place is so close beside the centre line that no paces are told."""
    return off.line == CENTRE_LINE and _ON < off.length < _JUST


def paces(number: float, singular: str = "pace") -> str:
    """A number of paces, halves included.

    >>> paces(0.5), paces(1.0), paces(2.5)
    ('half a pace', '1 pace', '2½ paces')
    """
    if number == 0.5:
        return f"half a {singular}"
    return f"{halves(number)} {singular}{'' if number == 1.0 else 's'}"


def halves(number: float) -> str:
    """A number in halves.

    >>> halves(0.5), halves(4.0), halves(2.5)
    ('½', '4', '2½')
    """
    whole = math.floor(number)
    half = "½" if number - whole >= 0.5 else ""
    return half if half and not whole else f"{whole}{half}"


def rounded(feet: float, units: str) -> float:
    """A length (ft) as `length` tells it: lengths that are added up are rounded before.

    >>> rounded(3.3, "us"), round(rounded(3.3, "metric") * METRES_PER_FOOT, 3)
    (3.5, 1.0)
    """
    if units == "metric":
        return round(feet * METRES_PER_FOOT, 1) / METRES_PER_FOOT
    return round(2.0 * feet) / 2.0


def length(feet: float, units: str) -> str:
    """A length to walk: to half a foot or a tenth of a metre.

    >>> length(4.9, "us"), length(3.4, "us"), length(4.9, "metric")
    ('5 ft', '3½ ft', '1.5 m')
    """
    if units == "metric":
        return f"{feet * METRES_PER_FOOT:.1f} m"
    return f"{halves(round(2.0 * feet) / 2.0)} ft"


def short(off: Off, player: Player, units: str) -> tuple[str, str]:
    """How far off a line, for a picture: paces, and the length below.

    >>> from sim.scenario import Scenario
    >>> player = Scenario(name="pair").pair.left
    >>> short(across(-5.0), player, "us"), short(across(0.3), player, "us")
    (('2 paces', '5 ft'), ('just right of', 'centre line'))
    """
    if just_beside(off):
        return f"just {off.way}", off.line
    number = in_paces(off.length, player)
    if number == 0.0:
        return "at the" if off.line == NON_VOLLEY_LINE else "on the", off.line
    return f"{halves(number)} pace{'' if number <= 1.0 else 's'}", length(off.length, units)


def told_apart(lines: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Both players' words on a picture, without paces where these would hide a difference.

    Paces are told in halves: two lengths may be as many of them.

    >>> told_apart({"left": ("1½ paces", "4 ft"), "right": ("1½ paces", "3 ft")})
    {'left': ('4 ft',), 'right': ('3 ft',)}
    >>> told_apart({"left": ("2 paces", "5 ft"), "right": ("2 paces", "5 ft")})["left"]
    ('2 paces', '5 ft')
    """
    left, right = lines["left"], lines["right"]
    hidden = measured(left) and left[0] == right[0] and left != right
    return {name: each[-1:] if hidden else each for name, each in lines.items()}


def measured(lines: Sequence[str]) -> bool:
    """Whether a picture's words (`short`) tell a distance; otherwise the place is on the line."""
    return lines[-1].endswith((" ft", " m"))
