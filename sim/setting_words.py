"""What common settings are called in the words of the trade, by their keys."""

from __future__ import annotations

from typing import Final

_PLAYERS: Final = {"left": "the left player", "right": "the right player", "both": "both players"}
_OF_PLAYERS: Final = {
    "height": "height",
    "reaction.mean": "mean reaction time",
    "top_speed": "top speed",
    "full_stretch": "full stretch",
}
_OF_POLICIES: Final = {
    "spacing": "spacing",
    "shift": "shift",
    "depth": "depth",
    "returner_depth": "returner's depth",
    "partner_depth": "partner's depth",
    "centres.line": "centre after returns down the line",
    "centres.middle": "centre after returns to the middle",
    "centres.cross": "centre after returns cross-court",
}
OTHER_WORDS: Final = {
    "return_of_serve.landing_depth.mean": "mean depth of the returns",
    "return_of_serve.top.mean": "mean height of the returns",
    "run_in.returner_delay": "delay of the returner",
    "run_in.partner_delay": "delay of the partner",
    "run_in.split_step_lead": "lead of the split step",
    "run_in.late_without_split_step": "time lost without a split step",
    "opponents.shots.drive": "weight of drives",
    "opponents.shots.drop": "weight of drops",
    "opponents.shots.lob": "weight of lobs",
    "opponents.lanes.line": "weight of shots down the line",
    "opponents.lanes.middle": "weight of shots to the middle",
    "opponents.lanes.cross": "weight of shots cross-court",
    "opponents.drive.speed.mean": "mean speed of their drives",
    "opponents.drive.speed.sd": "spread of the speed of their drives",
    "opponents.drive.net_clearance.mean": "mean net clearance of their drives",
    "opponents.drop.landing_depth.mean": "mean depth of their drops",
    "opponents.lob.landing_depth.mean": "mean depth of their lobs",
    "opponents.lob.top.mean": "mean height of their lobs",
    "opponents.errors.speed.sd": "spread of their errors in speed",
    "opponents.errors.elevation.sd": "spread of their errors in height",
    "opponents.errors.azimuth.sd": "spread of their errors to the side",
    "ball.drag_coefficient": "drag of the ball",
    "air.temperature": "temperature",
    "air.altitude": "altitude",
    "air.wind_from_behind": "wind from behind",
    "air.wind_to_the_right": "wind to the right",
}


def setting_words(key: str) -> str:
    """What a setting is called, without an article; its key where it has no name of its own.

    >>> setting_words("pair.both.top_speed"), setting_words("policies.stay back.depth")
    ('top speed of both players', 'depth of stay back')
    >>> setting_words("spacing"), setting_words("ball.friction")
    ('spacing', 'ball.friction')
    """
    group, _, rest = key.partition(".")
    whose, _, name = rest.partition(".")
    if group == "pair" and whose in _PLAYERS and name in _OF_PLAYERS:
        return f"{_OF_PLAYERS[name]} of {_PLAYERS[whose]}"
    if group == "policies":
        # Names of policies may hold dots.
        for name in sorted(_OF_POLICIES, key=len, reverse=True):
            if rest.endswith(f".{name}"):
                return f"{_OF_POLICIES[name]} of {rest.removesuffix(f'.{name}')}"
    return _OF_POLICIES.get(key) or OTHER_WORDS.get(key, key)
