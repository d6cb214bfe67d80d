"""What the fits of charts, dashes and marks found, for the terminal."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from sim.analyses.fit_reach import HEIGHT_ERROR, READING_ERROR, READING_MARKS, ReachFit
from sim.analyses.fit_runs import (
    LEARNT,
    TIME_CONSTANT_SPREAD,
    WATCH_DASHES,
    WATCH_ERROR,
    RunFit,
    RunsFit,
    dash_time,
)
from sim.analyses.fit_shots import (
    ENOUGH_FOR_A_DIRECTION,
    ENOUGH_FOR_A_MEAN,
    ENOUGH_FOR_A_SPREAD,
    ShotsFit,
)
from sim.analyses.shot_match import FACTORS
from sim.analyses.simulated_chart import AIMS
from sim.fitted import Estimate, range_of
from sim.opponents import LANES, SHOTS
from sim.scenario import RETURN_DIRECTIONS
from sim.statistics import LEVEL, student_quantile
from sim.texts.table import aligned
from sim.units import METRES_PER_FOOT, SHOWN_UNIT, in_unit
from sim.wording import CAUTIONS, LIMITS, counted, joined

# The dash that says what the fitted legs mean: from the baseline to the line.
SHOWN_DASH: Final = 15.0
_AIMED: Final = {"line": "down the line", "middle": "to the middle", "cross": "cross-court"}
_SHOT_WORDS: Final = {"drive": "drives", "drop": "drops", "lob": "lobs"}
# More of a posterior outside what can be played than this is told.
_TOLD_OUTSIDE: Final = 0.025
_TOLD_AT_LEAST: Final = 0.05
# With more of it outside, no errors that were played go with the chart.
_MOSTLY: Final = 0.5
_HALVING: Final = 3
_TWICE: Final = 2.0
_TWO_DISTANCES: Final = "Dashes over two distances, such as 10 ft and 25 ft,"
_RANGES: Final = "Ranges are 95 %: nineteen of twenty such charts would have the truth in theirs."


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
    parts += [_RANGES, "", "Of 100 third shots", aligned(_share_table(fit)), ""]
    aims = _aim_table(fit, units)
    if aims[1:]:
        parts += ["Where they land or how fast they are, and where they were aimed for that"]
        parts += [aligned(aims), ""]
    parts += [*_shot_notes(fit, like.name), _more(chart.size, "shot")]
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
            f"that takes errors {_number(factor.value, factor.low, factor.high)} times those of "
            f"{_whose(fit)} ({_ends(factor.low, factor.high)})"
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
            line = [words, str(charted.n) if part == "mean" else "", _quantity(charted, units)]
            if fitted is None:
                table.append([*line, "not fitted", "", ""])
                continue
            ends = _range(fitted, units)
            usual = _quantity(_with_value(fitted, fitted.usual), units)
            table.append([*line, _quantity(fitted, units), ends, usual])
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
    spreads = [
        AIMS[number].name for number, target in found.targets.items() if not target.fits_spread
    ]
    if len(spreads) < len(found.targets):
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


def runs_text(fit: RunsFit, units: str = "us") -> str:
    """Timed dashes: top speed, time constant and shares of speed."""
    parts = [_runs_answer(name, run, units) for name, run in fit.players.items()]
    parts += ["", _RANGES, aligned(_runs_table(fit, units)), ""]
    for name, run in fit.players.items():
        parts += _run_notes(name, run, units)
    parts += [
        f"Assumed before: times scatter by {WATCH_ERROR:g} s, as sure as from {WATCH_DASHES} "
        "dashes [A]; time constant about 1 s [P, Clark and Ryan 2022, quoted], give or take "
        f"{100 * TIME_CONSTANT_SPREAD:.0f} % [A].",
        _more(max(run.dashes.distance.size for run in fit.players.values()), "dash"),
        "Never time anybody running backwards who is not used to it.",
        LIMITS[0],
        *CAUTIONS,
    ]
    return "\n".join(parts)


def _runs_answer(name: str, run: RunFit, units: str) -> str:
    time = dash_time(np.array(SHOWN_DASH), run.top_speed, run.time_constant)
    low, high = range_of(time)
    speed = _estimate("", run.top_speed, "running speed")
    return (
        f"The {name} player covers {_dash_words(units)} from a standing start in "
        f"{_number(float(np.median(time)), low, high)} s ({_ends(low, high)}), and would come to "
        f"{_quantity(speed, units)} ({_range(speed, units)})."
    )


def _dash_words(units: str) -> str:
    return f"{SHOWN_DASH:g} ft" if units == "us" else f"{SHOWN_DASH * METRES_PER_FOOT:.2f} m"


def _runs_table(fit: RunsFit, units: str) -> list[list[str]]:
    table = [["", "estimate", "range", "until now"]]
    for estimate in fit.posterior.estimates:
        usual = _with_value(estimate, estimate.usual)
        table.append(
            [
                estimate.quantity,
                _quantity(estimate, units),
                _range(estimate, units),
                _quantity(usual, units),
            ]
        )
    for name, run in fit.players.items():
        watch = _estimate(f"{name}: scatter of times", run.watch, "time")
        table.append([watch.quantity, _quantity(watch, units), _range(watch, units), ""])
    return table


def _run_notes(name: str, run: RunFit, units: str) -> list[str]:
    dashes = run.dashes
    ahead = np.unique(np.round(dashes.distance[dashes.all_from("forward")], 2))
    told = f"{name}: {counted(dashes.distance.size, 'dash').replace('dashs', 'dashes')}"
    if ahead.size:
        unit = SHOWN_UNIT[units]["length"]
        lengths = [f"{in_unit(float(each), 'length', unit):.3g}" for each in ahead]
        told += f", straight ahead over {joined(lengths)} {unit}"
    notes = [f"{told}."]
    if run.learnt > LEARNT:
        more = "More dashes" if ahead.size and ahead[-1] >= _TWICE * ahead[0] else _TWO_DISTANCES
        notes.append(
            f"{name}: these dashes hardly tell top speed from time constant, which therefore stays "
            "near the published one; what both say together about short runs is known better. "
            f"{more} would tell."
        )
    if not ahead.size:
        notes.append(
            f"{name}: no dash straight ahead; shares of speed are taken from the scenario."
        )
    return notes


def reach_text(fit: ReachFit, units: str = "us") -> str:
    """Marks: full stretch, and what height alone would say."""
    unit = "in" if units == "us" else "cm"
    mean, low, high, assumed, reading = (
        in_unit(value, "length", unit)
        for value in (
            fit.stretch.value,
            fit.stretch.low,
            fit.stretch.high,
            fit.assumed,
            fit.reading,
        )
    )
    shown = _number(mean, low, high)
    gap = mean - assumed
    half = 0.5 * (high - low)
    if abs(gap) <= half:
        against = f"which cannot be told from the {assumed:.0f} {unit} of other players this tall"
    else:
        more = "more" if gap > 0.0 else "less"
        against = (
            f"{_number(abs(gap), abs(gap) - half, abs(gap) + half)} {unit} {more} than the "
            f"{assumed:.0f} {unit} assumed for this height"
        )
    sd = float(np.std(fit.marks, ddof=1)) if fit.marks.size > 1 else math.nan
    spread = f", {in_unit(sd, 'length', unit):.1f} {unit} apart (sd)" if fit.marks.size > 1 else ""
    error, tall = (in_unit(each, "length", unit) for each in (READING_ERROR, HEIGHT_ERROR))
    assumed_words = (
        f"Assumed before: readings scatter by {error:.3g} {unit}, as sure as from "
        f"{READING_MARKS} marks [A]; the height is good to {tall:.2g} {unit} [A]. Common practice, "
        "no source: a player of 67 in stretches to 72 in, others in proportion."
    )
    return "\n".join(
        [
            f"The {fit.player} player's full stretch is {shown} {unit} ({_ends(low, high)}), "
            f"{against}.",
            "",
            f"{counted(fit.marks.size, 'mark')}{spread}; the range is 95 % and rests on readings "
            f"good to {reading:.1f} {unit}.",
            assumed_words,
            f"{counted(_marks_to_halve(fit.marks.size), 'mark')} more would halve the range.",
            LIMITS[0],
            *CAUTIONS,
        ]
    )


def _marks_to_halve(size: int) -> int:
    """How many more marks that scatter alike would halve the range."""

    def half(marks: int) -> float:
        return student_quantile(LEVEL, READING_MARKS + marks - 1) / math.sqrt(marks)

    more = 1
    while half(size + more) > 0.5 * half(size):
        more += 1
    return more


def handed_text(folder: str, refused: int, wanted: int) -> str:
    """What to type next, and how many draws the scenario did not allow."""
    lines = []
    if refused:
        lines.append(
            f"{counted(refused, 'draw')} of {refused + wanted} lay outside what a scenario allows "
            "and were drawn again."
        )
    lines.append(
        f"Next: reachshare compare {folder}/fit.toml --with-uncertainty {folder}/draws.csv"
    )
    return "\n".join(lines)


def _more(size: int, noun: str) -> str:
    """What more counting would give: ranges narrow with the root of the number."""
    more = counted(_HALVING * size, noun).replace("dashs", "dashes")
    return f"About {more} more, three times as many again, would halve most of these ranges."


def _estimate(words: str, draws: np.ndarray, dimension: str) -> Estimate:
    return Estimate(words, "", float(np.median(draws)), *range_of(draws), 0, "", dimension)


def _with_value(estimate: Estimate, value: float) -> Estimate:
    return Estimate(
        estimate.quantity, "", value, estimate.low, estimate.high, 0, "", estimate.dimension
    )


def _quantity(estimate: Estimate, units: str) -> str:
    """A value with its unit, no finer than its range."""
    value, low, high, unit = _shown(estimate, units)
    return f"{_number(value, low, high)} {unit}".rstrip()


def _range(estimate: Estimate, units: str) -> str:
    _, low, high, unit = _shown(estimate, units)
    return f"{_ends(low, high)} {unit}".rstrip()


def _shown(estimate: Estimate, units: str) -> tuple[float, float, float, str]:
    numbers = estimate.value, estimate.low, estimate.high
    if estimate.dimension is None:
        return *numbers, ""
    unit = SHOWN_UNIT[units][estimate.dimension]
    value, low, high = (in_unit(number, estimate.dimension, unit) for number in numbers)
    return value, low, high, unit


def _places(low: float, high: float) -> int:
    """Decimals so that the range reaches two or more of the last place to either side."""
    half = 0.5 * (high - low)
    return max(0, -math.floor(math.log10(0.5 * half))) if half > 0.0 else 2


def _number(value: float, low: float, high: float) -> str:
    return f"{value:.{_places(low, high)}f}"


def _ends(low: float, high: float) -> str:
    places = _places(low, high)
    return f"{low:.{places}f} to {high:.{places}f}"
