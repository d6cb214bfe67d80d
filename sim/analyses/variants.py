"""What can be switched on a policy: its spacing and its shift, each over a grid of settings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from sim.answers import LEAKS
from sim.blocks import Workers
from sim.comparison import Progress
from sim.errors import Refused
from sim.scenario import Policy, Scenario
from sim.statistics import difference_of_shares
from sim.study import counts, tallies, with_policies
from sim.tables import ALL, Row, share_columns
from sim.tally import MEASURES, Tally


class Grid(NamedTuple):
    """Values to choose from, beside the policy's own: ft, and parts of the way to the opponents."""

    spacings: tuple[float, ...]
    shifts: tuple[float, ...]


# From fine to coarse; the last leaves the policies as they stand.
GRIDS: Final = (
    Grid(tuple(map(float, range(4, 13))), tuple(tenths / 10 for tenths in range(11))),
    Grid((4.0, 6.0, 8.0, 10.0, 12.0), (0.0, 0.25, 0.5, 0.75, 1.0)),
    Grid((4.0, 8.0, 12.0), (0.0, 0.5, 1.0)),
    Grid((), ()),
)
# More variants than these, or more policies, make a page too large to send and too slow to open.
MOST_VARIANTS: Final = 500
MOST_POLICIES: Final = 100
# A value of the grid as near as this to the policy's own one gives way to it.
_AS_GOOD_AS: Final = 0.01
# Variants that meet one rally together: few enough that several workers have something to do.
_TOGETHER: Final = 24


@dataclass(frozen=True)
class Variant:
    """A policy in one setting; ``spacing`` (ft) and ``shift`` are None where its rule has none.

    ``policy`` has the name of the first of the scenario's policies that can be set so.
    """

    policy: Policy
    spacing: float | None
    shift: float | None


@dataclass(frozen=True)
class Switch:
    """Settings of one policy: ``variants[spacing][shift]`` is the number of a variant.

    A policy whose rule has no spacing (ft) has no ``spacings`` and one row, one without a shift no
    ``shifts`` and one column. ``own`` is where the policy's own setting stands.
    """

    policy: Policy
    spacings: tuple[float, ...]
    shifts: tuple[float, ...]
    own: tuple[int, int]
    variants: tuple[tuple[int, ...], ...]

    @property
    def coarse(self) -> bool:
        """Whether there are fewer values to choose from than usual: too many policies for more."""
        finest = GRIDS[0]
        return bool(
            (self.spacings and len(self.spacings) < len(finest.spacings))
            or (self.shifts and len(self.shifts) < len(finest.shifts))
        )

    @property
    def own_variant(self) -> int:
        """The number of the policy as it stands."""
        row, column = self.own
        return self.variants[row][column]


@dataclass(frozen=True)
class Played:
    """What one variant did: a tally with its place there."""

    tally: Tally
    place: int

    def counts(self, measure: str, direction: int | None) -> tuple[np.ndarray, np.ndarray]:
        """Balls reached (or ``in_control``) and balls in play, by replicate; None: all returns."""
        return counts(self.tally, self.place, measure, direction)

    def leaks(self, direction: int | None) -> np.ndarray:
        """Balls through by leak and replicate, shape (leaks, replicates)."""
        chosen = slice(None) if direction is None else slice(direction, direction + 1)
        return self.tally.leaks[:, self.place, chosen].sum(axis=(1, 2)).T


def switches(scenario: Scenario) -> tuple[tuple[Switch, ...], tuple[Variant, ...]]:
    """A switch for every policy, and all variants they lead to, each of them once.

    Policies that differ in nothing but name, spacing and shift share their variants. Many that
    differ in more are given coarser grids, so that there are `MOST_VARIANTS` at most; as they stand
    all of them are there. Raises `Refused` for more than `MOST_POLICIES`.
    """
    if len(scenario.policies) > MOST_POLICIES:
        raise Refused(
            f"{len(scenario.policies)} policies are too many for a page to show: at most "
            f"{MOST_POLICIES}; leave some out, or compare them all with reachshare compare"
        )
    for grid in GRIDS:
        found, variants = _switches(scenario, grid)
        if len(variants) <= MOST_VARIANTS:
            break
    return found, variants


def _switches(scenario: Scenario, grid: Grid) -> tuple[tuple[Switch, ...], tuple[Variant, ...]]:
    """A switch for every policy over one grid, and all variants they lead to."""
    variants: list[Variant] = []
    known: dict[tuple[str, float | None, float | None], int] = {}

    def number(policy: Policy, spacing: float | None, shift: float | None) -> int:
        kind = _set_to(policy, None, None).model_copy(update={"name": "any"})
        place = (kind.model_dump_json(), spacing, shift)
        if place not in known:
            known[place] = len(variants)
            variants.append(Variant(_set_to(policy, spacing, shift), spacing, shift))
        return known[place]

    found = []
    for policy in scenario.policies:
        spacings = () if policy.rule == "best" else _with_own(grid.spacings, policy.gap)
        shifts = _with_own(grid.shifts, policy.shift) if policy.rule == "follow" else ()
        found.append(
            Switch(
                policy,
                spacings,
                shifts,
                own=(
                    spacings.index(policy.gap) if spacings else 0,
                    shifts.index(policy.shift) if shifts else 0,
                ),
                variants=tuple(
                    tuple(number(policy, spacing, shift) for shift in shifts or (None,))
                    for spacing in spacings or (None,)
                ),
            )
        )
    return tuple(found), tuple(variants)


def in_groups(scenario: Scenario, variants: Sequence[Variant]) -> list[Scenario]:
    """Scenarios of so many variants each as meet one rally together, in their order."""
    policies = [variant.policy for variant in variants]
    return [
        with_policies(scenario, policies[first : first + _TOGETHER])
        for first in range(0, len(policies), _TOGETHER)
    ]


def play_variants(
    groups: Sequence[Scenario],
    workers: Workers | None = None,
    progress: Callable[[Progress], None] = lambda progress: None,
) -> list[Played]:
    """What every variant of the groups does with the shots of the comparison."""
    return [
        Played(tally, place)
        for group, tally in zip(groups, tallies(groups, workers, progress), strict=True)
        for place in range(len(group.policies))
    ]


def setting_rows(
    scenario: Scenario,
    found: Sequence[Switch],
    variants: Sequence[Variant],
    played: Sequence[Played],
) -> list[Row]:
    """Counts and shares of every variant, and where balls got through."""
    sampling = scenario.run.sampling
    rows = []
    for number, (variant, done) in enumerate(zip(variants, played, strict=True)):
        own = [switch.policy.name for switch in found if switch.own_variant == number]
        for direction, place in _directions(scenario):
            control, balls = done.counts("in_control", place)
            reached, _ = done.counts("reached", place)
            row: Row = {
                "variant": number,
                "policy": variant.policy.name,
                "spacing_ft": variant.spacing,
                "shift": variant.shift,
                "as_it_stands": "; ".join(own),
                "return_direction": direction,
                "in_play": int(balls.sum()),
                "reached": int(reached.sum()),
                "in_control": int(control.sum()),
                **share_columns("reached", reached, balls, sampling),
                **share_columns("in_control", control, balls, sampling),
            }
            for leak, through in zip(LEAKS, done.leaks(place), strict=True):
                row[f"through_{leak}"] = int(through.sum())
                row |= share_columns(f"through_{leak}", through, balls, sampling)
            rows.append(row)
    return rows


def change_rows(
    scenario: Scenario,
    found: Sequence[Switch],
    variants: Sequence[Variant],
    played: Sequence[Played],
) -> list[Row]:
    """What every setting of a policy gains against the policy as it stands, on the same shots."""
    rows = []
    for switch in found:
        for number in (number for line in switch.variants for number in line):
            for direction, place in _directions(scenario):
                row: Row = {
                    "policy": switch.policy.name,
                    "variant": number,
                    "spacing_ft": variants[number].spacing,
                    "shift": variants[number].shift,
                    "return_direction": direction,
                }
                for measure in reversed(MEASURES):
                    then = played[number].counts(measure, place)
                    now = played[switch.own_variant].counts(measure, place)
                    gain = [100.0 * value for value in difference_of_shares(then, now)]
                    row |= {f"{measure}_points": gain[0]}
                    row |= {f"{measure}_points_low": gain[1], f"{measure}_points_high": gain[2]}
                rows.append(row)
    return rows


def _directions(scenario: Scenario) -> list[tuple[str, int | None]]:
    """Names of the return directions and their places, all of them together first."""
    return [(ALL, None), *((d, k) for k, d in enumerate(scenario.return_of_serve.directions))]


def _with_own(grid: tuple[float, ...], own: float) -> tuple[float, ...]:
    """A grid's values and the own one, rising."""
    return tuple(sorted([own, *(value for value in grid if abs(value - own) > _AS_GOOD_AS)]))


def _set_to(policy: Policy, spacing: float | None, shift: float | None) -> Policy:
    """The policy in a setting; None stands for the default, which its rule does not look at."""
    usual = Policy.model_fields
    return policy.model_copy(
        update={
            "spacing": usual["spacing"].default if spacing is None else spacing,
            "shift": usual["shift"].default if shift is None else shift,
        }
    )
