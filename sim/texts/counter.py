"""What a person reads of opponents who adapt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np

from sim.analyses.counter import Contest
from sim.analyses.counter_game import Solved, Standing
from sim.analyses.counter_options import PACES, Option
from sim.analyses.jackknife import Estimate
from sim.scenario import Policy
from sim.statistics import adjusted
from sim.tables import ALL
from sim.texts.table import aligned, length
from sim.wording import CAUTIONS, DIRECTIONS, LEAST_TOLD, LIMITS, decimals, joined, percent

# A smaller part of a mix is not worth practising, and may be another one next time.
_LEAST_SHOWN: Final = 0.05
_MOST_STROKES: Final = 3
# What fresh shots leave beyond what the best reply left on those that found it (of 100).
_LEAST_GAP: Final = 0.05
_MOST_CHANGES: Final = 5
# Less is shown as none of 100.
_LEAST_TAKEN: Final = 0.5

_ASSUMPTIONS: Final = (
    "Usual mix: the scenario's own shots, lanes and paces. Learning takes: how many fewer the "
    "pair keeps once the opponents play the best reply to its habit. Short of the "
    "best: how many fewer than the best mix guarantees.",
    "Each side knows the other's habits, not its next choice: the pair settles where to go "
    "before the shot, and the opponents settle on the shot without seeing where it goes.",
    "The opponents strike every option with the errors of the scenario. Hard, medium and slow "
    "drives, where their speed varies, are the fastest, middle and slowest third of their drives.",
    "A lob or drop met in control counts as kept, even if the pair is in trouble afterwards.",
    f"Mixes show parts of {100 * _LEAST_SHOWN:.0f} % and more, the opponents' one against all "
    "places; other mixes may be as good.",
)


def terminal_text(contest: Contest, units: str = "us") -> str:
    """The result as aligned text: the answer, a table per return direction, the mixes."""
    scenario = contest.scenario
    parts = [scenario.name, "Opponents who learn the pair's habits", "", *answer(contest), ""]
    parts += [_played(contest), *_how_sure(contest), ""]
    for direction in contest.standings:
        parts += [_heading(direction), aligned(_policy_table(contest, direction)), ""]
    for direction in contest.games:
        parts += [_mix_heading(contest, direction), aligned(_mix_table(contest, direction, units))]
        parts += [""]
    return "\n".join([*parts, *_ASSUMPTIONS, *LIMITS, *CAUTIONS])


def answer(contest: Contest) -> list[str]:
    """The answer in sentences."""
    names = [policy.name for policy in contest.scenario.policies]
    standing = next(iter(contest.standings.values()))
    usual, kept, taken = (
        estimate.whole
        for estimate in (standing.against_usual, standing.against_best_reply, standing.taken)
    )
    most, best = int(taken.argmax()), int(kept.argmax())
    nothing = taken[most] < _LEAST_TAKEN
    fewer = "hardly any" if nothing else f"{taken[most]:.0f}"
    fewer = f"{fewer} fewer than against opponents who do not adapt"
    if len(names) == 1:
        return [
            f"Opponents who learn the pair's habit, {names[0]}, leave the pair "
            f"{_whole(kept[0])} of 100 third shots, {fewer}. {_worst(contest, 0)}",
            *_with_places(contest, standing),
        ]
    learnt = (
        "Opponents who learn the pair's habit take next to nothing from any policy: under 1 of 100 "
        "third shots."
        if nothing
        else f"Opponents who learn the pair's habit take most from {names[most]}: of 100 third "
        f"shots it keeps {_whole(kept[most])}, {fewer}. "
        f"{_worst(contest, most)}{_rivals(standing.taken, most, names)}"
    )
    alike = len({f"{each:.0f}" for each in kept}) == 1 and not any(
        _told(standing.against_best_reply, best, other) for other in range(len(names))
    )
    hardest = (
        "No policy can be told to be harder to take advantage of than another: each keeps "
        f"{_whole(kept.min())}."
        if alike
        else f"Hardest to take advantage of: {names[best]}, which keeps {_whole(kept[best])}. "
        f"{_worst(contest, best)}{_rivals(standing.against_best_reply, best, names)}"
    )
    return [
        learnt,
        hardest,
        _without_habit(contest, standing, best),
        f"Kept of 100 against opponents who do not adapt: {_ranking(usual, names)}; against those "
        f"who do: {_ranking(kept, names)}. {_order(standing, names)}",
        _if_worth_differs(contest, names),
    ]


def strokes(options: Sequence[Option], *, several: bool = False, most: int = _MOST_STROKES) -> str:
    """Options in words, paces of the same shot and lane together.

    >>> hard, slow = Option("drive", "cross", "hard"), Option("drive", "cross", "slow")
    >>> strokes([hard, Option("drop", "line"), slow])
    'hard or slow drive cross-court; drop down the line'
    >>> strokes([slow, hard, Option("drive", "cross", "medium")], several=True)
    'drives cross-court at any pace'
    """
    paces: dict[tuple[str, str], list[str]] = {}
    for option in options:
        paces.setdefault((option.shot, option.lane), []).append(option.pace or "")
    words = []
    for (shot, lane), found in paces.items():
        noun = f"{shot}s" if several else shot
        if len(found) == len(PACES):
            words.append(f"{noun} {DIRECTIONS[lane]} at any pace")
        else:
            ordered = sorted(found, key=lambda pace: PACES.index(pace) if pace else 0)
            words.append(f"{joined(ordered, 'or')} {noun} {DIRECTIONS[lane]}".strip())
    return "; ".join([*words[:most], *["and others"] * (len(words) > most)])


def _worst(contest: Contest, policy: int) -> str:
    """Where a policy loses most to its best reply, in a sentence."""
    kept = {
        direction: float(game.standing.against_best_reply.whole[policy])
        for direction, game in contest.games.items()
    }
    direction = min(kept, key=lambda name: kept[name])
    replies = [contest.options[o] for o in contest.games[direction].best_replies(policy)]
    return (
        f"Its weakest spot: {strokes(replies, several=True, most=1).partition(';')[0]} "
        f"after returns {DIRECTIONS[direction]} leave it {_whole(kept[direction])}."
    )


def _rivals(estimate: Estimate, best: int, names: list[str]) -> str:
    """The policies that cannot be told from the one that has most, in a sentence."""
    rivals = [
        name
        for other, name in enumerate(names)
        if other != best and not _told(estimate, best, other)
    ]
    return f" Not told from it: {joined(rivals)}." if rivals else ""


def _told(estimate: Estimate, one: int, other: int) -> bool:
    """Whether one policy has more than another, with all pairs of policies together at 95 %."""
    pairs = estimate.whole.size * (estimate.whole.size - 1) // 2
    _, low, _ = estimate.at(one).minus(estimate.at(other)).interval(adjusted(pairs))
    return low > 0.0


def _without_habit(contest: Contest, standing: Standing, best: int) -> str:
    """Whether a policy for each return, or a mix of them, is better than the best one for all."""
    alone, own, value = (
        estimate.at(0) for estimate in (standing.best_alone, standing.own_value, standing.value)
    )
    told, better = "", "Better than any one policy"
    if _gains(alone, standing.against_best_reply.at(best)):
        told, better = f"{_for_each_return(contest, alone)} ", "Better still"
    told += (
        f"{better}: now this one, now that, so that the opponents cannot know which. Mixed at "
        "their best, after each return in its own way, its policies keep "
        if _gains(own, alone)
        else "Mixing policies gains nothing to speak of: at their best they keep "
    )
    told += f"{_figure(own)}, whichever of these shots comes"
    if contest.has_grid:
        told += f"; with other places among them {_figure(value)}"
    return f"{told}."


def _for_each_return(contest: Contest, alone: Estimate) -> str:
    """The policy that keeps most once known, after each return, in a sentence."""
    chosen = [
        f"{contest.scenario.policies[int(game.standing.against_best_reply.whole.argmax())].name} "
        f"{DIRECTIONS[direction]}"
        for direction, game in contest.games.items()
    ]
    return (
        f"Better than one for all returns: one for each ({joined(chosen)}), which keeps "
        f"{_figure(alone)}."
    )


def _with_places(contest: Contest, standing: Standing) -> list[str]:
    """What a single policy would gain by being mixed with other places, where there are any."""
    value = standing.value.at(0)
    if not contest.has_grid:
        return []
    if not _gains(value, standing.against_best_reply.at(0)):
        return ["Mixing it with other places gains nothing to speak of."]
    return [
        "Mixed at its best with other places, now here, now there, so that the opponents cannot "
        f"know which, the pair keeps {_figure(value)}, whichever of these shots comes."
    ]


def _gains(more: Estimate, less: Estimate) -> bool:
    """Whether one keeps more than the other, and enough to be told."""
    gain, low, _ = more.minus(less).interval()
    return gain >= LEAST_TOLD and low > 0.0


def _figure(estimate: Estimate) -> str:
    """A number as fine as its interval allows."""
    return f"{float(estimate.whole):.{min(decimals(float(estimate.half_width())), 1)}f}"


def _ranking(kept: np.ndarray, names: list[str]) -> str:
    order = np.argsort(-kept, kind="stable")
    return ", ".join(f"{names[place]} {_whole(kept[place])}" for place in order)


def _order(standing: Standing, names: list[str]) -> str:
    """Whether policies change places once opponents adapt."""
    usual, kept = standing.against_usual, standing.against_best_reply
    changed, possible = [], False
    for pair in combinations(range(len(names)), 2):
        # The better one against opponents who do not adapt comes first.
        first, second = sorted(pair, key=lambda place: -usual.whole[place])
        if kept.whole[first] < kept.whole[second]:
            possible = True
            if _told(usual, first, second) and _told(kept, second, first):
                changed.append(f"{names[second]} passes {names[first]}")
    if len(changed) > _MOST_CHANGES:
        rest = len(changed) - _MOST_CHANGES + 1
        changed = [*changed[: _MOST_CHANGES - 1], f"{rest} other pairs change places"]
    if changed:
        return f"The order changes: {joined(changed)}."
    if possible:
        return "No two policies change places for sure."
    return "The order is the same."


def _if_worth_differs(contest: Contest, names: list[str]) -> str:
    """Who keeps most once known, at either end of what a ball at full stretch may be worth."""
    told, worth = [], contest.worth.at_full_stretch
    for stretched in (0.0, contest.worth.in_control):
        if stretched == worth:
            continue
        other = replace(contest, worth=contest.worth._replace(at_full_stretch=stretched))
        games = other.games.values()
        kept = np.mean([game.payoffs[: game.named].min(axis=1) for game in games], axis=0)
        best, worst = int(kept.argmax()), int(kept.argmin())
        who = (
            f"{names[best]} would keep most ({_whole(kept[best])}) and {names[worst]} least "
            f"({_whole(kept[worst])})"
        )
        if kept[best] - kept[worst] < LEAST_TOLD:
            who = f"all would keep as much ({_whole(kept[best])})"
        told.append(f"were it {stretched:g}, {who}")
    return f"A ball met at full stretch counts {worth:g} here: {'; '.join(told)}."


def _whole(kept: float) -> str:
    """Whole balls of 100; what is not all never looks as if it were."""
    return "over 99" if 99.5 <= kept < 100.0 else f"{kept:.0f}"


def _played(contest: Contest) -> str:
    worth, shots = contest.worth, contest.scenario.run.shots
    against = "the scenario's policies"
    if contest.has_grid:
        places = len(contest.policies) - len(contest.scenario.policies)
        against += f" and {places} places on a grid"
    return (
        "Kept: what the third shots are worth to the pair; met in control "
        f"{worth.in_control:g}, at full stretch {worth.at_full_stretch:g}, missed by the opponents "
        f"{worth.missed:g}, through 0 (our assumption; change it with --worth).\n"
        f"{len(contest.options)} options of the opponents against {against}, {shots:,} third shots "
        f"each after every return direction, all with the same random numbers.{_new_shots(contest)}"
    )


def _new_shots(contest: Contest) -> str:
    """The shots that the scenario's opponents never play but may learn to, in a sentence."""
    weights = contest.scenario.opponents.shots.model_dump()
    new = [f"{shot}s" for shot in weights if not weights[shot]]
    return f" They have {joined(new)}, too, which are not in their usual mix." if new else ""


def _how_sure(contest: Contest) -> list[str]:
    replicates = contest.counts.shape[1]
    gap = max(
        float((game.against_fresh_best_reply - game.standing.against_best_reply.whole).max())
        for game in contest.games.values()
    )
    more = f"up to {gap:.1f} more of 100" if gap >= _LEAST_GAP else "no more"
    return [
        f"In brackets 95 % intervals, from leaving out each of {replicates} replicates in turn, "
        "each on its own. Whoever picks the best of many noisy options is flattered: best replies "
        f"found on one half of the shots leave {more} when judged on the other half, and the value "
        "of a game is bracketed in the same way (fresh shots)."
    ]


def _heading(direction: str) -> str:
    what = "all returns" if direction == ALL else f"returns {DIRECTIONS[direction]}"
    return f"After {what}, kept of 100 third shots"


def _policy_table(contest: Contest, direction: str) -> list[list[str]]:
    standing = contest.standings[direction]
    header = ["policy", "usual mix", "best reply", "learning takes", "short of the best"]
    single = direction in contest.games
    table = [[*header, "the best reply"] if single else header]
    columns = (
        standing.against_usual,
        standing.against_best_reply,
        standing.taken,
        standing.exploitability,
    )
    for place, policy in enumerate(contest.scenario.policies):
        row = [policy.name, *(_of_hundred(column.at(place)) for column in columns)]
        if single:
            replies = contest.games[direction].best_replies(place)
            row.append(strokes([contest.options[o] for o in replies]))
        table.append(row)
    return table


def _of_hundred(estimate: Estimate) -> str:
    value, low, high = estimate.interval(least=0.0, most=100.0)
    return percent(value / 100.0, low / 100.0, high / 100.0)


def _mix_heading(contest: Contest, direction: str) -> str:
    game = contest.games[direction]
    text = f"Mixes after returns {DIRECTIONS[direction]}: {_value(game.own, 'own policies')}"
    return f"{text}; {_value(game.whole, 'with other places')}" if contest.has_grid else text


def _value(found: Solved, words: str) -> str:
    low, high = found.bracket.low, found.bracket.high
    places = decimals(0.5 * (high - low))
    fresh = f"fresh shots [{low:.{places}f}, {high:.{places}f}]"
    return f"{words} {_of_hundred(found.value.at(0))}, {fresh}"


def _mix_table(contest: Contest, direction: str, units: str) -> list[list[str]]:
    game = contest.games[direction]
    named = contest.scenario.policies
    names = [policy.name for policy in named]
    names += [_place_words(place, units) for place in contest.policies[len(named) :]]
    sides = [("own policies", _parts(game.own.mixes.rows, names))]
    if contest.has_grid:
        sides.append(("with other places", _parts(game.whole.mixes.rows, names)))
    options = [option.name for option in contest.options]
    sides.append(("opponents", _parts(game.whole.mixes.columns, options)))
    longest = max(len(parts) for _, parts in sides)
    table = [[title for title, _ in sides]]
    for place in range(longest):
        table.append([parts[place] if place < len(parts) else "" for _, parts in sides])
    return table


def _parts(mix: np.ndarray, names: list[str]) -> list[str]:
    """The parts of a mix that are worth telling, the largest first."""
    order = [place for place in np.argsort(-mix, kind="stable") if mix[place] >= _LEAST_SHOWN]
    return [f"{100.0 * mix[place]:.0f} % {names[place]}" for place in order]


def _place_words(place: Policy, units: str) -> str:
    """Where a place of the grid is."""
    centre = place.centres.line if place.centres else 0.0
    side = "in the middle"
    if centre:
        side = f"{length(abs(centre), units)} to the {'right' if centre > 0.0 else 'left'}"
    return f"{side}, {length(place.gap, units)} apart, {length(place.depth, units)} from net"
