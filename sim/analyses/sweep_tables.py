"""A sweep's tidy tables: shares, differences to the best and to the baseline, fresh shots."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from functools import partial

import numpy as np

from sim.analyses.sweep import Part, Sweep
from sim.analyses.sweep_ranking import overtakings
from sim.statistics import adjusted, difference_of_replicates, share_of_replicates, told_apart
from sim.tables import Row, verdict, verdicts
from sim.tally import MEASURES


def tables(sweep: Sweep) -> dict[str, Iterable[Row]]:
    """All tables of a sweep, by file name."""
    found: dict[str, Iterable[Row]] = {
        "sweep.csv": share_rows(sweep),
        "best.csv": best_rows(sweep),
    }
    if sweep.plan.of_scenario:
        found["differences.csv"] = difference_rows(sweep)
        if len(sweep.plan.axes) == 1 and len(sweep.plan.policies) > 1:
            found["overtakings.csv"] = overtaking_rows(sweep)
    return found


def share_rows(sweep: Sweep) -> Iterator[Row]:
    """Shares by policy, return direction, measure and setting, against the best setting.

    Points to the best are the share minus the best share of all other settings, and their
    intervals hold for all settings of the policy together (`sweep_best.against_best`).
    """
    plan = sweep.plan
    for p, policy in enumerate(plan.policies):
        for d, direction in enumerate(plan.directions):
            for measure in MEASURES:
                best = sweep.best(p, measure, d)
                for k, setting in enumerate(plan.settings):
                    hits, balls = sweep.counts[p][k].of(measure, d)
                    yield {
                        **_columns(sweep, setting),
                        "policy": policy.name,
                        "return_direction": direction,
                        "measure": measure,
                        "in_play": int(balls.sum()),
                        "balls": int(hits.sum()),
                        **_share("", (hits, balls)),
                        "points_to_best": 100.0 * float(best.difference[k]),
                        "points_to_best_low": 100.0 * float(best.low[k]),
                        "points_to_best_high": 100.0 * float(best.high[k]),
                        "told_from_best": bool(best.told[k]),
                    }


def difference_rows(sweep: Sweep) -> Iterator[Row]:
    """Paired differences to the scenario's baseline policy, in every setting.

    Verdicts hold for all policies and settings together, for each return direction and measure.
    The baseline itself is left out where no number of its own is varied.
    """
    plan = sweep.plan
    baseline = plan.scenario.baseline
    varied = any(axis.field is not None for axis in plan.axes)
    shown = [p for p, policy in enumerate(plan.policies) if varied or policy is not baseline]
    for d, direction in enumerate(plan.directions):
        for m, measure in enumerate(MEASURES):
            pairs = [each.pairs[m, d] for p in shown for each in sweep.counts[p]]
            # By replicates, whatever the sampling, as all intervals of a sweep.
            said = verdicts(pairs, "quasi-random")
            for number, table in enumerate(pairs):
                p, k = divmod(number, len(plan.settings))
                difference, low, high = difference_of_replicates(table)
                yield {
                    **_columns(sweep, plan.settings[k]),
                    "policy": plan.policies[shown[p]].name,
                    "baseline": baseline.name,
                    "return_direction": direction,
                    "measure": measure,
                    "points": 100.0 * difference,
                    "points_low": 100.0 * low,
                    "points_high": 100.0 * high,
                    "verdict": said[number],
                }


def best_rows(sweep: Sweep) -> list[Row]:
    """Each policy's best setting against the scenario as it stands, on fresh shots.

    After all returns; verdicts hold for all policies together. Policies that never had a ball in
    play are left out.
    """
    plan = sweep.plan
    judged = [(p, fresh) for p, fresh in enumerate(sweep.fresh) if fresh is not None]
    told = told_apart([partial(fresh.gain, plan.measure) for _, fresh in judged])
    together = adjusted(len(judged))
    rows = []
    for (p, fresh), apart in zip(judged, told, strict=True):
        policy, setting = plan.policies[p], plan.settings[fresh.setting]
        difference, low, high = fresh.gain(plan.measure)
        now = {
            f"{axis.column}_now": " and ".join(
                f"{axis.number(value):.10g}" for value in axis.now(plan.scenario, policy)
            )
            for axis in plan.axes
        }
        rows.append(
            {
                "policy": policy.name,
                "measure": plan.measure,
                **{f"{name}_best": value for name, value in _columns(sweep, setting).items()},
                **now,
                **_share("best_", fresh.then.of(plan.measure)),
                **_share("now_", fresh.now.of(plan.measure)),
                "points": 100.0 * difference,
                "points_low": 100.0 * low,
                "points_high": 100.0 * high,
                "verdict": verdict(*fresh.gain(plan.measure, together), told=apart),
            }
        )
    return rows


def overtaking_rows(sweep: Sweep) -> list[Row]:
    """Where one policy overtakes another; for sweeps of one key of the scenario."""
    (axis,) = sweep.plan.axes
    return [
        {
            "policy": each.after,
            "overtakes": each.before,
            "measure": sweep.plan.measure,
            f"{axis.column}_still_behind": axis.number(each.last),
            f"{axis.column}_in_front": axis.number(each.first),
        }
        for each in overtakings(sweep)
    ]


def _columns(sweep: Sweep, setting: Part) -> Row:
    axes = sweep.plan.axes
    return {axis.column: axis.number(v) for axis, v in zip(axes, setting, strict=True)}


def _share(prefix: str, counts: tuple[np.ndarray, np.ndarray]) -> Row:
    hits, balls = counts
    size = int(balls.sum())
    low, high = share_of_replicates(hits, balls) if size else (math.nan, math.nan)
    share = int(hits.sum()) / size if size else math.nan
    return {f"{prefix}share": share, f"{prefix}low": low, f"{prefix}high": high}
