"""Numbers and verdicts in words: no finer than their intervals, and in natural frequencies."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sim.tables import Row

# A difference below half a ball of 100 is not told in whole balls.
LEAST_TOLD: Final = 0.5
# Tenths of a ball are told from this half-width (points) on.
TOLD_IN_TENTHS: Final = 0.25
_MOST_PLACES: Final = 3
MINUS: Final = "−"
# Where a return of serve or a third shot goes.
DIRECTIONS: Final = {"line": "down the line", "middle": "to the middle", "cross": "cross-court"}
CAUTIONS: Final = (
    "Warm up, wear court shoes and eye protection, and stop when it hurts.",
    "For a lob turn and run; never back-pedal.",
    "Ask a physician or another licensed professional before taking up a drill that is new to you.",
    "The venue's rules and local rules come first.",
)
LIMITS: Final = (
    "The numbers are a model's, not medical or safety advice.",
    "Reached does not mean won: what happens after contact is left out, and so are deception, "
    "fatigue, opponents who read the pair, errors of the pair, and balls they should let go out.",
)


def decimals(half_width: float) -> int:
    """Decimals that a number in points deserves, given its interval's half-width in points.

    >>> decimals(4.2), decimals(0.4), decimals(0.03)
    (0, 1, 2)
    """
    if not half_width < 3.0:
        return 0
    return 1 if half_width >= 0.1 else 2


def percent(share: float, low: float, high: float) -> str:
    """A share with its interval, in percent.

    >>> percent(0.917, 0.9131, 0.9203)
    '91.7 [91.3, 92.0]'
    >>> percent(math.nan, math.nan, math.nan)
    'no balls in play'
    """
    if math.isnan(share):
        return "no balls in play"
    places = decimals(50.0 * (high - low))
    while places < _MOST_PLACES and _looks_like_an_end(low, high, places):
        places += 1
    value, below, above = (f"{100.0 * x:.{places}f}" for x in (share, low, high))
    return f"{value} [{below}, {above}]"


def _looks_like_an_end(low: float, high: float, places: int) -> bool:
    """Whether a bound inside (0, 1) would be shown as 0 or 100 percent."""
    zero, hundred = f"{0.0:.{places}f}", f"{100.0:.{places}f}"
    return (low > 0.0 and f"{100.0 * low:.{places}f}" == zero) or (
        high < 1.0 and f"{100.0 * high:.{places}f}" == hundred
    )


def points(row: Row) -> str:
    """A paired difference with its interval, in percentage points, always signed.

    >>> points({"points": -1.41, "points_low": -1.59, "points_high": -1.25})
    '−1.4 [−1.6, −1.2]'
    """
    value, low, high = (float(row[name]) for name in ("points", "points_low", "points_high"))
    if math.isnan(value):
        return "no balls in play"
    places = decimals(0.5 * (high - low))
    # An interval that leaves zero out must not be shown as if it held it.
    while (
        places < _MOST_PLACES
        and low * high > 0.0
        and "0" in map(_stripped, (_signed(low, places), _signed(high, places)))
    ):
        places += 1
    shown, below, above = (_signed(x, places) for x in (value, low, high))
    return f"{shown} [{below}, {above}]"


def of_hundred(row: Row) -> str:
    """A paired difference as a number of 100 balls in play, or what else can be said of it.

    >>> of_hundred({"points": -3.1, "points_low": -3.5, "points_high": -2.7, "verdict": "fewer"})
    '3 fewer'
    >>> of_hundred({"points": -2.5, "points_low": -2.6, "points_high": -2.4, "verdict": "fewer"})
    '2.5 fewer'
    >>> of_hundred({"points": 0.14, "points_low": 0.02, "points_high": 0.26, "verdict": "more"})
    'under 1 more'
    >>> of_hundred({"points": 0.1, "verdict": "cannot tell yet"})
    'cannot tell yet'
    """
    verdict = row["verdict"]
    if verdict not in ("more", "fewer"):
        return str(verdict)
    return f"{balls(row['points'], row['points_low'], row['points_high'])} {verdict}"


def balls(points: float, low: float, high: float) -> str:
    """The size of a difference in balls of 100, in tenths only where its interval is that narrow.

    >>> balls(-3.1, -3.5, -2.7), balls(2.5, 2.4, 2.6), balls(0.14, 0.02, 0.26)
    ('3', '2.5', 'under 1')
    """
    if abs(points) < LEAST_TOLD:
        return "under 1"
    return f"{abs(points):.{1 if 0.5 * (high - low) <= TOLD_IN_TENTHS else 0}f}"


def _stripped(text: str) -> str:
    return text.rstrip("0").rstrip(".") or "0"


def _signed(value: float, places: int) -> str:
    text = f"{abs(value):.{places}f}"
    if float(text) == 0.0:
        return text
    return (MINUS if value < 0.0 else "+") + text


def joined(words: list[str], last: str = "and") -> str:
    """Words in a row.

    >>> joined(["line", "middle", "cross"])
    'line, middle and cross'
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"


def quoted(name: str) -> str:
    """A policy's name in a sentence, set off from the words around it.

    >>> quoted("to the line")
    '“to the line”'
    """
    return f"“{name}”"


def counted(number: int, noun: str) -> str:
    """A number of things.

    >>> counted(1, "block"), counted(3, "block"), counted(2, "dash")
    ('1 block', '3 blocks', '2 dashes')
    """
    ending = "" if number == 1 else "es" if noun.endswith("sh") else "s"
    return f"{number:,} {noun}{ending}"


def half_width(points: float) -> str:
    """How far an interval reaches to either side, rounded up so that it is never flattered.

    >>> half_width(0.2549), half_width(0.0751), half_width(100.0)
    ('0.26', '0.076', '100')
    """
    places = 2 if points >= 0.1 else 3
    rounded = math.ceil(points * 10**places - 1e-6) / 10**places
    return f"{rounded:.{places}f}".rstrip("0").rstrip(".")
