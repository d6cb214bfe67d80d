"""Tables of one shot: a handful of telling instants, and what it takes to fly it again."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from sim.analyses.one_shot import OneShot, Response
from sim.analyses.shot_instants import Instants
from sim.analyses.shot_tables import check_rows
from sim.court import Array
from sim.run_in import PLAYERS
from sim.texts.table import length
from sim.units import METRES_PER_FOOT

_WORDS: Final = {
    "struck_x": "struck at x",
    "struck_y": "struck at y",
    "struck_z": "struck at z",
    "speed": "launch speed",
    "elevation": "elevation",
    "azimuth": "azimuth",
    "spin": "spin w, topspin positive",
    "drag_constant": "drag constant K",
    "lift_constant": "lift constant M",
    "gravity": "gravity g",
    "ball_radius": "radius of the ball",
    "wind_to_the_right": "wind to the pair's right",
    "wind_from_behind": "wind from behind the pair",
    "net_time": "over the net after",
    "net_x": "there at x",
    "net_z": "there at z",
    "net_top": "the net is there high",
    "net_clearance": "clears it, less its radius, by",
    "landing_time": "lands after",
    "landing_x": "lands at x",
    "landing_y": "lands at y",
}
_FEET: Final = {"ft": "m", "ft/s": "m/s", "ft/s2": "m/s2"}


def by_hand_table(shot: OneShot, units: str) -> list[list[str]]:
    """What is given, and below it what has to come out."""
    table = [["given, or to come out", "", "value"]]
    for row in check_rows(shot):
        value, unit = row["value"], row["unit"]
        if unit == "1/(1000 ft)":
            value, unit = 1e-3 * value, "1/ft"
            if units == "metric":
                value, unit = value / METRES_PER_FOOT, "1/m"
            shown = f"{value:.6g} {unit}"
        elif unit == "millionths":
            shown = f"{1e-6 * value:.6g}"
        else:
            if units == "metric" and unit in _FEET:
                value, unit = value * METRES_PER_FOOT, _FEET[unit]
            shown = f"{value + 0.0:.4f} {unit}"
        table.append([_WORDS[row["quantity"]], "given" if row["given"] else "comes out", shown])
    return table


def instants_table(shot: OneShot, answer: Response, units: str) -> list[list[str]]:
    """The ball and both players at a handful of telling instants."""
    ball = ["", "after", "ball from net", "from centre line", "high"]
    reach = ["player", "distance", "reach in control", "at full stretch", "lacking"]
    table = [ball + reach]
    seen = answer.instants[PLAYERS[0]]
    for words, time in telling_times(shot, answer):
        k = int(np.argmin(np.abs(seen.time - time)))
        side = "right" if seen.x[k] >= 0.0 else "left"
        here = [
            words,
            f"{seen.time[k] - shot.contact_time:.2f} s",
            length(abs(float(seen.y[k])), units),
            f"{length(abs(float(seen.x[k])), units)} {side}",
            length(max(float(seen.z[k]), 0.0), units),
        ]
        barred = {_barred(answer.instants[name], k) for name in PLAYERS}
        if "" not in barred and len(barred) == 1:
            table.append([*here, "both", "", "", "", *barred])
            continue
        for name in PLAYERS:
            table.append([*here, name, *_reaches(answer.instants[name], k, units)])
            here = [""] * len(here)
    return table


def _reaches(seen: Instants, k: int, units: str) -> list[str]:
    """Distance from the ball, both reaches at its height, and what they lack; at one instant."""
    left, control, stretch = (float(part[k]) for part in (seen.left, seen.control, seen.stretch))
    shown = [length(left, units)]
    if barred := _barred(seen, k):
        return [*shown, "", "", barred]
    shown += ["no arm there" if math.isinf(r) else length(r, units) for r in (control, stretch)]
    if left <= control:
        return [*shown, "nothing"]
    if left <= stretch:
        lacking = "" if math.isinf(control) else f": {length(left - control, units)}"
        return [*shown, f"for control{lacking}"]
    return [*shown, "" if math.isinf(stretch) else length(left - stretch, units)]


def _barred(seen: Instants, k: int) -> str:
    """Why the player cannot play the ball at one instant, wherever the feet are; or empty."""
    if seen.playable[k]:
        return ""
    early = seen.time[k] < seen.reacts or seen.y[k] > 0.0
    return "cannot play it yet" if early else "too far back"


def telling_times(shot: OneShot, answer: Response) -> list[tuple[str, float]]:
    """What happens when (s since the return), in order: of a shot in play."""
    times = [("struck", shot.contact_time)]
    if shot.over_net is not None:
        times.append((shot.crossing, shot.over_net[0]))
    if shot.landing is not None:
        times.append(("bounces", shot.landing[0]))
    times += [(f"{name} reacts", answer.reacts_at[name]) for name in PLAYERS]
    for name, seen in answer.instants.items():
        if name != answer.player:
            times.append((f"{name}: nearest", float(seen.time[_easiest(seen)])))
    if answer.hit is not None:
        times.append(("hit", answer.hit[0]))
    times.append(("second bounce", shot.end[0]))
    return sorted(times, key=lambda entry: entry[1])


def _easiest(seen: Instants) -> int:
    """The instant at which most reach is left over at full stretch, or least is lacking."""
    room: Array = seen.stretch - seen.left
    return int(np.argmax(room))
