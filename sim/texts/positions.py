"""The best places of a pair in words: the answer, how sure it is, and what it leaves out."""

from __future__ import annotations

from typing import Any, Final

from sim.analyses.positions import (
    AfterReturns,
    Estimate,
    Lifted,
    Positions,
    Regret,
    in_points,
)
from sim.candidate_places import Worth
from sim.court import BASELINE, HALF_WIDTH, NON_VOLLEY_ZONE
from sim.draws import BLOCK
from sim.pairs_of_places import LEAST_APART
from sim.run_in import PLAYERS
from sim.scenario import Spot
from sim.tables import ALL
from sim.texts.table import aligned, length
from sim.units import in_unit
from sim.wording import CAUTIONS, DIRECTIONS, LIMITS, balls, decimals, percent, points

WORTH: Final = "worth"
# A walking step, about; our assumption. Places are told in steps from the nearest line.
_STEP: Final = 2.5
_NUMBERS: Final = ("no", "a", "two", "three", "four", "five", "six")
_TO_THE_INCH: Final = 1.0 / 24.0


def terminal_text(result: Positions, units: str = "us") -> str:
    """The result as aligned text: where to stand, what that gains, how flat it is, and caveats."""
    scenario = result.scenario
    parts = [scenario.name, "Where exactly should these two stand when the opponents strike?", ""]
    if len(result.after) > 1:
        parts += [_gains(result, ALL), ""]
    parts += [_nothing_else(result), ""]
    for direction, here in result.after.items():
        parts += [_answer(result, direction, here, units), ""]
    parts += [_how_sure(result, units), _fresh(result), ""]
    parts += ["Where to stand, and where the shot finds them", aligned(_places(result, units)), ""]
    parts += [_as_good_in_words(result), aligned(_as_good_table(result, units)), ""]
    for direction in result.directions:
        parts += [_heading(direction), aligned(_regret_table(result, direction)), ""]
    parts += [*_in_time(result, units), "", *_assumed(result, units), *LIMITS, *CAUTIONS]
    return "\n".join(parts)


def measure_words(worth: Worth) -> str:
    """What the best has most of.

    >>> measure_words(Worth()), measure_words(Worth(1.0, 1.0)), measure_words(Worth(1.0, 0.5))
    ('in control', 'reached', 'worth')
    """
    if worth.in_control == worth.at_full_stretch:
        return "reached"
    return WORTH if worth.at_full_stretch else "in control"


def across(spot: Spot, units: str) -> str:
    """How far from the centre line.

    >>> across(Spot(from_centre="-6.5 ft", depth="9 ft"), "us")
    '6.5 ft left of the centre line'
    """
    return _from_centre(spot.from_centre, units)


def _from_centre(x: float, units: str) -> str:
    if abs(x) < _TO_THE_INCH:
        return "on the centre line"
    return f"{length(abs(x), units)} {'left' if x < 0.0 else 'right'} of the centre line"


def from_own_sideline(name: str, spot: Spot, units: str) -> str:
    """How far from the sideline on the player's own side.

    >>> from_own_sideline("left", Spot(from_centre="-6.5 ft", depth="9 ft"), "us")
    '3.5 ft from the left sideline'
    """
    away = HALF_WIDTH + (spot.from_centre if name == "left" else -spot.from_centre)
    return f"{length(away, units)} from the {name} sideline"


def in_steps(depth: float) -> str:
    """How far back in steps from the nearer of the two lines.

    >>> in_steps(7.5), in_steps(9.0), in_steps(12.0), in_steps(21.0), in_steps(19.0)
    ('at the non-volley line', 'a step behind the non-volley line', \
'two steps behind the non-volley line', 'at the baseline', 'a step inside the baseline')
    """
    behind, inside = depth - NON_VOLLEY_ZONE, BASELINE - depth
    steps = round(min(behind, inside) / _STEP)
    line = "non-volley line" if behind <= inside else "baseline"
    if steps == 0:
        return f"at the {line}"
    step = "step" if steps == 1 else "steps"
    return f"{_NUMBERS[steps]} {step} {'behind' if behind <= inside else 'inside'} the {line}"


def _answer(result: Positions, direction: str, here: AfterReturns, units: str) -> str:
    stand = "; ".join(
        f"{name} player {across(spot, units)} ({from_own_sideline(name, spot, units)}), "
        f"{length(spot.depth, units)} from the net ({in_steps(spot.depth)})"
        for name, spot in (("left", here.spots.left), ("right", here.spots.right))
    )
    as_good = _as_good_together(here, units)
    return "\n".join([f"{_heading(direction)}: {stand}.", _gains(result, direction), as_good])


def _as_good_together(here: AfterReturns, units: str) -> str:
    """How many pairs of places are as good, how far apart they are, and where their middle is."""
    good, (apart, middle) = int(here.as_good.sum()), here.together()
    if good == 1:
        return f"None of the other {here.land.pairs - 1:,} pairs of places is as good."
    least, most = (length(value, units) for value in apart)
    low, high = (_from_centre(value, units) for value in middle)
    wide = f"{least} apart" if least == most else f"{least} to {most} apart"
    where = low if low == high else f"from {low} to {high}".replace(" on ", " ")
    return (
        f"As good as anyone can tell: {wide} across the court, their middle {where} "
        f"({good:,} of {here.land.pairs:,} pairs of places)."
    )


def _gains(result: Positions, direction: str) -> str:
    """What the best gets, and how far from that the named policies are."""
    share = percent(*result.worth(result.best.name, direction))
    sentences = [f"Of 100 balls in play that {_gets(result, share)}."]
    if direction == ALL:
        # This comes before any place is told.
        get = _gets(result, share, many=True)
        sentences = [f"After all returns together, of 100 balls in play the best places {get}."]
    regrets = sorted(result.regrets(direction), key=lambda regret: -regret.given_away[0])
    worse = [f"{r.policy} {_size(r)}" for r in regrets if r.told and r.given_away[0] > 0.0]
    better = [f"{r.policy} {_size(r)}" for r in regrets if r.told and r.given_away[0] < 0.0]
    alike = [r.policy for r in regrets if not r.told]
    fewer = "Less" if measure_words(result.wish.worth) == WORTH else "Fewer"
    if worse:
        sentences.append(f"{fewer} of 100 than there: {', '.join(worse)}.")
    if better:
        sentences.append(f"More of 100 than there: {', '.join(better)}.")
    if alike:
        sentences.append(f"Cannot be told from that: {', '.join(alike)}.")
    return " ".join(sentences)


def _gets(result: Positions, share: str, many: bool = False) -> str:
    """What the best, or ``many`` of them, do with so many of a hundred balls."""
    words = measure_words(result.wish.worth)
    if words == WORTH:
        return f"{'are' if many else 'is'} worth {share}"
    if words == "reached":
        return f"reach{'' if many else 'es'} {share}"
    return f"get{'' if many else 's'} {share} in control"


def _size(regret: Regret) -> str:
    return balls(*in_points(regret.given_away))


def _how_sure(result: Positions, units: str) -> str:
    wish = result.wish
    compared = sum(here.land.pairs for here in result.after.values())
    unit = "in" if units == "us" else "cm"
    grid = f"{in_unit(wish.grid, 'length', unit):.3g} {unit}"
    return (
        f"Found by trying {compared:,} pairs of places on a grid of {grid}, "
        f"{min(wish.shots, BLOCK):,} third shots for each return direction; no place was left out "
        "but those the rules below name. In brackets 95 % intervals."
    )


def _fresh(result: Positions) -> str:
    """What the best looked worth when it was chosen, and what it is worth."""
    whole = result.directions[0]
    fresh, low, high = result.worth(result.best.name, whole)
    half = 50.0 * (high - low)
    more = 100.0 * (result.searched(whole) - fresh)
    by = f"{more:.{decimals(half)}f}" if more > half else "less than can be told"
    then = _gets(result, f"{100.0 * result.searched(whole):.{decimals(half)}f}")
    return (
        f"All shares are of {result.scenario.run.shots:,} fresh shots for each return direction. "
        f"Of 100 of the balls it was chosen by, the best {then}, of 100 fresh ones "
        f"{percent(fresh, low, high)}: the choice flatters it by {by}."
    )


def _places(result: Positions, units: str) -> list[list[str]]:
    table = [["after returns", "player", "place", "from net", "found", "from net", "in time"]]
    for direction, here in result.after.items():
        for name, spot in (("left", here.spots.left), ("right", here.spots.right)):
            x, depth = here.found[name]
            mine = here.land.candidates[name]
            arrived = float(mine.arrived[here.land.best[PLAYERS.index(name)]])
            row = [DIRECTIONS[direction], name, _side(spot.from_centre, units)]
            row += [length(spot.depth, units), _side(x, units), length(depth, units)]
            table.append([*row, f"{100 * arrived:.0f} %"])
    return table


def _side(x: float, units: str) -> str:
    if abs(x) < _TO_THE_INCH:
        return "centre"
    return f"{length(abs(x), units)} {'left' if x < 0.0 else 'right'}"


def _as_good_in_words(result: Positions) -> str:
    pairs = sum(int(here.as_good.sum()) for here in result.after.values())
    compared = sum(here.land.pairs for here in result.after.values())
    return (
        f"As good as anyone can tell: {pairs:,} of the {compared:,} pairs cannot be told from the "
        "best of their return direction (allowing for all of them). One player's, if the partner "
        "stands at the best place; not every place between the ends is as good:"
    )


def _as_good_table(result: Positions, units: str) -> list[list[str]]:
    table = [["after returns", "player", "anywhere from", "to", "from net", "to"]]
    for direction, here in result.after.items():
        for name in PLAYERS:
            low, high = here.extent(name)
            row = [DIRECTIONS[direction], name]
            row += [_side(end.from_centre, units) for end in (low, high)]
            table.append([*row, *(length(end.depth, units) for end in (low, high))])
    return table


def _heading(direction: str) -> str:
    if direction == ALL:
        return "After all returns"
    return f"After returns {DIRECTIONS[direction]}"


def _regret_table(result: Positions, direction: str) -> list[list[str]]:
    measure = measure_words(result.wish.worth)
    table = [["policy", f"{measure}, of 100", "gives away, points"]]
    best = result.best.name
    table.append([best, percent(*result.worth(best, direction)), "the best places"])
    for regret in result.regrets(direction):
        table.append([regret.policy, percent(*regret.worth), _points(regret.given_away)])
    if result.lifted:
        name = result.lifted.policy.name
        away = _points(result.given_away(name, direction))
        table.append([name, percent(*result.worth(name, direction)), away])
    return table


def _points(given_away: Estimate) -> str:
    value, low, high = in_points(given_away)
    return points({"points": value, "points_low": low, "points_high": high})


def _in_time(result: Positions, units: str) -> list[str]:
    """The rule about arriving in time, and what lifting it would change."""
    lifted = result.lifted
    if lifted is None:
        return ["Places count whether or not the player gets to them before the opponents strike."]
    rule = (
        "Only places count that the player reaches before settling for "
        f"{100 * result.wish.in_time:g} % of the balls in play: a place nobody gets to in time is "
        "no place to teach."
    )
    moved = {
        direction: spots
        for direction, spots in lifted.spots.items()
        if spots != result.after[direction].spots
    }
    if not moved:
        return [rule, "Lifting that (--in-time 0) changes nothing."]
    table = [["after returns", "player", "place", "from net", "found", "from net"]]
    for direction, spots in moved.items():
        for name, spot in (("left", spots.left), ("right", spots.right)):
            x, depth = lifted.found[direction][name]
            row = [DIRECTIONS[direction], name, _side(spot.from_centre, units)]
            row += [length(spot.depth, units), _side(x, units), length(depth, units)]
            table.append(row)
    gain = _lifted_gain(result, lifted)
    return [rule, f"Lifting that (--in-time 0) sends them elsewhere, {gain}:", aligned(table)]


def _lifted_gain(result: Positions, lifted: Lifted) -> str:
    given_away, low, high = result.given_away(lifted.policy.name, result.directions[0])
    if low <= 0.0 <= high:
        return "which cannot be told from the best above"
    return f"for {_points((-given_away, -high, -low))} points on fresh shots"


def _nothing_else(result: Positions) -> str:
    words = measure_words(result.wish.worth)
    most = words if words == WORTH else f"balls {words}"
    return (
        f"Best means most {most}, and nothing else. To stand deep buys time to get to a ball; what "
        "a ball taken near the net is worth afterwards is left out."
    )


def _assumed(result: Positions, units: str) -> list[str]:
    worth = result.wish.worth
    lines = [
        f"The two stand at least {length(LEAST_APART, units)} apart, the left one to the left: two "
        "players just fit side by side there, and the model would let both swing at every ball. "
        "[A]",
        "One place for each return direction, of those that count: the scenario's policies are "
        "held to neither, may do better, and then give away less than nothing.",
    ]
    if measure_words(worth) == WORTH:
        lines.insert(
            0,
            f"A ball in control is worth {worth.in_control:g}, one at full stretch "
            f"{worth.at_full_stretch:g}, one that gets through 0. [A]",
        )
    return lines


def places_table(result: Positions) -> dict[str, Any]:
    """The best places as a policy of a scenario file holds them, lengths as people write them."""
    return {
        direction: {
            name: {"from_centre": f"{spot.from_centre!r} ft", "depth": f"{spot.depth!r} ft"}
            for name, spot in (("left", here.spots.left), ("right", here.spots.right))
        }
        for direction, here in result.after.items()
    }
