"""What the fit of a chart of third shots found, for the terminal."""

from __future__ import annotations

from typing import Final

import numpy as np

from sim.analyses.fit_shots import (
    ENOUGH_FOR_A_DIRECTION,
    ENOUGH_FOR_A_MEAN,
    ENOUGH_FOR_A_SPREAD,
    ShotsFit,
)
from sim.analyses.shot_match import FACTORS
from sim.analyses.simulated_chart import AIMS, DRIVE_SPEED
from sim.fitted import Estimate
from sim.opponents import LANES, SHOTS
from sim.scenario import RETURN_DIRECTIONS
from sim.texts.fit_ranges import (
    RANGES,
    digits,
    ends,
    more_counting,
    quantity,
    range_words,
    with_value,
)
from sim.texts.table import aligned
from sim.wording import counted, joined

_AIMED: Final = {"line": "down the line", "middle": "to the middle", "cross": "cross-court"}
_SHOT_WORDS: Final = {"drive": "drives", "drop": "drops", "lob": "lobs"}
# More of a posterior outside what can be played than this is told.
_TOLD_OUTSIDE: Final = 0.025
_TOLD_AT_LEAST: Final = 0.05
# With more of it outside, no errors that were played go with the chart.
_MOSTLY: Final = 0.5


def shots_text(fit: ShotsFit, chart_name: str, units: str = "us") -> str:
    """A chart of third shots: mix, lanes, failures, errors and aims."""
    chart, like = fit.chart, fit.like
    results = ", ".join(
        f"{number:,} {words}"
        for number, words in (
            (chart.results["in"], "in"),
            (chart.results["net"], "into the net"),
            (chart.results["out"], "out"),
        )
    )
    parts = [
        _shots_answer(fit),
        "",
        f"{chart_name}: {counted(chart.size, 'third shot')}: {results}.",
    ]
    parts += [RANGES, "", "Of 100 third shots", aligned(_share_table(fit)), ""]
    aims = _aim_table(fit, units)
    if aims[1:]:
        parts += ["Where they land or how fast they are, and where they were aimed for that"]
        parts += [aligned(aims), ""]
    parts += [*_shot_notes(fit, like.name), more_counting(chart.size, "shot")]
    return "\n".join(parts)


def _shots_answer(fit: ShotsFit) -> str:
    shares = {e.key: e for e in fit.posterior.estimates if e.key.startswith("opponents.shots.")}
    played = joined([f"{kind} {shares[f'opponents.shots.{kind}'].value:.0f}" for kind in SHOTS])
    factor = fit.factor
    if fit.match.outside > _MOSTLY:
        curve = 100.0 * fit.match.curve
        errors = (
            f"errors of {FACTORS[0]:g} to {FACTORS[-1]:g} times those of {_whose(fit)} make "
            f"{curve[0]:.0f} to {curve[-1]:.0f} fail, and the fit stands at the end of that"
        )
    else:
        errors = (
            f"that takes errors {digits(factor.value, factor.low, factor.high)} times those of "
            f"{_whose(fit)} ({ends(factor.low, factor.high)})"
        )
    return (
        f"Of 100 third shots these opponents {played}, and {fit.failing.value:.0f} fail; {errors}."
    )


def _whose(fit: ShotsFit) -> str:
    opponents = fit.like.opponents
    given = "errors" in opponents.model_fields_set and opponents.errors.model_fields_set
    return f'the scenario "{fit.like.name}"' if given else f"level {opponents.level}"


def _share_table(fit: ShotsFit) -> list[list[str]]:
    table = [["", "counted", "estimate", "range", "until now"]]
    known = {estimate.key: estimate for estimate in fit.posterior.estimates}
    rows = [(_SHOT_WORDS[k], f"shots.{k}", fit.chart.shots[n]) for n, k in enumerate(SHOTS)]
    rows += [(_AIMED[k], f"lanes.{k}", fit.chart.lanes[n]) for n, k in enumerate(LANES)]
    for direction in RETURN_DIRECTIONS:
        counts = fit.chart.lanes_by_return[direction]
        rows += [
            (
                f"{_AIMED[kind]}, after a return {_AIMED[direction]}",
                f"lanes_by_return.{direction}.{kind}",
                counts[number],
            )
            for number, kind in enumerate(LANES)
        ]
    for words, key, count in rows:
        if f"opponents.{key}" in known:
            table.append(_share_line(words, int(count), known[f"opponents.{key}"]))
    table.append(_share_line("fail: net or out", fit.chart.failed, fit.failing))
    return table


def _share_line(words: str, count: int, estimate: Estimate) -> list[str]:
    ends = f"{estimate.low:.0f} to {estimate.high:.0f}"
    numbers = [f"{estimate.value:.0f}", ends, f"{estimate.usual:.0f}"]
    return [words, f"{count} of {estimate.n}", *numbers]


def _aim_table(fit: ShotsFit, units: str) -> list[list[str]]:
    table = [["", "balls", "charted", "aimed at", "range", "until now"]]
    known = {e.key or e.quantity: e for e in fit.posterior.estimates}
    for number in fit.match.targets:
        aim = AIMS[number]
        for part, words in (("mean", aim.name), ("sd", "  spread (sd)")):
            charted = known[f"{aim.name}, charted {part}"]
            fitted = known.get(f"{aim.key}.{part}")
            line = [words, str(charted.n) if part == "mean" else "", quantity(charted, units)]
            if fitted is None:
                table.append([*line, "not fitted", "", ""])
                continue
            ends = range_words(fitted, units)
            usual = quantity(with_value(fitted, fitted.usual), units)
            table.append([*line, quantity(fitted, units), ends, usual])
    return table


def _shot_notes(fit: ShotsFit, name: str) -> list[str]:
    """What the ranges rest on, and what could not be told."""
    chart, found = fit.chart, fit.match
    notes = [f'"Until now" is what the scenario "{name}" has.']
    if chart.failed:
        failing, net = found.failing
        notes.append(
            f"Played with the fitted errors and aims {100.0 * failing:.0f} of 100 fail, "
            f"{100.0 * net / max(failing, 1e-6):.0f} of 100 of those into the net; charted were "
            f"{chart.results['net']} of {chart.failed} into the net."
        )
    if found.outside > _TOLD_OUTSIDE:
        low, high = (f"{100.0 * share:.1f}" for share in (found.curve[0], found.curve[-1]))
        notes.append(
            f"Errors of {FACTORS[0]:g} to {FACTORS[-1]:g} times the usual were played, with which "
            f"{low} to {high} of 100 fail; {100.0 * found.outside:.0f} % of what the chart allows "
            "lies outside, so that the errors stand at the end of what was played."
        )
    if found.trust < 1.0:
        notes.append(
            "Failures and landing spots of this chart hardly go together in the model; what is "
            "assumed of the aims' spreads was loosened; ranges of errors and aims are rough."
        )
    speeds = found.targets.get(DRIVE_SPEED)
    if speeds and found.aims[DRIVE_SPEED][0] - speeds.mean > AIMS[DRIVE_SPEED].rounding:
        notes.append(
            "Speed of drives: aimed at faster than charted, for drives that would land too deep "
            "are struck more slowly than that."
        )
    for number, share in found.at_limit.items():
        if share > _TOLD_AT_LEAST:
            aim = AIMS[number]
            notes.append(
                f"{aim.name.capitalize()}: in {100.0 * share:.0f} of 100 draws no aim from "
                f"{aim.low} to {aim.high} gives balls like those charted; the nearest stands."
            )
    for number, share in found.at_least.items():
        if share > _TOLD_AT_LEAST:
            notes.append(
                f"{AIMS[number].name.capitalize()}: in {100.0 * share:.0f} of 100 draws the errors "
                "alone scatter balls as much as charted; the aim's own spread then stands at its "
                f"least, {AIMS[number].least_sd}."
            )
    return notes + _left_out(fit)


def _left_out(fit: ShotsFit) -> list[str]:
    """What the chart holds too little of."""
    chart, found, notes = fit.chart, fit.match, list[str]()
    if chart.unknown_lanes:
        notes.append(
            f"{counted(chart.unknown_lanes, 'shot')} without a lane or a landing spot: left out of "
            "the lanes."
        )
    few = [
        AIMS[number].name
        for number in range(len(AIMS))
        if 0 < chart.values.get(number, np.empty(0)).size < ENOUGH_FOR_A_MEAN
    ]
    if few:
        notes.append(f"Too few balls (under {ENOUGH_FOR_A_MEAN}) for: {joined(few)}.")
    alike = [AIMS[number] for number, target in found.targets.items() if target.alike]
    notes += [
        f"{aim.name.capitalize()}: alike for all balls but for rounding. Such values were rounded "
        f"or guessed, so the mean is taken for known within half of {aim.step} at best, however "
        "many there are [A], and the spread stays as it was."
        for aim in alike
    ]
    spreads = [
        AIMS[number].name
        for number, target in found.targets.items()
        if not (target.fits_spread or target.alike)
    ]
    if any(target.fits_spread for target in found.targets.values()):
        notes.append(
            "Assumed before: an aim's own spread is the scenario's, give or take a half [A]; the "
            "rest of the scatter is the errors'. Ranges of aims are approximate: in charts played "
            "with known aims they held nine times in ten."
        )
    if spreads:
        notes.append(
            f"From {ENOUGH_FOR_A_SPREAD} balls on a spread is fitted too; as it was: "
            f"{joined(spreads)}."
        )
    thin = [
        direction
        for direction, lanes in chart.lanes_by_return.items()
        if 0 < lanes.sum() < ENOUGH_FOR_A_DIRECTION
    ]
    if thin:
        notes.append(
            f"Under {ENOUGH_FOR_A_DIRECTION} shots, so no lanes of their own, after returns "
            f"{joined([_AIMED[direction] for direction in thin])}."
        )
    return notes
