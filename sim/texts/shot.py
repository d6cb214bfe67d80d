"""One shot told, as a person reads it in the terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from sim.analyses.one_shot import OneShot, Response
from sim.analyses.shot_reasons import FAR, HIGH, LOW, PASSED, TIME, ZONE, Miss, miss_of
from sim.analyses.shot_responses import AT_FULL_STRETCH, IN_CONTROL
from sim.court import BASELINE, HALF_WIDTH
from sim.rallies import ball_of
from sim.run_in import PLAYERS
from sim.texts.shot_tables import by_hand_table, instants_table
from sim.texts.table import aligned, length
from sim.units import SHOWN_UNIT, in_unit
from sim.wording import CAUTIONS, DIRECTIONS, LIMITS, joined

_OTHER: Final = {"left": "right", "right": "left"}
_LEAKS: Final = {
    "short": "it bounces twice in front of them",
    "over": "it goes over them",
    "line": "it gets through on the side it was struck from",
    "middle": "it gets through between them",
    "cross": "it gets through on the far side",
}
_FRAME: Final = (
    "x counts to the pair's right from the centre line, y from the net towards the opponents, z "
    "up; the azimuth from straight towards the pair's baseline, positive to the pair's right. "
    "Ball's centre, ground at z = 0. With a the speed along the vertical plane of flight, u the "
    "one up, v of both:",
    "  a' = - K v a + M w u,  u' = - g - K v u - M w a",
    "In wind: take it off the velocity at the strike, fly, and add wind times time to the place.",
)
_EACH_INSTANT: Final = (
    "Every instant by itself: the distance is how far the ball is from where the player's feet can "
    "be by then. Where it is within the reach, the ball is reached."
)


def terminal_text(shot: OneShot, shown: Sequence[str], units: str = "us", picked: str = "") -> str:
    """The shot in a sentence, what every policy does with it, why not, numbers, how to check it.

    ``shown`` are the policies whose instants are told in a table; ``picked`` says how the program
    picked the shot, if it did.
    """
    scenario = shot.scenario
    parts = [scenario.name, "Who gets to this ball, and why not?", ""]
    parts += [opening(shot, units), ""]
    if shot.fate == "in play":
        parts += [*map(sentence, shot.answers.values()), ""]
    parts += [picked, ""] if picked else []
    parts += [_which_of_how_many(shot), ""]
    if shot.fate == "in play":
        parts += ["Each player: where the strike finds them, and what they lack"]
        parts += [aligned(_players_table(shot, units)), ""]
        for name in shown:
            parts += [f"Instant by instant: {name} (all instants and policies: instants.csv)"]
            parts += [aligned(instants_table(shot, shot.answers[name], units)), ""]
        parts += [_EACH_INSTANT, ""]
    parts += ["To check it by hand", aligned(by_hand_table(shot, units)), *_FRAME, ""]
    return "\n".join([*parts, *LIMITS, *CAUTIONS])


def opening(shot: OneShot, units: str = "us") -> str:
    """Which shot it is, and what `description` says of it."""
    return (
        f"Shot {shot.number} after a return {DIRECTIONS[shot.direction]}: "
        f"{description(shot, units)}"
    )


def description(shot: OneShot, units: str = "us") -> str:
    """How the shot is struck, and what becomes of it."""
    unit = SHOWN_UNIT[units]["speed"]
    speed = f"{in_unit(shot.launch.speed, 'speed', unit):.0f} {unit}"
    return (
        f"a {shot.shot} meant to go {DIRECTIONS[shot.lane]}, {speed}, struck "
        f"{length(shot.contact[2], units)} from the net. {_fate(shot, units)}"
    )


def _fate(shot: OneShot, units: str) -> str:
    landing = shot.landing
    if landing is None:
        low = f"{_some(-shot.net_clearance, units)} too low"
        # Lower, the whole ball is below the tape.
        if shot.net_clearance > -2.0 * ball_of(shot.scenario).radius:
            return f"It touches the tape, {low}, which counts as into the net: no answer."
        return f"It goes into the net, {low}: no answer."
    if shot.fate == "net":
        return "It lands before the net: no answer."
    time, x, y, _ = landing
    over = "It goes around the post"
    if not shot.around_post:
        over = f"It clears the net by {length(shot.net_clearance, units)}"
    after = f"{time - shot.contact_time:.2f} s after it was struck"
    if shot.fate == "out":
        beyond = {"wide": abs(x) - HALF_WIDTH, "long": -BASELINE - y}
        by = [f"{_some(far, units)} {word}" for word, far in beyond.items() if far > 0.0]
        return f"{over} and lands {joined(by)}, {after}: out, no answer."
    side = "right" if x >= 0.0 else "left"
    return (
        f"{over}; left alone it lands {after}, {length(-y, units)} from the net and "
        f"{length(abs(x), units)} {side} of the centre line."
    )


def sentence(answer: Response) -> str:
    """What one policy does with a shot in play."""
    name, player, hit = answer.policy.name, answer.player, answer.hit
    name = name[0].upper() + name[1:]
    if hit is None:
        return f"{name}: nobody reaches it; {_LEAKS[answer.leak]}."
    how = f"{answer.hand} volley" if answer.taken == "volley" else f"{answer.hand}, {answer.taken},"
    after = f"{hit[0] - answer.row['contact_time_s']:.2f} s after it was struck"
    if answer.outcome == AT_FULL_STRETCH:
        return (
            f"{name}: the {player} player gets to it only at full stretch, with a {how} {after}; "
            "nobody has it in control."
        )
    told = (
        f"{name}: the {player} player takes it in control with a {how} {after}, "
        f"{seconds(answer.spare[player])} to spare."
    )
    return f"{told} So could the {_OTHER[player]} player." if answer.both_in_control else told


def _which_of_how_many(shot: OneShot) -> str:
    run = shot.scenario.run
    sides = len(shot.scenario.return_of_serve.directions)
    returns = "" if sides == 1 else f" {DIRECTIONS[shot.direction]}"
    return (
        f"This is one shot of {run.shots:,} after returns{returns}, seed {run.seed}: the one with "
        "this number in shots.csv (reachshare compare --every-shot). One shot shows how the "
        "machine decides; how often each policy gets there is what compare tells."
    )


def _players_table(shot: OneShot, units: str) -> list[list[str]]:
    table = [
        ["policy", "player", "from net", "from centre line", "reacts after", "gets it, or not"]
    ]
    for answer in shot.answers.values():
        for name in PLAYERS:
            x, y = answer.found[name]
            side = "right" if x >= 0.0 else "left"
            table.append(
                [
                    answer.policy.name if name == PLAYERS[0] else "",
                    name,
                    length(-y, units),
                    f"{length(abs(x), units)} {side}",
                    f"{answer.reacts_at[name] - shot.contact_time:.2f} s",
                    player_words(shot, answer, name, units),
                ]
            )
    return table


def player_words(shot: OneShot, answer: Response, name: str, units: str = "us") -> str:
    """Whether a player gets to a ball in play, with how much to spare, and if not, why not."""
    miss = miss_of(shot.scenario, answer, name)
    if miss is None:
        return f"{IN_CONTROL}, {seconds(answer.spare[name])} to spare"
    why = _why(miss, shot, units)
    return (
        f"not reached: {why}"
        if miss.at_full_stretch
        else f"{AT_FULL_STRETCH} only; for control {why}"
    )


def _why(miss: Miss, shot: OneShot, units: str) -> str:
    """The reason in words, and how much is lacking."""
    if miss.reason == PASSED:
        return "reacts only when it is past or has bounced twice"
    reach = "full stretch" if miss.at_full_stretch else "the reach"
    when = f"{miss.time - shot.contact_time:.2f} s"
    nearest = (
        f"no arm gets to it ({when})"
        if math.isinf(miss.lacking)
        else f"{_some(miss.lacking, units)} beyond {reach} at its nearest ({when})"
    )
    if miss.reason == TIME:
        return f"{nearest}: {seconds(miss.late)} too late"
    if miss.reason == FAR:
        return f"{nearest}, and beyond it even for one who reacts at once"
    words = {
        ZONE: "may not volley it from inside the non-volley zone",
        HIGH: f"too high, {length(miss.height, units)} up",
        LOW: f"too low, {length(miss.height, units)} up",
    }[miss.reason]
    return f"{words}: {nearest}"


def _some(feet: float, units: str) -> str:
    """A length that is more than none, and never looks like none.

    >>> _some(0.32, "us"), _some(0.02, "us"), _some(0.01, "metric")
    ('0.3 ft', 'under 0.1 ft', 'under 0.01 m')
    """
    shown = length(feet, units)
    least = length(0.0, units).replace("0 ", "1 ")
    return shown if shown != length(0.0, units) else f"under {least}"


def seconds(time: float) -> str:
    """A time in hundredths; what is more than none never looks like none.

    >>> seconds(0.084), seconds(0.0), seconds(0.0004)
    ('0.08 s', '0.00 s', 'under 0.01 s')
    """
    return "under 0.01 s" if 0.0 < time < 0.005 else f"{time:.2f} s"
