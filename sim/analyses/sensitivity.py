"""Which doubt matters for the difference between two policies?

Plausible settings of the scenario are played, and Sobol indices say how much of the spread of the
difference each doubtful input makes. The settings of a row of the sample face the same shots, those
of other rows others: the indices need only differences within rows, and the error of the shots
averages out over the rows. What noise is left does not count, see `sobol_indices.indices`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from sim.analyses.batches import each_tally
from sim.analyses.inputs import Drawn, Input, WithNumbers
from sim.analyses.sobol_indices import Indices, design, indices
from sim.analyses.uncertainty import (
    DIFFERENCE,
    Spread,
    by_replicate,
    pairs_of,
    spread,
    with_own_shots,
)
from sim.blocks import Workers
from sim.comparison import Progress
from sim.court import Array
from sim.errors import Refused
from sim.scenario import Policy, Scenario
from sim.statistics import difference_of_replicates, wilson
from sim.tables import Row
from sim.tally import MEASURES

# The ends of single inputs are few, and are played with so many times the shots.
TIMES_AT_ENDS: Final = 16
# Draws of a file that are played to find its ends, and which of them those are in their order.
_DRAWS_AT_ENDS: Final = 21
_END_RANKS: Final = (1, 19)
_QUANTILES: Final = {"min": 0.0, "5 %": 0.05, "median": 0.5, "95 %": 0.95, "max": 1.0}


class Difference(NamedTuple):
    """The policy's share less the baseline's, in points, with its interval by the shots."""

    points: float
    low: float
    high: float


@dataclass(frozen=True)
class Sensitivity:
    """A finished study of the difference between a ``policy`` and the scenario's baseline.

    ``usual`` is the difference at the scenario's own values, ``ends`` those with one input at its
    low and at its high end, the others as the scenario has them. ``places`` are the plausible
    settings as far along every input's way (settings, inputs), ``differences`` what they gave and
    ``spread`` the same by rows of the sample, in points.
    """

    scenario: Scenario
    policy: Policy
    measure: str
    inputs: tuple[Input, ...]
    indices: Indices
    usual: Difference
    ends: tuple[tuple[Difference, Difference], ...]
    places: Array
    differences: tuple[Difference, ...]
    spread: Spread

    @property
    def order(self) -> list[int]:
        """The inputs by what they make of the difference, the largest span first."""
        spans = [abs(high.points - low.points) for low, high in self.ends]
        return sorted(range(len(spans)), key=lambda k: -spans[k])

    @property
    def ahead(self) -> tuple[int, int]:
        """Settings that showed the policy ahead, and behind; the rest showed no difference."""
        points = [each.points for each in self.differences]
        return sum(value > 0.0 for value in points), sum(value < 0.0 for value in points)

    def share_of_settings(self, count: int) -> tuple[float, float, float]:
        """A number of the settings as a share, with Wilson's interval for independent settings.

        Ours are spread more evenly than by chance, so that the interval is rather too wide.
        """
        settings = len(self.differences)
        return count / settings, *wilson(count, settings)

    @property
    def told(self) -> tuple[int, int, int]:
        """Settings told apart by their own intervals, policy ahead and behind, and the others."""
        ahead = sum(each.low > 0.0 for each in self.differences)
        behind = sum(each.high < 0.0 for each in self.differences)
        return ahead, behind, len(self.differences) - ahead - behind

    @cached_property
    def quantiles(self) -> dict[str, float]:
        """How the difference is spread over the plausible settings, noise included, in points."""
        values = [each.points for each in self.differences]
        return {name: float(np.quantile(values, u)) for name, u in _QUANTILES.items()}

    @property
    def interactions(self) -> tuple[float, float, float]:
        """The part of the variance that no input makes by itself, with its interval."""
        low, high = self.indices.interval(1.0 - self.indices.first_resampled.sum(axis=1))
        return 1.0 - float(self.indices.first.sum()), float(low), float(high)

    def surely_first(self, place: int) -> bool:
        """Whether an input's own part is the largest in nearly all resamples."""
        others = np.delete(self.indices.first_resampled, place, axis=1)
        if not others.size:
            return True
        ahead = self.indices.first_resampled[:, place] > others.max(axis=1)
        return bool(ahead.mean() >= 0.95)

    def input_rows(self, units: str) -> list[Row]:
        """A row for every input: its range, the difference at its ends, and its indices."""
        first_low, first_high = self.indices.interval(self.indices.first_resampled)
        total_low, total_high = self.indices.interval(self.indices.total_resampled)
        rows = []
        for k in self.order:
            each, (low, high) = self.inputs[k], self.ends[k]
            row: Row = {"input": each.key, "name": each.label, "keys": " ".join(each.keys)}
            row |= {"from": each.shown(0.0, units), "to": each.shown(1.0, units)}
            row |= {"rests_on": each.why, "cut_at_limit": each.clipped}
            for name, end in (("from", low), ("to", high)):
                ends = (end.points, end.low, end.high)
                columns = ("points", "points_low", "points_high")
                row |= {f"{column}_at_{name}": v for column, v in zip(columns, ends, strict=True)}
            row |= {"first_order": self.indices.first[k], "first_order_low": first_low[k]}
            row |= {"first_order_high": first_high[k], "total": self.indices.total[k]}
            row |= {"total_low": total_low[k], "total_high": total_high[k]}
            rows.append({name: _plain(value) for name, value in row.items()})
        return rows

    def setting_rows(self, units: str) -> list[Row]:
        """A row for every plausible setting: its values, and the difference with its interval."""
        rows = []
        for place, found in zip(self.places, self.differences, strict=True):
            row: Row = {}
            for each, u in zip(self.inputs, place.tolist(), strict=True):
                row[each.key] = _row_of_draws(each, u) or each.shown(u, units)
            row |= {"points": found.points, "points_low": found.low, "points_high": found.high}
            rows.append(row)
        return rows

    def summary_rows(self) -> list[Row]:
        """What is said of all settings together: value and interval by name."""
        ahead, behind = map(self.share_of_settings, self.ahead)
        told_ahead, told_behind, undecided = self.told
        part, part_low, part_high = self.interactions
        rows: list[Row] = [
            {"quantity": "share_ahead", "value": ahead[0], "low": ahead[1], "high": ahead[2]},
            {"quantity": "share_behind", "value": behind[0], "low": behind[1], "high": behind[2]},
            {"quantity": "settings", "value": len(self.differences)},
            {"quantity": "settings_told_ahead", "value": told_ahead},
            {"quantity": "settings_told_behind", "value": told_behind},
            {"quantity": "settings_undecided", "value": undecided},
            {"quantity": "interactions", "value": part, "low": part_low, "high": part_high},
            {"quantity": "noise_share", "value": self.spread.noise_share},
            {
                "quantity": "points_at_scenario",
                "value": self.usual.points,
                "low": self.usual.low,
                "high": self.usual.high,
            },
        ]
        for name, points in self.quantiles.items():
            word = name.replace(" %", "_percent")
            rows.append({"quantity": f"points_{word}", "value": points})
        return rows


def _plain(value: object) -> object:
    return value.item() if isinstance(value, np.generic) else value


def _row_of_draws(each: Input, u: float) -> str:
    """Which line of its file a setting took."""
    if not isinstance(each, Drawn):
        return ""
    count = len(each.draws.lines)
    return f"line {each.draws.lines[min(int(u * count), count - 1)]}"


def sensitivity(
    scenario: Scenario,
    inputs: Sequence[Input],
    with_numbers: WithNumbers,
    measure: str,
    settings: int,
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
    shots_at_ends: int | None = None,
) -> Sensitivity:
    """Play plausible settings of a scenario of two policies, and take the difference apart.

    ``settings`` (a power of two) are played, and half as many more for each input; all are checked
    before the first is played. ``with_numbers`` makes the scenario with other numbers.
    ``shots_at_ends`` are those of the scenario's own values and of single inputs at their ends,
    sixteen times the scenario's unless told. Raises `Refused` where some settings do not go
    together.
    """
    seed, rows = scenario.run.seed, settings // 2
    points = design(len(inputs), rows, seed)
    sampled = [
        with_own_shots(_at(inputs, point, with_numbers), seed, row)
        for page in points.tolist()
        for row, point in enumerate(page)
    ]
    single = [with_numbers({}), *_singly(inputs, with_numbers)]
    shots = shots_at_ends or TIMES_AT_ENDS * scenario.run.shots
    single = [_with_shots(each, shots) for each in single]

    policy = next(p for p, each in enumerate(scenario.policies) if each is not scenario.baseline)
    m = MEASURES.index(measure)
    tallies = each_tally([*sampled, *single], workers, progress)
    pairs = np.array([pairs_of(tally)[policy, m] for tally in tallies])
    values = 100.0 * by_replicate(pairs[: len(sampled)], DIFFERENCE)
    values = values.reshape(*points.shape[:2], -1)
    alone = [_difference(each) for each in pairs[len(sampled) :]]
    return Sensitivity(
        scenario=scenario,
        policy=scenario.policies[policy],
        measure=measure,
        inputs=tuple(inputs),
        indices=indices(values, seed),
        usual=alone[0],
        ends=tuple(_ends(inputs, alone[1:])),
        places=points[:2].reshape(-1, len(inputs)),
        differences=tuple(_difference(each) for each in pairs[:settings]),
        spread=spread(values[:2].swapaxes(0, 1)),
    )


def _at(inputs: Sequence[Input], point: Sequence[float], with_numbers: WithNumbers) -> Scenario:
    """The scenario with every input that far along its way."""
    numbers: dict[str, float] = {}
    for each, u in zip(inputs, point, strict=True):
        numbers |= each.numbers(u)
    try:
        return with_numbers(numbers)
    except Refused as error:
        shown = ", ".join(
            f"{e.label} {e.shown(u, 'us')}" for e, u in zip(inputs, point, strict=True)
        )
        raise Refused(
            f"these do not go together: {shown}\n{error}\nnarrow a range with --vary-input"
        ) from None


def _singly(inputs: Sequence[Input], with_numbers: WithNumbers) -> list[Scenario]:
    """Every input at its ends, or at some of its draws; the others as the scenario has them."""
    return [with_numbers(each.numbers(u)) for each in inputs for u in _places_of_ends(each)]


def _places_of_ends(each: Input) -> list[float]:
    if not isinstance(each, Drawn):
        return [0.0, 1.0]
    return [(k + 0.5) / _DRAWS_AT_ENDS for k in range(_DRAWS_AT_ENDS)]


def _ends(
    inputs: Sequence[Input], found: Sequence[Difference]
) -> list[tuple[Difference, Difference]]:
    ends, start = [], 0
    for each in inputs:
        count = len(_places_of_ends(each))
        own = list(found[start : start + count])
        if isinstance(each, Drawn):
            own.sort()
            own = [own[rank] for rank in _END_RANKS]
        ends.append((own[0], own[1]))
        start += count
    return ends


def _difference(pairs: np.ndarray) -> Difference:
    """A setting's difference in points; ``pairs`` has shape (replicates, 4)."""
    return Difference(*(100.0 * value for value in difference_of_replicates(pairs)))


def _with_shots(scenario: Scenario, shots: int) -> Scenario:
    run = scenario.run.model_copy(update={"shots": shots})
    return scenario.model_copy(update={"run": run})
