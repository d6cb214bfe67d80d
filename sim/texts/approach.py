"""The way in, as a person reads it in the terminal."""

from __future__ import annotations

from typing import Final

from sim.analyses.approach import Approach
from sim.analyses.approach_remedies import FASTER, SOONER, Remedy
from sim.analyses.approach_returns import (
    LEAST,
    MOST_CONTROL,
    MOST_TIME,
    Tried,
    difference_row,
)
from sim.analyses.approach_way import TOO_CLOSE, TOO_FAR
from sim.draws import BLOCK
from sim.players import AGE_GROUPS
from sim.run_in import PLAYERS
from sim.scenario import Scenario
from sim.tables import Row
from sim.texts.approach_tables import (
    RETURNS,
    arrival_table,
    chosen_table,
    curve_table,
    return_words,
    round_length,
    size_of,
    spacing_table,
    split_step_row,
    split_step_table,
)
from sim.texts.table import aligned, length
from sim.units import SHOWN_UNIT, in_unit, parse_quantity
from sim.wording import CAUTIONS, LIMITS, TOLD, counted, joined, of_hundred, points

_ASSUMED: Final = (
    "High and deep returns go out more easily, and a high one may be struck before it bounces: the "
    "pair's errors are not modelled, and the opponents let every return bounce. Who has not "
    "arrived stops where the split step comes, and is as ready there: in this model it gains "
    "nothing by itself to have arrived."
)
# Means of the time below this (s) apart are the same to anybody on court.
_SAME_TIME: Final = 0.05
# And so are places (ft).
_SAME_PLACE: Final = 0.1
# A return at the far end of a curve: more of what, what it is there and at the near end, and how
# its size is told.
_HIGHER: Final = "higher", "high", "low", "is {} high"
_DEEPER: Final = "deeper", "deep", "shallow", "lands {} from the net"
# Warn from this share of the balls on.
_TOLD: Final = 0.01
# Nobody trains to be faster by more than a fifth: our assumption. By our own, players ten years
# younger are faster by less than that until the seventies.
_MOST_FASTER: Final = 1.2
# Top speed of world-class sprinters (ft/s), rounded: 20 m in 1.61 s, 100 m final, Berlin 2009
# (memory).
_SPRINTERS: Final = 40.0


def terminal_text(result: Approach, units: str = "us") -> str:
    """The answer in sentences, how sure it is, tables, what it assumes, limits and cautions."""
    scenario = result.scenario
    parts = [
        scenario.name,
        "What can the pair do between its return and the opponents' third shot?",
    ]
    parts += ["", *answer(result, units), "", *how_sure(result), ""]
    if not result.ways[0][0].balls:
        return "\n".join([*parts, *LIMITS, *CAUTIONS])
    parts += [f"When they would arrive, and where the shot finds them, after {_after(result)}"]
    parts += [aligned(arrival_table(result, units)), ""]
    parts += ["How far apart they are on the way, by how much of the time has passed"]
    parts += [aligned(spacing_table(result, units)), *spacing_warnings(result, units), ""]
    parts += ["Who stops for the split step, against the twin that runs on; both at the same shots"]
    parts += [aligned(split_step_table(result, units)), ""]
    name = result.returns.policy.name
    parts += [
        f"As the return lands farther from the net, its height as the scenario has it ({name})"
    ]
    parts += [aligned(curve_table(result.returns.by_depth, units)), ""]
    parts += [f"As it gets higher, where it lands as the scenario has it ({name})"]
    parts += [aligned(curve_table(result.returns.by_height, units)), ""]
    parts += [f"The best of {_many(result)} returns tried, on fresh shots ({name})"]
    parts += [aligned(chosen_table(result, units)), ""]
    parts += [*remedies_in_words(result, units)]
    parts += [_ASSUMED, *LIMITS, *CAUTIONS]
    return "\n".join(parts)


def _after(result: Approach) -> str:
    first = result.directions[0]
    return RETURNS[first] if first == "all" else f"returns {RETURNS[first]}"


def answer(result: Approach, units: str = "us") -> list[str]:
    """The answer: in time or not, what height and depth buy, the best return, stop or run on."""
    if not result.ways[0][0].balls:
        return ["No third shot stayed in play: nothing to tell."]
    return [
        *_in_time(result, units),
        _curve_sentence(result.returns.by_height, *_HIGHER, units),
        _curve_sentence(result.returns.by_depth, *_DEEPER, units),
        *_best_returns(result, units),
        _stopping(result, units),
    ]


def _in_time(result: Approach, units: str) -> list[str]:
    way, (left, right, row) = result.ways[0][0], result.arrival_rows[:3]
    depths = [length(player["from_net_ft"], units) for player in (left, right)]
    found = (
        f"both players {depths[0]} from the net"
        if depths[0] == depths[1]
        else f"the left player {depths[0]} from the net, the right one {depths[1]}"
    )
    lead = result.scenario.run_in.split_step_lead
    stop = f" and {lead:.2g} s more to settle" if way.policy.split_step else ""
    return [
        f"Of 100 balls both have arrived in time for {_of_100(row['arrived_share'])} "
        f"({way.policy.name}): they need {row['needs_s']:.1f} s{stop}, and the opponents strike "
        f"after {row['has_s']:.1f} s. The shot finds {found}."
    ]


def _of_100(share: float) -> str:
    """A share as a number of 100; neither none nor all unless it is.

    >>> _of_100(0.0), _of_100(0.004), _of_100(0.153), _of_100(0.998), _of_100(1.0)
    ('none', 'under 1', '15', 'over 99', 'all')
    """
    if share in (0.0, 1.0):
        return "all" if share else "none"
    if share < 0.005:
        return "under 1"
    return "over 99" if share >= 0.995 else f"{100.0 * share:.0f}"


def _curve_sentence(
    curve: list[Tried], word: str, how: str, opposite: str, told: str, units: str
) -> str:
    """What a return at one end of the curve does against one at the other end."""
    played = [tried for tried in curve if tried.balls]
    if len(played) < 2:
        return f"Whether a {word} return buys time: hardly a third shot stayed in play."
    least, most = played[0], played[-1]
    values = [size_of(tried.what, how) for tried in (least, most)]
    shown = [round_length(value, units) for value in values]
    times = least.mean("time"), most.mean("time")
    gain = times[1] - times[0]
    time = (
        "hardly changes the time"
        if abs(gain) < _SAME_TIME
        else ("buys time" if gain > 0.0 else "costs time")
    )
    depths = [length(tried.depth, units) for tried in (most, least)]
    found = (
        f"{depths[0]} from the net after the {how} one, {depths[1]} after the {opposite} one"
        if depths[0] != depths[1]
        else f"{depths[0]} from the net either way"
    )
    row = difference_row(most, least, "in_control", comparisons=2)
    return (
        f"A {word} return {time}: the opponents strike after {times[1]:.1f} s if it "
        f"{told.format(shown[1])}, after {times[0]:.1f} s if {shown[0]}, and the shot finds "
        f"the pair {found}. In control of 100: {_gain(row)}."
    )


def _gain(row: Row) -> str:
    """A difference as a number of 100, or what can be said of it with its interval.

    >>> _gain({"points": 0.1, "points_low": -1.2, "points_high": 1.4, "verdict": "cannot tell yet"})
    'cannot tell yet (+0.1 [−1.2, +1.4])'
    """
    told = row["verdict"] in TOLD
    return of_hundred(row) if told else f"{row['verdict']} ({points(row)})"


def _best_returns(result: Approach, units: str) -> list[str]:
    chosen, wanted = result.returns.chosen, _of_100(result.arrive)
    if not {MOST_TIME, MOST_CONTROL} <= chosen.keys():
        return []
    most, control = chosen[MOST_TIME], chosen[MOST_CONTROL]
    if all(tried.share("arrived") >= result.arrive for tried in result.returns.together()):
        told = f"Every return tried lets both arrive for {wanted} of 100."
    elif LEAST in chosen:
        least = chosen[LEAST]
        told = (
            f"The lowest return tried that lets both arrive for {wanted} of 100 goes "
            f"{return_words(least.what, units)}: both arrive for "
            f"{_of_100(least.share('arrived'))} of 100 on fresh shots."
        )
    else:
        told = (
            f"No return tried lets both arrive for {wanted} of 100: the one with the most time "
            f"goes {return_words(most.what, units)}. It gives {most.mean('time'):.1f} s and finds "
            f"them {length(most.depth, units)} from the net."
        )
    return [
        told,
        f"Most in control is the one {return_words(control.what, units)}: "
        f"{_of_100(control.share('in_control'))} of 100, "
        f"{_both_arrive(control.share('arrived'))}; after the one with the most time "
        f"({return_words(most.what, units)}, {most.mean('time'):.1f} s, both in time for "
        f"{_of_100(most.share('arrived'))}) it is {_of_100(most.share('in_control'))}.",
    ]


def _both_arrive(share: float) -> str:
    """How often both arrive, to go on with a sentence.

    >>> _both_arrive(0.0), _both_arrive(0.153)
    ('though they never both arrive in time', 'and both arrive in time for 15')
    """
    if share == 0.0:
        return "though they never both arrive in time"
    return f"and both arrive in time for {_of_100(share)}"


def _stopping(result: Approach, units: str) -> str:
    """What stopping brings the first policy."""
    row = split_step_row(result, result.scenario.policies[0].name, "in_control")
    deeper = f"the shot finds them {length(row['deeper_ft'], units)} deeper"
    if row["deeper_ft"] < _SAME_PLACE:
        deeper = "the shot finds them in the same place"
    name, late = row["policy"], result.scenario.run_in.late_without_split_step
    react = f"who runs on reacts {late:.2g} s later"
    if row["verdict"] == "more":
        size = of_hundred(row).removesuffix(" more")
        link = "although" if row["deeper_ft"] >= _SAME_PLACE else "and"
        return f"Stopping gains {size} of 100 in control {link} {deeper} ({name}): {react}."
    if row["verdict"] == "fewer":
        size = of_hundred(row).removesuffix(" fewer")
        return f"Stopping costs {size} of 100 in control: {deeper} ({name}), although {react}."
    return f"Stopping or running on, in control: {row['verdict']}; {deeper}, {react} ({name})."


def how_sure(result: Approach) -> list[str]:
    """How much was played, and what brackets mean."""
    scenario, way = result.scenario, result.ways[0][0]
    directions = [RETURNS[name] for name in scenario.return_of_serve.directions]
    first = f" (times and places from the first {BLOCK:,})" if scenario.run.shots > BLOCK else ""
    return [
        f"{counted(scenario.run.shots, 'shot')} for each return and setting{first}, returns "
        f"{joined(directions)}; after the pair's own, {way.balls:,} third shots stay in play. All "
        "settings face the same random numbers.",
        "In square brackets 95 % intervals, each on its own; in round ones where the middle eight "
        "balls of ten lie. More and fewer hold for all comparisons of a kind together, which asks "
        "for more than an interval that leaves zero out.",
    ]


def spacing_warnings(result: Approach, units: str = "us") -> list[str]:
    """Who comes too close or too far apart, and after which return it is worst."""
    told = []
    for policy in result.scenario.policies:
        rows = [row for row in result.spacing_rows if row["policy"] == policy.name]
        for name, bound, words in (
            ("too_close", TOO_CLOSE, "closer than"),
            ("too_far", TOO_FAR, "farther apart than"),
        ):
            worst = max(rows, key=lambda row: row[f"{name}_share"])
            if worst["in_play"] and worst[f"{name}_share"] >= _TOLD:
                where = RETURNS[worst["return_direction"]]
                if name == "too_far" and worst["at_0_percent_ft"] > bound:
                    where += f"; they start {length(worst['at_0_percent_ft'], units)} apart"
                told.append(
                    f"Mind: {policy.name}: {words} {round_length(bound, units)} on the way for "
                    f"{_of_100(worst[f'{name}_share'])} of 100 balls ({where})."
                )
    if told:
        return told
    return [
        f"Nobody comes closer than {round_length(TOO_CLOSE, units)} or farther apart than "
        f"{round_length(TOO_FAR, units)} (common practice: {round_length(6.0, units)}, at most "
        f"{round_length(8.0, units)})."
    ]


def _many(result: Approach) -> int:
    directions = len(result.scenario.return_of_serve.directions)
    return len(result.returns.together()) * directions


def remedies_in_words(result: Approach, units: str = "us") -> list[str]:
    """What would let both arrive after the pair's own returns, a sentence each."""
    if not result.remedies:
        return []
    wanted = _of_100(result.arrive)
    lines = [f"After its own returns, for both to arrive for {wanted} of 100 balls (fresh shots):"]
    for remedy in result.remedies:
        words, gain = _remedy_words(result.scenario, remedy, units), _gain(remedy.row())
        lines.append(f"- {words}; in control of 100: {gain}.")
    return [*lines, ""]


def _remedy_words(scenario: Scenario, remedy: Remedy, units: str) -> str:
    there = _of_100(remedy.played.share("arrived"))
    value = remedy.limit if remedy.value is None else remedy.value
    if remedy.kind == FASTER:
        what = _faster_legs(scenario, value, units)
    elif remedy.kind == SOONER:
        what = f"starting {value:.2f} s sooner"
    else:
        what = f"stopping {length(value, units)} from the net"
    if remedy.value is None:
        return f"{what} would not do: {there} of 100"
    return f"{what}: {there} of 100"


def _faster_legs(scenario: Scenario, needed: float, units: str) -> str:
    """A top speed (ft/s) that both would need, beside those that people have."""
    speeds = [getattr(scenario.pair, name).top_speed for name in PLAYERS]
    slowest = min(speeds)
    who = "the pair has" if slowest == max(speeds) else "the slower of the pair has"
    fastest = max(
        parse_quantity(group["top_speed"], "running speed") for group in AGE_GROUPS.values()
    )
    beside = [f"{who} {_running(slowest, units)}"]
    beside.append(f"players in their thirties {_running(fastest, units)} by our assumption")
    if needed > fastest:
        sprinters = _running(_SPRINTERS, units, decimals=0)
        beside.append(f"world-class sprinters about {sprinters}")
    far = ", which is out of reach" if needed > _MOST_FASTER * slowest else ""
    what = f"a top speed of {_running(needed, units)}{far}"
    return f"{what} ({', '.join(beside)}; legs help later, too)"


def _running(speed: float, units: str, decimals: int = 1) -> str:
    """A running speed (ft/s inside) in tenths at most: nobody is timed more finely.

    >>> _running(18.0, "us"), _running(18.0, "metric"), _running(40.0, "metric", decimals=0)
    ('18 ft/s', '5.5 m/s', '12 m/s')
    """
    unit = SHOWN_UNIT[units]["running speed"]
    return f"{in_unit(speed, 'running speed', unit):.{decimals}f}".removesuffix(".0") + f" {unit}"
