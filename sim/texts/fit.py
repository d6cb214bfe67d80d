"""What the fits of dashes and marks found, and what to type next, for the terminal."""

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
from sim.fitted import range_of
from sim.shell_words import to_copy
from sim.statistics import LEVEL, student_quantile
from sim.texts.fit_ranges import (
    RANGES,
    digits,
    ends,
    estimate_of,
    more_counting,
    quantity,
    range_words,
    with_value,
)
from sim.texts.table import aligned
from sim.units import METRES_PER_FOOT, SHOWN_UNIT, in_unit
from sim.wording import CAUTIONS, LIMITS, counted, joined

# The dash that says what the fitted legs mean: from the baseline to the line.
SHOWN_DASH: Final = 15.0
_TWICE: Final = 2.0
_TWO_DISTANCES: Final = "Dashes over two distances, such as 10 ft and 25 ft,"


def runs_text(fit: RunsFit, units: str = "us") -> str:
    """Timed dashes: top speed, time constant and shares of speed."""
    parts = [_runs_answer(name, run, units) for name, run in fit.players.items()]
    parts += ["", RANGES, aligned(_runs_table(fit, units)), ""]
    for name, run in fit.players.items():
        parts += _run_notes(name, run, units)
    parts += [
        f"Assumed before: times scatter by {WATCH_ERROR:g} s, as sure as from {WATCH_DASHES} "
        "dashes [A]; time constant about 1 s [P, Clark and Ryan 2022, quoted], give or take "
        f"{100 * TIME_CONSTANT_SPREAD:.0f} % [A].",
        more_counting(max(run.dashes.distance.size for run in fit.players.values()), "dash"),
        "Never time anybody running backwards who is not used to it.",
        LIMITS[0],
        *CAUTIONS,
    ]
    return "\n".join(parts)


def _runs_answer(name: str, run: RunFit, units: str) -> str:
    time = dash_time(np.array(SHOWN_DASH), run.top_speed, run.time_constant)
    low, high = range_of(time)
    speed = estimate_of("", run.top_speed, "running speed")
    return (
        f"The {name} player covers {_dash_words(units)} from a standing start in "
        f"{digits(float(np.median(time)), low, high)} s ({ends(low, high)}), and would come to "
        f"{quantity(speed, units)} ({range_words(speed, units)})."
    )


def _dash_words(units: str) -> str:
    return f"{SHOWN_DASH:g} ft" if units == "us" else f"{SHOWN_DASH * METRES_PER_FOOT:.2f} m"


def _runs_table(fit: RunsFit, units: str) -> list[list[str]]:
    table = [["", "estimate", "range", "until now"]]
    for estimate in fit.posterior.estimates:
        usual = with_value(estimate, estimate.usual)
        table.append(
            [
                estimate.quantity,
                quantity(estimate, units),
                range_words(estimate, units),
                quantity(usual, units),
            ]
        )
    for name, run in fit.players.items():
        watch = estimate_of(f"{name}: scatter of times", run.watch, "time")
        table.append([watch.quantity, quantity(watch, units), range_words(watch, units), ""])
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
    shown = digits(mean, low, high)
    gap = mean - assumed
    half = 0.5 * (high - low)
    if abs(gap) <= half:
        against = f"which cannot be told from the {assumed:.0f} {unit} of other players this tall"
    else:
        more = "more" if gap > 0.0 else "less"
        against = (
            f"{digits(abs(gap), abs(gap) - half, abs(gap) + half)} {unit} {more} than the "
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
            f"The {fit.player} player's full stretch is {shown} {unit} ({ends(low, high)}), "
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


def refused_text(refused: int, wanted: int) -> str:
    """How many draws the scenario did not allow."""
    return (
        f"{counted(refused, 'draw')} of {refused + wanted} lay outside what a scenario allows "
        "and were drawn again."
    )


def next_text(folder: str) -> str:
    """What to type next."""
    scenario, draws = (to_copy(f"{folder}/{name}") for name in ("fit.toml", "draws.csv"))
    return f"Next: reachshare compare {scenario} --with-uncertainty {draws}"
