"""What a person reads of a comparison's doubt: sampling, and not knowing the inputs."""

from __future__ import annotations

import math
from typing import Final

from sim.analyses.uncertainty import Doubt, Estimate, Uncertainty
from sim.tables import CANNOT_TELL, Row
from sim.texts.table import aligned, escaped, grid
from sim.wording import TOLD, decimals, of_hundred, percent, places_together, points

_MEASURE_WORDS: Final = {"in_control": "In control", "reached": "Reached"}
_MOST_KEYS: Final = 4
# Of two policies, and of more.
_CANNOT_TELL: Final = (
    "Cannot tell yet: the interval with all doubt holds zero.",
    "Cannot tell yet: zero is not ruled out for all comparisons together, which asks for more than "
    "an interval that leaves it out.",
)


HEADING: Final = "With what you do not know"
OWN_VALUES: Final = "At the scenario's own values"


def details(uncertainty: Uncertainty) -> str:
    """How the `answer` with all doubt was found, and a table for each measure."""
    parts = [f"{HEADING}: sampling, and not knowing", *_how(uncertainty), ""]
    for measure in _MEASURE_WORDS:
        parts += [_heading(uncertainty, measure), aligned(_table(uncertainty, measure)), ""]
    return "\n".join([*parts, *_reading(uncertainty)])


def markdown_details(uncertainty: Uncertainty) -> str:
    """The same as a section of the report page."""
    parts = [f"## {HEADING}", "", *map(escaped, _how(uncertainty))]
    for measure in _MEASURE_WORDS:
        parts += ["", escaped(_heading(uncertainty, measure)), ""]
        parts += [grid(_table(uncertainty, measure))]
    return "\n".join([*parts, "", *map(escaped, _reading(uncertainty)), ""])


def answer(uncertainty: Uncertainty) -> list[str]:
    """Who gets more and who fewer, by the interval that holds all doubt; a sentence a measure."""
    baseline = uncertainty.scenario.baseline.name
    sentences = []
    for measure, words in _MEASURE_WORDS.items():
        differences = _estimates(uncertainty, measure, "difference")
        if len(differences) == 1:
            sentences.append(_one_told(words, differences[0], baseline))
        elif differences:
            sentences.append(f"{words} of 100, against {baseline}: {_told(differences)}.")
    return sentences


def _one_told(words: str, difference: Estimate, baseline: str) -> str:
    """A single difference with its interval, and how far either reason reaches."""
    row = _points_row(difference)
    sampling, not_knowing = _parts(difference.doubt)
    return (
        f"{words} of 100, {difference.policy} against {baseline}: {of_hundred(row)}; points "
        f"{points(row)}: sampling {sampling}, not knowing {not_knowing}."
    )


def _told(differences: list[Estimate]) -> str:
    """The policies by verdict: more and fewer first, what cannot be told last."""
    ordered = sorted(differences, key=lambda each: -abs(each.doubt.mean))
    told = [each for each in ordered if each.verdict in TOLD]
    rows = [_points_row(each) for each in told]
    places = places_together(rows)
    groups = [
        ", ".join(
            f"{each.policy} {of_hundred(row, places)}" for each, row in zip(told, rows, strict=True)
        )
    ]
    others = {each.verdict for each in ordered if each not in told}
    for verdict in sorted(others, key=lambda verdict: (verdict == CANNOT_TELL, verdict)):
        names = ", ".join(each.policy for each in ordered if each.verdict == verdict)
        groups.append(f"{verdict}: {names}")
    return "; ".join(filter(None, groups))


def _how(uncertainty: Uncertainty) -> list[str]:
    sources = "; ".join(
        f"{name} ({', '.join(keys[:_MOST_KEYS])}{', ...' if len(keys) > _MOST_KEYS else ''})"
        for name, keys in uncertainty.sources
    )
    return [
        f"{uncertainty.settings:,} settings drawn from {sources}; {uncertainty.shots:,} shots for "
        "each return direction in every one."
    ]


def _heading(uncertainty: Uncertainty, measure: str) -> str:
    return f"{_MEASURE_WORDS[measure]}: mean over the settings [95 % interval], and its two reasons"


def _table(uncertainty: Uncertainty, measure: str) -> list[list[str]]:
    baseline, settings = uncertainty.scenario.baseline.name, uncertainty.settings
    table = [["policy", "%", "points", "sampling", "not knowing", f"ahead of {baseline}"]]
    differences = {each.policy: each for each in _estimates(uncertainty, measure, "difference")}
    for share in _estimates(uncertainty, measure, "share"):
        shown = percent(share.doubt.mean, share.doubt.low, share.doubt.high)
        difference = differences.get(share.policy)
        if difference is None:
            table.append([share.policy, shown, "baseline", *_parts(share.doubt), ""])
            continue
        ahead = f"in {round(difference.ahead * settings):,} of {settings:,} settings"
        row = [share.policy, shown, points(_points_row(difference))]
        table.append([*row, *_parts(difference.doubt), ahead])
    return table


def _parts(doubt: Doubt) -> list[str]:
    return [_part(doubt.sampling), _part(doubt.not_knowing)]


def _part(half: float) -> str:
    """One of the two reasons, in points; rounded up, so that it is never flattered."""
    if half == 0.0:
        return "none seen"
    places = decimals(100.0 * half)
    rounded = math.ceil(100.0 * half * 10**places - 1e-9) / 10**places
    return f"±{rounded:.{places}f}"


def _reading(uncertainty: Uncertainty) -> list[str]:
    sentences = [
        "Sampling shrinks with more --shots; not knowing shrinks only by measuring: reachshare "
        "sensitivity tells what to measure first.",
        "The baseline's two reasons are those of its share, the others' those of the difference.",
    ]
    if any(each.verdict == CANNOT_TELL for each in uncertainty.estimates):
        sentences.insert(0, _CANNOT_TELL[len(uncertainty.scenario.policies) > 2])
    return sentences


def _estimates(uncertainty: Uncertainty, measure: str, quantity: str) -> list[Estimate]:
    wanted = measure, quantity
    return [e for e in uncertainty.estimates if (e.measure, e.quantity) == wanted]


def _points_row(estimate: Estimate) -> Row:
    doubt = estimate.doubt
    ends = {"points": doubt.mean, "points_low": doubt.low, "points_high": doubt.high}
    return {name: 100.0 * value for name, value in ends.items()} | {"verdict": estimate.verdict}
