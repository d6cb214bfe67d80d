"""From marks on the floor or wall to a player's full stretch, with its range."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from sim.court import Array
from sim.fitted import POSTERIOR, Estimate, Posterior, range_of, stream, written
from sim.scenario_files import ScenarioFile, build, merge, nested
from sim.statistics import LEVEL, student_quantile
from sim.wording import counted

# How far one reading of a stretch is off (ft, standard deviation), as sure as from so many [A].
READING_ERROR: Final = 1.0 / 12.0
READING_MARKS: Final = 4
# How far a height is off that was read once (ft, standard deviation) [A].
HEIGHT_ERROR: Final = 0.25 / 12.0
_STREAM: Final = 3001


@dataclass(frozen=True)
class ReachFit:
    """A player's full stretch (ft): marks as given, mean with range, what height alone would say.

    ``reading`` is the reading error that the range rests on (ft, standard deviation).
    """

    player: str
    height: float
    marks: Array
    stretch: Estimate
    assumed: float
    reading: float
    posterior: Posterior


def fit_reach(
    file: ScenarioFile,
    changes: dict[str, Any],
    player: str,
    height: float,
    marks: Array,
    units: str = "us",
) -> ReachFit:
    """Fit a player's full stretch to marks (ft).

    Normal readings with unknown spread, whose prior is a scaled inverse chi-square of
    `READING_MARKS` marks at `READING_ERROR`: the mean has Student's t distribution. Source: Gelman
    et al., Bayesian Data Analysis, 3rd ed. (2013), section 3.3 with a flat prior for the mean
    (memory).

    Raises `ScenarioError` for a height or stretch that no player has.
    """
    key, mean = f"pair.{player}", float(marks.mean())
    own = {"height": height, "full_stretch": mean}
    texts = {name: written(value, "length", units) for name, value in own.items()}
    tables = merge(changes, nested(key, texts))
    like = build(file, tables)
    # The stretch that height alone gives, whatever was measured.
    unmeasured = getattr(like.pair, player).model_copy(update=own | {"full_stretch": None})
    assumed = unmeasured.stretched_reach
    freedom = READING_MARKS + marks.size - 1
    squares = READING_MARKS * READING_ERROR**2 + float(np.square(marks - mean).sum())
    reading = math.sqrt(squares / freedom)
    error = reading / math.sqrt(marks.size)
    half = student_quantile(LEVEL, freedom) * error
    stretch = Estimate(
        f"{player}: full stretch",
        f"{key}.full_stretch",
        mean,
        mean - half,
        mean + half,
        marks.size,
        "mean of marks, Student's t with the assumed reading error",
        "length",
        assumed,
    )
    random = stream(like.run.seed, _STREAM)
    draws = {
        f"{key}.height": height + HEIGHT_ERROR * random.standard_normal(POSTERIOR),
        stretch.key: mean + error * random.standard_t(freedom, POSTERIOR),
    }
    ends = range_of(draws[f"{key}.height"])
    tall = Estimate(f"{player}: height", f"{key}.height", height, *ends, 1, "as given", "length")
    tables = {name: table for name, table in tables.items() if name != "run"}
    remarks = {stretch.key: _remark(stretch, units)}
    posterior = Posterior([stretch, tall], tables, remarks, draws)
    return ReachFit(player, height, marks, stretch, assumed, reading, posterior)


def _remark(stretch: Estimate, units: str) -> str:
    ends = " to ".join(written(end, "length", units) for end in (stretch.low, stretch.high))
    return f"{counted(stretch.n, 'mark')}; 95 %: {ends}"
