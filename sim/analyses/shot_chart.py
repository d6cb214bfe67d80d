"""What a chart of third shots counts: kinds, lanes and results, and the values of every aim."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sim.charts import ChartError, ChartRow
from sim.court import HALF_WIDTH, Array
from sim.opponents import LANES, SHOTS
from sim.scenario import RETURN_DIRECTIONS, Scenario

# A ball that lands so near the centre line (ft) was aimed at the middle: halfway between the edge
# of the middle's aims and the usual aims beside the lines. [A]
MIDDLE_WITHIN: Final = 5.0


@dataclass(frozen=True)
class ShotChart:
    """A chart in numbers: counts by kind, by lane (after each return) and by result; values by aim.

    ``unknown_lanes`` are rows that say too little to tell the lane.
    """

    shots: Array
    lanes: Array
    lanes_by_return: dict[str, Array]
    results: dict[str, int]
    values: dict[int, Array]
    unknown_lanes: int

    @property
    def size(self) -> int:
        return sum(self.results.values())

    @property
    def failed(self) -> int:
        return self.results["net"] + self.results["out"]


def counts_of(rows: Sequence[ChartRow], scenario: Scenario) -> ShotChart:
    """Count charted rows. Raises `ChartError` where landing spots tell no lanes."""
    lanes = [_lane(row, scenario) for row in rows]
    if not any(lanes) and any(row["landing_x"] is not None for row in rows):
        raise ChartError(
            [
                "the landing spots (column landing_x) tell no lanes: say for each shot from which "
                "side the opponents struck (column contact_side: left or right), or its lane"
            ]
        )
    after = {
        direction: [
            lane
            for lane, row in zip(lanes, rows, strict=True)
            if row["return_direction"] == direction
        ]
        for direction in RETURN_DIRECTIONS
    }
    inside = [
        HALF_WIDTH - abs(row["landing_x"])
        for row, lane in zip(rows, lanes, strict=True)
        if row["result"] == "in" and row["landing_x"] is not None and lane in ("line", "cross")
    ]
    depths = [
        row["landing_depth"] for row in rows if (row["shot"], row["result"]) == ("drop", "in")
    ]
    speeds = [row["speed"] for row in rows if row["shot"] == "drive"]
    values = [[v for v in column if v is not None] for column in (depths, inside, speeds)]
    return ShotChart(
        shots=_counted([row["shot"] for row in rows], SHOTS),
        lanes=_counted(lanes, LANES),
        lanes_by_return={direction: _counted(found, LANES) for direction, found in after.items()},
        results={name: sum(row["result"] == name for row in rows) for name in ("in", "net", "out")},
        values={number: np.array(column) for number, column in enumerate(values) if column},
        unknown_lanes=lanes.count(None),
    )


def _counted(words: Sequence[str | None], kinds: Sequence[str]) -> Array:
    return np.array([float(sum(word == kind for word in words)) for kind in kinds])


def _lane(row: ChartRow, scenario: Scenario) -> str | None:
    """The lane as charted, or from where the ball landed and which side it was struck from."""
    if row["lane"] is not None:
        return str(row["lane"])
    if row["landing_x"] is None:
        return None
    if abs(row["landing_x"]) <= MIDDLE_WITHIN:
        return "middle"
    struck_right = _struck_right(row, scenario)
    if struck_right is None:
        return None
    return "line" if (row["landing_x"] > 0.0) == struck_right else "cross"


def _struck_right(row: ChartRow, scenario: Scenario) -> bool | None:
    """Whether the opponents struck on the pair's right: as charted, or where the return went."""
    if row["contact_side"] is not None:
        return bool(row["contact_side"] == "right")
    if row["return_direction"] in ("line", "cross"):
        returner_right = scenario.return_of_serve.side == "even"
        return returner_right == (row["return_direction"] == "line")
    return None
