"""What a person reads: the table in the terminal and the worked report as a Markdown page."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from sim import __version__
from sim.analyses.uncertainty import Uncertainty
from sim.comparison import Comparison
from sim.quantities import TAGS
from sim.scenario import RETURN_DIRECTIONS, RULES, Places, Policy, Scenario
from sim.settings import Setting, settings
from sim.tables import CANNOT_TELL, Row
from sim.tally import MEASURES
from sim.texts import uncertainty
from sim.texts.table import aligned, escaped, grid, length
from sim.wording import (
    CAUTIONS,
    DIRECTIONS,
    LIMITS,
    TOLD,
    half_width,
    joined,
    of_hundred,
    percent,
    places_together,
    points,
    share_of_hundred,
)

_MEASURE_WORDS: Final = {"in_control": "In control", "reached": "Reached"}
_SMALLEST_LEAK_SHOWN: Final = 0.0005


def terminal_text(
    comparison: Comparison, units: str = "us", doubt: Uncertainty | None = None
) -> str:
    """The result as aligned text: the answer, a table per return direction, leaks, places.

    With ``doubt`` the answer that holds it comes first, and its tables before the limits.
    """
    scenario = comparison.scenario
    parts = [scenario.name, scenario.question, ""]
    told = uncertainty.answer(doubt) if doubt else []
    if told:
        parts += [f"{uncertainty.HEADING}:", *told, "", f"{uncertainty.OWN_VALUES}:"]
    parts += [*answer(comparison), ""]
    parts += [_played(comparison), *how_sure(comparison), _confidence(scenario), ""]
    for direction in directions(scenario):
        parts += [_heading(direction), aligned(_comparison_table(comparison, direction)), ""]
        if direction == directions(scenario)[0] and len(scenario.policies) > 1:
            parts += [f"Of 100 balls in play, against {scenario.baseline.name}"]
            parts += [aligned(_of_hundred_table(comparison, direction)), ""]
    parts += ["Where balls get through, of 100 in play"]
    parts += [aligned(leak_table(comparison)), ""]
    parts += [f"Where the shot finds the pair, on average over the returns; {_ARRIVED}"]
    parts += [aligned(_arrival_table(comparison, units)), ""]
    parts += ["The policies", aligned(_policy_table(scenario, units)), ""]
    for policy in scenario.policies:
        if policy.places is not None:
            parts += [f"Where {policy.name} has them stand"]
            parts += [aligned(_places_table(policy.places, units)), ""]
    if doubt:
        parts += [uncertainty.details(doubt), ""]
    parts += [*LIMITS, *CAUTIONS]
    return "\n".join(parts)


_ARRIVED: Final = "arrived: where the policy wants the player"


def _confidence(scenario: Scenario) -> str:
    """How intervals and verdicts are meant."""
    text = "All policies face the same shots; in brackets 95 % intervals, each on its own."
    others = len(scenario.policies) - 1
    if others > 1:
        text += (
            f" More and fewer hold for all {others} comparisons together, which asks for more than "
            "an interval that leaves zero out."
        )
    return text


def how_sure(comparison: Comparison) -> list[str]:
    """Whether the precision asked for was reached, in a sentence; nothing where none was asked."""
    precision, reached = comparison.precision, comparison.half_width
    if precision is None or reached is None:
        return []
    what = f"Differences to {comparison.scenario.baseline.name},"
    if precision.of == "share" or not comparison.scenario.policies[1:]:
        what = "Shares"
    shots = f"{comparison.shots_played:,} shots for each return direction"
    measure = _MEASURE_WORDS[precision.measure].lower()
    known = f"{what} {measure}: known to ±{half_width(reached)} points"
    if comparison.precise_enough:
        return [f"{known} after {shots}, as asked (±{precision.points:g})."]
    return [
        f"{known} only; asked was ±{precision.points:g}. Stopped at {shots}; "
        "a larger --max-shots (with --force) plays it anew and longer."
    ]


def directions(scenario: Scenario) -> list[str]:
    """Return directions to report on, all together first where there are several."""
    given: list[str] = [*scenario.return_of_serve.directions]
    return given if len(given) == 1 else ["all", *given]


def answer(comparison: Comparison) -> list[str]:
    """The answer in sentences: shares in control, then who reaches more and who fewer."""
    scenario = comparison.scenario
    baseline, whole = scenario.baseline.name, directions(scenario)[0]
    rows = _summary(comparison, whole)
    if rows[0]["in_play"] == 0:
        return ["No third shot stayed in play: nothing to compare."]
    ordered = sorted(rows, key=lambda row: -row["in_control_share"])
    shares = ", ".join(f"{row['policy']} {share_of_hundred(row, 'in_control')}" for row in ordered)
    sentences = [f"Of 100 balls in play the pair gets in control: {shares}."]
    if len(rows) == 1:
        return sentences
    sentences += [
        f"{words} of 100, against {baseline}: {_told(_differences(comparison, whole, measure))}"
        for measure, words in _MEASURE_WORDS.items()
    ]
    return sentences


def _told(rows: list[Row]) -> str:
    """Differences in balls of 100, the largest first; after them what cannot be told from none."""
    told, groups, places = [], dict[str, list[str]](), places_together(rows)
    for row in sorted(rows, key=lambda row: -abs(row["points"])):
        if row["verdict"] in TOLD:
            told.append(f"{row['policy']} {of_hundred(row, places)}")
        else:
            groups.setdefault(row["verdict"], []).append(row["policy"])
    # The most that is known comes first.
    ordered = sorted(groups, key=lambda verdict: (verdict == CANNOT_TELL, verdict))
    others = [f"{verdict}: {', '.join(groups[verdict])}" for verdict in ordered]
    return "; ".join([", ".join(told)] * bool(told) + others) + "."


def _played(comparison: Comparison) -> str:
    scenario, row = comparison.scenario, comparison.summary_rows[0]
    sides = joined([DIRECTIONS[side] for side in scenario.return_of_serve.directions])
    shots, in_play = row["shots"], row["in_play"]
    return (
        f"{shots:,} third shots by {scenario.opponents.level} opponents after returns {sides}: "
        f"{in_play:,} in play, {row['net']:,} into the net, {row['out']:,} out."
    )


def _heading(direction: str) -> str:
    return "After all returns" if direction == "all" else f"After returns {DIRECTIONS[direction]}"


def _summary(comparison: Comparison, direction: str) -> list[Row]:
    return [
        row
        for row in comparison.summary_rows
        if (row["return_direction"], row["shot"], row["lane"]) == (direction, "all", "all")
    ]


def _differences(comparison: Comparison, direction: str, measure: str) -> list[Row]:
    return [
        row
        for row in comparison.difference_rows
        if (row["return_direction"], row["shot"], row["measure"]) == (direction, "all", measure)
    ]


def _comparison_table(comparison: Comparison, direction: str) -> list[list[str]]:
    baseline = comparison.scenario.baseline.name
    header = ["policy", "in control, %", "reached, %"]
    table = [[*header, "in control, points", "reached, points"]]
    against = {
        (row["policy"], row["measure"]): row
        for measure in MEASURES
        for row in _differences(comparison, direction, measure)
    }
    for row in _summary(comparison, direction):
        line = [str(row["policy"])]
        line += [
            percent(*(row[f"{m}_{k}"] for k in ("share", "low", "high"))) for m in _MEASURE_WORDS
        ]
        if row["policy"] == baseline:
            line += ["baseline", "baseline"]
        else:
            line += [points(against[row["policy"], measure]) for measure in _MEASURE_WORDS]
        table.append(line)
    return table


def _of_hundred_table(comparison: Comparison, direction: str) -> list[list[str]]:
    rows = {measure: _differences(comparison, direction, measure) for measure in _MEASURE_WORDS}
    columns = []
    for each in rows.values():
        places = places_together(each)
        columns.append([of_hundred(row, places) for row in each])
    names = [row["policy"] for row in rows["in_control"]]
    return [["policy", "in control", "reached"], *map(list, zip(names, *columns, strict=True))]


def _policy_table(scenario: Scenario, units: str) -> list[list[str]]:
    table = [["policy", "apart", "from net", "rule"]]
    for policy in scenario.policies:
        stop = "" if policy.split_step else "; no split step"
        row = [policy.name, length(policy.gap, units), _from_net(policy, units)]
        if policy.places is not None:
            row = [policy.name, *_apart_and_depth(policy.places, units)]
        table.append([*row, f"{RULES[policy.rule]}{stop}"])
    return table


def _from_net(policy: Policy, units: str) -> str:
    """How far both are to be from the net, or each of the two."""
    depths = [
        policy.depth if own is None else own
        for own in (policy.returner_depth, policy.partner_depth)
    ]
    if depths[0] == depths[1]:
        return length(depths[0], units)
    returner, partner = (length(depth, units) for depth in depths)
    return f"returner {returner}, partner {partner}"


def _apart_and_depth(places: Places, units: str) -> list[str]:
    """From the least to the most, over the return directions and players."""
    spots = [spots for name in RETURN_DIRECTIONS if (spots := places.after(name))]
    apart = [
        math.hypot(two.right.from_centre - two.left.from_centre, two.right.depth - two.left.depth)
        for two in spots
    ]
    depths = [spot.depth for two in spots for spot in (two.left, two.right)]
    return [_from_to(length(min(v), units), length(max(v), units)) for v in (apart, depths)]


def _from_to(least: str, most: str) -> str:
    """Two lengths in the same unit as one, or as a range."""
    return most if least == most else f"{least.split()[0]} to {most}"


def _places_table(places: Places, units: str) -> list[list[str]]:
    """Where a policy of the rule best has the two stand."""
    table = [["after returns", "left", "from net", "right", "from net"]]
    for name in RETURN_DIRECTIONS:
        two = places.after(name)
        row = [DIRECTIONS[name]]
        for spot in (two.left, two.right) if two else ():
            side = "left" if spot.from_centre < 0.0 else "right"
            row += [f"{length(abs(spot.from_centre), units)} {side} of centre"]
            row += [length(spot.depth, units)]
        if two:
            table.append(row)
    return table


def leak_table(comparison: Comparison) -> list[list[str]]:
    names = list(dict.fromkeys(row["leak"] for row in comparison.leak_rows))
    table = [["policy", *names]]
    for policy in comparison.scenario.policies:
        shares = {
            row["leak"]: row
            for row in comparison.leak_rows
            if (row["policy"], row["return_direction"], row["shot"]) == (policy.name, "all", "all")
        }
        table.append([policy.name, *(_leak_cell(shares[name]) for name in names)])
    return table


def _leak_cell(row: Row) -> str:
    if row["balls"] == 0:
        return "0"
    if row["leak_share"] < _SMALLEST_LEAK_SHOWN:
        return "under 0.1"
    return percent(row["leak_share"], row["leak_low"], row["leak_high"])


def _arrival_table(comparison: Comparison, units: str) -> list[list[str]]:
    header = ["policy", "left from net", "right from net", "apart", "narrowest"]
    table = [[*header, "left arrived", "right arrived"]]
    for policy in comparison.scenario.policies:
        rows = [row for row in comparison.run_in_rows if row["policy"] == policy.name]
        balls = sum(row["in_play"] for row in rows)
        if not balls:
            table.append([policy.name, *["no balls in play"] * 6])
            continue

        def mean(name: str, rows: list[Row] = rows, balls: int = balls) -> float:
            return sum(row[name] * row["in_play"] for row in rows if row["in_play"]) / balls

        lengths = ("left_depth_ft", "right_depth_ft", "spacing_ft", "narrowest_ft")
        line = [policy.name, *(length(mean(name), units) for name in lengths)]
        line += [f"{100 * mean(f'{name}_arrived_share'):.0f} %" for name in ("left", "right")]
        table.append(line)
    return table


def markdown_report(
    comparison: Comparison,
    figures: Iterable[str],
    units: str = "us",
    doubt: Uncertainty | None = None,
) -> str:
    """The worked report as a Markdown page beside its figures (named without ending)."""
    scenario, figures = comparison.scenario, list(figures)
    page = [f"# {escaped(scenario.name)}", "", f"**{escaped(scenario.question)}**", ""]
    told = uncertainty.answer(doubt) if doubt else []
    if told:
        page += [f"{uncertainty.HEADING}:", "", *(f"- {escaped(sentence)}" for sentence in told)]
        page += ["", f"{uncertainty.OWN_VALUES}:", ""]
    page += [f"- {escaped(sentence)}" for sentence in answer(comparison)]
    page += ["", _played(comparison), "", *how_sure(comparison), _confidence(scenario), ""]
    page += [grid(_policy_table(scenario, units)), ""]
    for policy in scenario.policies:
        if policy.places is not None:
            page += [f"Where {escaped(policy.name)} has them stand:", ""]
            page += [grid(_places_table(policy.places, units)), ""]
    if "shares" in figures:
        page += ["![Share of third shots reached, by policy](shares.png)", ""]
    for direction in directions(scenario):
        page += [
            f"## {_heading(direction)}",
            "",
            grid(_comparison_table(comparison, direction)),
            "",
        ]
    page += ["## Where balls get through", "", "Of 100 balls in play after all returns:", ""]
    page += [grid(leak_table(comparison)), ""]
    for policy in scenario.policies:
        if f"court-{policy.slug}" in figures:
            page += [f"### {escaped(policy.name)}", ""]
            page += [f"![Court with {escaped(policy.name)}](court-{policy.slug}.png)", ""]
    if "lateral" in figures:
        page += ["### Across the court", "", "![Share by lateral position](lateral.png)", ""]
    page += ["## Where the shot finds the pair", ""]
    page += [f"On average over the returns; {_ARRIVED}.", ""]
    page += [grid(_arrival_table(comparison, units)), ""]
    if doubt:
        page += [uncertainty.markdown_details(doubt)]
        if "uncertainty" in figures:
            page += ["![Differences with sampling, and with all doubt](uncertainty.png)", ""]
    page += ["## What the numbers leave out, and cautions", ""]
    page += [f"- {sentence}" for sentence in (*LIMITS, *CAUTIONS)]
    page += ["", "## What it rests on", "", *_settings_section(settings(scenario, units))]
    page += ["", f"reachshare {__version__}, {scenario.run.sampling}, seed {scenario.run.seed}, "]
    page[-1] += f"{comparison.shots_played:,} shots for each return direction."
    return "\n".join(page) + "\n"


def _settings_section(entries: list[Setting]) -> list[str]:
    given = [["setting", "value"]] + [[e.key, e.value] for e in entries if e.given]
    rest = [["setting", "default", "tag", "source"]]
    rest += [[e.key, e.value, f"[{e.tag}]", e.source] for e in entries if not e.given and e.tag]
    tags = "; ".join(f"[{tag}] {meaning}" for tag, meaning in TAGS.items())
    return [
        "Given by the scenario:",
        "",
        grid(given),
        "",
        f"Defaults, each with a tag: {tags}.",
        "",
        grid(rest),
    ]
