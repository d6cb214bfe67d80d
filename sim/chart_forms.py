"""The charts that can be filled in: third shots counted at the court, and timed dashes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sim.charts import ChartRow, Column, Form
from sim.court import BASELINE, HALF_WIDTH
from sim.units import METRES_PER_FOOT

_LANES: Final = {
    "line": ("down the line", "dtl"),
    "middle": ("mid", "centre", "center"),
    "cross": ("crosscourt", "cross court"),
}
_SHOT_COLUMNS: Final = (
    Column(
        "shot",
        {"drive": ("drives",), "drop": ("drops", "drop shot"), "lob": ("lobs",)},
        required=True,
    ),
    Column("lane", _LANES),
    Column(
        "result",
        {
            "in": ("i", "in play", "good", "ok"),
            "net": ("n", "in the net", "into the net"),
            "out": ("o", "long", "wide"),
        },
        required=True,
    ),
    Column("landing_x", dimension="length", low="-20 ft", high="20 ft"),
    Column("landing_depth", dimension="length", low="0 ft", high="40 ft"),
    Column("speed", dimension="speed", low="5 mph", high="110 mph"),
    Column("return_direction", _LANES),
    Column("contact_side", {"left": ("l",), "right": ("r",)}),
)
_SHOT_TEMPLATE: Final = """\
shot,lane,result,landing_x,landing_depth,speed,return_direction,contact_side
# One row a third shot. Lines that start with # are left out: these are remarks and examples.
# shot: drive / drop / lob. lane (where it was aimed): line / middle / cross. result: in / net / out
# All other columns may stay empty or be deleted. Units: 6 ft / 1.8 m / 38 mph / 61 km/h
# landing_x: to the pair's right of the centre line; to the left with a minus
# landing_depth: from the net. speed: of drives. contact_side: where they struck - as the pair looks
# EXAMPLE,the three lines below show how; write yours under them without the #
# drive,line,in,8 ft,17 ft,37 mph,line,right
# drop,middle,in,-1 ft,6 ft,,middle,left
# drop,cross,net,,,,cross,left
"""
_DASH_COLUMNS: Final = (
    Column("distance", dimension="length", low="3 ft", high="400 ft", required=True),
    Column(
        "seconds",
        dimension="time",
        low="0.2 s",
        high="60 s",
        unit="s",
        required=True,
        also=("time",),
    ),
    Column(
        "direction",
        {
            "forward": ("forwards", "straight", "ahead"),
            "sideways": ("side", "lateral", "sidestep"),
            "backwards": ("backward", "back"),
        },
    ),
    Column("player", {"left": ("l",), "right": ("r",)}),
    Column("reaction", dimension="time", low="0 s", high="1 s", unit="s"),
)
_DASH_TEMPLATE: Final = """\
distance,seconds,direction,player,reaction
# One row a dash from a standing start. Lines that start with # are left out: these are remarks.
# distance with its unit: 15 ft / 5 m. seconds by stopwatch. direction: forward / sideways
# player: left / right as the pair faces the net. Only distance and seconds must be filled in
# reaction: 0.2 s where the watch was started by a signal; empty where it started with the player
# Two distances tell top speed from time constant: 10 ft and 25 ft say more than 15 ft twice
# EXAMPLE,the three lines below show how; write yours under them without the #
# 10 ft,1.55,forward,left,
# 25 ft,2.75,forward,left,
# 10 ft,1.75,sideways,left,
"""


def _shot_misfits(row: ChartRow) -> Iterator[tuple[str, str]]:
    """A ball that was in has landed in the court."""
    if row["result"] != "in":
        return
    if row["landing_x"] is not None and abs(row["landing_x"]) > HALF_WIDTH:
        yield "landing_x", _lands_within(HALF_WIDTH, "the centre line")
    if row["landing_depth"] is not None and row["landing_depth"] > BASELINE:
        yield "landing_depth", _lands_within(BASELINE, "the net")


def _lands_within(feet: float, line: str) -> str:
    metres = METRES_PER_FOOT * feet
    return f"a ball that was in lands within {feet:g} ft ({metres:.2f} m) of {line}"


def _dash_misfits(row: ChartRow) -> Iterator[tuple[str, str]]:
    if row["reaction"] is not None and row["reaction"] >= row["seconds"]:
        yield "reaction", "must be shorter than the time of the dash"


THIRD_SHOTS: Final = Form(
    _SHOT_COLUMNS,
    _SHOT_TEMPLATE,
    _shot_misfits,
    "reachshare fit shots --template writes a chart to fill in",
)
DASHES: Final = Form(
    _DASH_COLUMNS,
    _DASH_TEMPLATE,
    _dash_misfits,
    "reachshare fit runs --template writes a chart to fill in",
)
