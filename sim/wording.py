"""Numbers and verdicts in words: no finer than their intervals, and in natural frequencies."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sim.tables import Row

# Fewer balls of 100 than this are none in whole balls.
LEAST_TOLD: Final = 0.5
# Tenths of a ball are told from this half-width (points) on.
TOLD_IN_TENTHS: Final = 0.25
# Decimals at most, of shares and of differences, whose ends must not look like zero.
_MOST_OF_SHARES: Final = 2
_MOST_OF_DIFFERENCES: Final = 3
MINUS: Final = "−"
# Verdicts of differences that are told from none.
TOLD: Final = ("more", "fewer")
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


def rounded(value: float, places: int, rounding: str = ROUND_HALF_UP) -> str:
    """The size of a number with so many decimals; halves go up, as people round.

    >>> rounded(2.5, 0), rounded(-3.5, 0), rounded(90.45, 1)
    ('3', '4', '90.5')
    """
    size = Decimal(str(abs(float(value))))
    return str(size.quantize(Decimal(1).scaleb(-places), rounding))


def coarser(estimate: Sequence[float], places: int = 0) -> str:
    """The size of a number in words, rounded from the digits that stand beside its interval.

    ``estimate`` is the value and both ends. What stands as 90.5 is 91 in whole balls everywhere.

    >>> coarser((90.453, 90.1, 90.8)), coarser((90.444, 90.1, 90.8))
    ('91', '90')
    """
    value, low, high = estimate
    standing = rounded(value, max(places, decimals(0.5 * (high - low))))
    return rounded(float(standing), places)


def share_of_hundred(row: Row, measure: str, places: int = 0) -> str:
    """Balls of 100 that a row of shares has in control, or reached; no finer than it deserves.

    >>> ends = {"in_control_low": 0.901, "in_control_high": 0.908}
    >>> share_of_hundred({"in_control_share": 0.90453, **ends}, "in_control")
    '91'
    """
    value, low, high = (100.0 * row[f"{measure}_{end}"] for end in ("share", "low", "high"))
    return coarser((value, low, high), min(places, decimals(0.5 * (high - low))))


def percent(share: float, low: float, high: float) -> str:
    """A share with its interval, in percent; or next to all, or next to none.

    >>> percent(0.917, 0.9131, 0.9203)
    '91.7 [91.3, 92.0]'
    >>> percent(0.99985, 0.99903, 0.99998), percent(0.00005, 0.00001, 0.00029)
    ('99.9 or more', '0.1 or less')
    >>> percent(math.nan, math.nan, math.nan)
    'no balls in play'
    """
    if math.isnan(share):
        return "no balls in play"
    low, high = 100.0 * low, 100.0 * high
    places = decimals(0.5 * (high - low))
    while _looks_like_an_end(low, high, places):
        if places == _MOST_OF_SHARES:
            return _next_to_an_end(low, high)
        places += 1
    value, below, above = (rounded(x, places) for x in (100.0 * share, low, high))
    return f"{value} [{below}, {above}]"


def _looks_like_an_end(low: float, high: float, places: int) -> bool:
    """Whether a bound between 0 and 100 percent would be shown as one of these."""
    return (low > 0.0 and float(rounded(low, places)) == 0.0) or (
        high < 100.0 and float(rounded(high, places)) == 100.0
    )


def _next_to_an_end(low: float, high: float) -> str:
    """What an interval tells that ends too near to 0 or 100 percent to be shown."""
    if float(rounded(low, _MOST_OF_SHARES)) == 0.0:
        return f"{rounded(high, 1, ROUND_CEILING)} or less"
    return f"{rounded(low, 1, ROUND_FLOOR)} or more"


def points(row: Row) -> str:
    """A paired difference with its interval, in percentage points, always signed.

    >>> points({"points": -1.41, "points_low": -1.59, "points_high": -1.25})
    '−1.4 [−1.6, −1.3]'
    """
    value, low, high = _ends(row)
    if math.isnan(value):
        return "no balls in play"
    places = decimals(0.5 * (high - low))
    # An interval that leaves zero out must not be shown as if it held it.
    while (
        places < _MOST_OF_DIFFERENCES
        and low * high > 0.0
        and "0" in map(_stripped, (_signed(low, places), _signed(high, places)))
    ):
        places += 1
    shown, below, above = (_signed(x, places) for x in (value, low, high))
    return f"{shown} [{below}, {above}]"


def places_together(rows: Iterable[Row]) -> int:
    """Decimals in which all differences of one list are told in balls of 100.

    As many as the least sure of those that are told deserves, but tenths where one of them would
    be none in whole balls.

    >>> sure, less_sure = (4.16, 4.0, 4.3), (-4.12, -4.5, -3.7)
    >>> ends = ("points", "points_low", "points_high")
    >>> rows = [dict(zip(ends, row), verdict="more") for row in (sure, less_sure)]
    >>> places_together(rows), places_together(rows[:1])
    (0, 1)
    >>> small = {"points": 0.33, "points_low": 0.01, "points_high": 0.65, "verdict": "more"}
    >>> places_together([*rows, small])
    1
    """
    told = [_ends(row) for row in rows if row["verdict"] in TOLD]
    if any(coarser(each) == "0" for each in told):
        return 1
    sure = [0.5 * (high - low) <= TOLD_IN_TENTHS for _, low, high in told]
    return 1 if sure and all(sure) else 0


def of_hundred(row: Row, places: int | None = None) -> str:
    """A paired difference as a number of 100 balls in play, or what else can be said of it.

    ``places`` are those of the list that it stands in (`places_together`).

    >>> of_hundred({"points": -3.1, "points_low": -3.5, "points_high": -2.7, "verdict": "fewer"})
    '3 fewer'
    >>> of_hundred({"points": -2.5, "points_low": -2.6, "points_high": -2.4, "verdict": "fewer"})
    '2.5 fewer'
    >>> of_hundred({"points": 0.14, "points_low": 0.02, "points_high": 0.26, "verdict": "more"})
    '0.1 more'
    >>> of_hundred({"points": 0.1, "verdict": "cannot tell yet"})
    'cannot tell yet'
    """
    verdict = row["verdict"]
    if verdict not in TOLD:
        return str(verdict)
    return f"{balls(*_ends(row), places)} {verdict}"


def balls(points: float, low: float, high: float, places: int | None = None) -> str:
    """The size of a difference in balls of 100, rounded from the digits that `points` shows.

    Without ``places`` in tenths where its interval is that narrow, or it would be none otherwise.

    >>> balls(-3.1, -3.5, -2.7), balls(2.5, 2.4, 2.6), balls(0.14, 0.02, 0.26)
    ('3', '2.5', '0.1')
    >>> balls(-2.47, -2.8, -2.1), balls(0.03, 0.01, 0.05)
    ('3', 'under 0.1')
    """
    if places is None:
        row = {"points": points, "points_low": low, "points_high": high, "verdict": "more"}
        places = places_together([row])
    told = coarser((points, low, high), places)
    return told if float(told) else f"under {10.0**-places:g}"


def _ends(row: Row) -> tuple[float, float, float]:
    """A difference and both ends of its interval."""
    return float(row["points"]), float(row["points_low"]), float(row["points_high"])


def _stripped(text: str) -> str:
    return text.rstrip("0").rstrip(".") or "0"


def _signed(value: float, places: int) -> str:
    text = rounded(value, places)
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
    up = math.ceil(points * 10**places - 1e-6) / 10**places
    return f"{up:.{places}f}".rstrip("0").rstrip(".")
