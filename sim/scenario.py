"""What a scenario says: the pair, the return of serve, the opponents, ball, air and policies.

Every default carries a tag, [S] rule or standard, [P] published, [C] common practice without a
source, [A] our assumption, and its source; the model page explains them.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Iterable
from typing import Annotated, Any, Final, Literal, Self, TypeVar

from pydantic import AfterValidator, Field, ModelWrapValidatorHandler, model_validator

from sim.quantities import Distribution, Strict, quantity, spread, tagged

RETURN_DIRECTIONS: Final = ("line", "middle", "cross")
LANES: Final = ("line", "middle", "cross")
SHOTS: Final = ("drive", "drop", "lob")
_DRILLIS = "Drillis and Contini 1966, in Winter (quoted)"
_OURS = "our assumption; measure your own"
_MODEL = "our assumption"
_OPEN_MATCHES = "counted from an open rally-by-rally extract of competitive matches, 2022-2025"

Weight = Annotated[float, Field(strict=True, ge=0.0, le=1e6)]


def _plain_text(text: str) -> str:
    if not text.strip():
        raise ValueError("must not be empty")
    unfit = {"Cc", "Cf", "Cn", "Cs", "Co", "Zl", "Zp"}
    if any(unicodedata.category(letter) in unfit for letter in text):
        raise ValueError("must be one line of plain text, without control characters")
    return text


Text = Annotated[str, Field(max_length=200), AfterValidator(_plain_text)]
Name = Annotated[str, Field(max_length=40), AfterValidator(_plain_text)]

# Reaction: lengthened with age about as simple and two-choice reactions are (Woods 2015: +0.55 ms
# and +2.80 ms a year), from an assumed 0.30 s in the sixties; legs are assumed throughout.
AGE_GROUPS: Final[dict[str, dict[str, Any]]] = {
    "thirties": {"reaction": "0.24 s", "top_speed": "18 ft/s"},
    "sixties": {"reaction": "0.30 s", "top_speed": "13 ft/s"},
    "seventies": {"reaction": "0.36 s", "top_speed": "10 ft/s"},
}

# Shares of drive, drop and lob [P]; preferred drive speed and errors [A]: see the model page.
LEVELS: Final[dict[str, dict[str, Any]]] = {
    level: {
        "shots": {"drive": drive, "drop": drop, "lob": lob},
        "speed": {"kind": "normal", "mean": f"{mean} mph", "sd": f"{sd} mph"},
        "errors": {
            "speed": {"kind": "normal", "mean": "0 %", "sd": f"{e_speed} %"},
            "elevation": {"kind": "normal", "mean": "0 deg", "sd": f"{e_elevation} deg"},
            "azimuth": {"kind": "normal", "mean": "0 deg", "sd": f"{e_azimuth} deg"},
        },
    }
    for level, drive, drop, lob, mean, sd, e_speed, e_elevation, e_azimuth in (
        ("3.0", 78, 18, 4, 33, 5, 5.5, 1.8, 2.6),
        ("3.5", 48, 49, 3, 36, 4.5, 4.5, 1.4, 2.1),
        ("4.0", 47, 50.5, 2.5, 39, 4, 3.5, 1.0, 1.6),
        ("4.5", 41, 58, 1, 42, 4, 3.0, 0.8, 1.3),
        ("5.0", 38, 61, 1, 44, 4, 2.5, 0.7, 1.1),
        ("professional", 45, 54.7, 0.3, 48, 4, 2.0, 0.55, 0.9),
    )
}


def _entry_for(table: dict[str, Any], data: Any, key: str, usual: str) -> dict[str, Any] | None:
    """The row of defaults that a scenario's table asks for, or None."""
    wanted = data.get(key, usual) if isinstance(data, dict) else None
    return table.get(wanted) if isinstance(wanted, str) else None


def _unmark(model: Strict, names: Iterable[str]) -> None:
    """Let values filled in by age group or level count as defaults, not as given."""
    model.model_fields_set.difference_update(names)


class Player(Strict):
    """One of the pair: body, eyes and legs."""

    height: Annotated[float, quantity("length", "4 ft", "7 ft 6 in")] = tagged(
        "5 ft 7 in", "A", _OURS
    )
    handed: Literal["right", "left"] = tagged("right", "A", _OURS)
    age_group: Literal["thirties", "sixties", "seventies"] = tagged("sixties", "A", _OURS)
    reaction: Annotated[Distribution, spread("time", "0.01 s", "1.5 s")] = tagged(
        {"kind": "normal", "mean": "0.30 s", "sd": "0.04 s"}, "A", "our assumption, by age group"
    )
    top_speed: Annotated[float, quantity("running speed", "2 ft/s", "36 ft/s")] = tagged(
        "13 ft/s", "A", "our assumption, by age group"
    )
    time_constant: Annotated[float, quantity("time", "0.2 s", "3 s")] = tagged(
        "1.0 s", "P", "Clark and Ryan 2022: about 1 s across levels (quoted)"
    )
    full_stretch: Annotated[float, quantity("length", "3 ft", "10 ft")] | None = tagged(
        None, "C", "common practice, no source: 72 in for a 67 in player, in proportion"
    )
    sideways: Annotated[float, Field(strict=True, gt=0.1, le=1.2)] = tagged(0.85, "A", _MODEL)
    backwards: Annotated[float, Field(strict=True, gt=0.1, le=1.2)] = tagged(0.65, "A", _MODEL)
    bend: Annotated[float, quantity("length", "0 ft", "3 ft")] = tagged("1.2 ft", "A", _MODEL)
    backhand: Annotated[float, Field(strict=True, ge=0.5, le=1.1)] = tagged(0.92, "A", _MODEL)
    paddle_sweet_spot: Annotated[float, quantity("length", "0.2 ft", "1.5 ft")] = tagged(
        "0.71 ft", "A", _MODEL
    )
    paddle_tip: Annotated[float, quantity("length", "0.3 ft", "1.5 ft")] = tagged(
        "1.12 ft", "A", _MODEL
    )
    arm_time: Annotated[float, quantity("time", "0.01 s", "1 s")] = tagged("0.18 s", "A", _MODEL)
    lunge_time: Annotated[float, quantity("time", "0.01 s", "2 s")] = tagged("0.45 s", "A", _MODEL)
    shoulder_share: Annotated[float, Field(strict=True, ge=0.5, le=0.95)] = tagged(
        0.818, "P", _DRILLIS
    )
    stance_share: Annotated[float, Field(strict=True, ge=0.6, le=1.0)] = tagged(0.93, "A", _MODEL)
    shoulder_offset_share: Annotated[float, Field(strict=True, ge=0.05, le=0.25)] = tagged(
        0.129, "P", f"half the biacromial breadth; {_DRILLIS}"
    )
    arm_share: Annotated[float, Field(strict=True, ge=0.2, le=0.5)] = tagged(
        0.386, "P", f"upper arm 0.186, forearm 0.146, half the hand 0.054; {_DRILLIS}"
    )

    @model_validator(mode="wrap")
    @classmethod
    def _by_age_group(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        group = _entry_for(AGE_GROUPS, data, "age_group", "sixties")
        if group is None:
            return handler(data)
        reaction = {"kind": "normal", "mean": group["reaction"], "sd": "0.04 s"}
        player = handler({"reaction": reaction, "top_speed": group["top_speed"]} | data)
        _unmark(player, {"reaction", "top_speed"} - data.keys())
        return player

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if self.paddle_tip < self.paddle_sweet_spot:
            raise ValueError("paddle_tip: the tip must lie beyond paddle_sweet_spot")
        if self.full_stretch is not None and self.full_stretch < self._reach_without_lunge:
            raise ValueError(
                "full_stretch: less than this player reaches without a lunge "
                f"({self._reach_without_lunge:.2f} ft); measure from the middle of the standing "
                "mark to the tip of the paddle"
            )
        return self

    @property
    def _reach_without_lunge(self) -> float:
        return (self.shoulder_offset_share + self.arm_share) * self.height + self.paddle_tip

    @property
    def stretched_reach(self) -> float:
        """Measured full stretch, or the default in proportion to height (ft)."""
        if self.full_stretch is not None:
            return self.full_stretch
        return max(72.0 / 67.0 * self.height, self._reach_without_lunge)


class Pair(Strict):
    """The two players, as they stand facing the net."""

    left: Player = Field(default_factory=Player)
    right: Player = Field(default_factory=Player)


def _side(mean: str) -> dict[str, str]:
    return {"kind": "truncated", "mean": mean, "sd": "1.5 ft", "low": "-10 ft", "high": "10 ft"}


class Lateral(Strict):
    """Where returns land across the court, counted from the centre towards the returner's side."""

    line: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        _side("7 ft"), "A", _MODEL
    )
    middle: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        _side("0 ft"), "A", _MODEL
    )
    cross: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        _side("-7 ft"), "A", _MODEL
    )


class ReturnOfServe(Strict):
    """The pair's return of serve and where it is struck."""

    side: Literal["even", "odd"] = tagged("even", "A", "the right-hand player returns; our choice")
    directions: Annotated[
        list[Literal["line", "middle", "cross"]], Field(min_length=1, max_length=3)
    ] = tagged(["line", "middle", "cross"], "A", "our choice")
    struck_from_centre: Annotated[float, quantity("length", "0 ft", "10 ft")] = tagged(
        "5 ft", "A", _MODEL
    )
    struck_depth: Annotated[float, quantity("length", "15 ft", "28 ft")] = tagged(
        "22.5 ft", "A", _MODEL
    )
    struck_height: Annotated[float, quantity("length", "0.5 ft", "4 ft")] = tagged(
        "2.5 ft", "A", _MODEL
    )
    lateral: Lateral = Field(default_factory=Lateral)
    landing_depth: Annotated[Distribution, spread("length", "5 ft", "22 ft")] = tagged(
        {"kind": "truncated", "mean": "14.5 ft", "sd": "4 ft", "low": "7.5 ft", "high": "21.8 ft"},
        "P",
        "set so that about half land in the far third, as observed at club level "
        "(student study with Rice University, 2024)",
    )
    top: Annotated[Distribution, spread("length", "4.5 ft", "30 ft")] = tagged(
        {"kind": "truncated", "mean": "8.5 ft", "sd": "1.5 ft", "low": "5 ft", "high": "14 ft"},
        "A",
        _MODEL,
    )

    @model_validator(mode="after")
    def _no_doubles(self) -> Self:
        if len(set(self.directions)) != len(self.directions):
            raise ValueError("directions: each may stand only once")
        return self


class RunIn(Strict):
    """How the two get from the baseline to their places."""

    returner_delay: Annotated[float, quantity("time", "0 s", "2 s")] = tagged("0.30 s", "A", _MODEL)
    partner_delay: Annotated[float, quantity("time", "0 s", "2 s")] = tagged("0.25 s", "A", _MODEL)
    partner_starts: Literal["baseline", "line"] = tagged(
        "baseline", "A", "both back, as after a deep serve; our choice"
    )
    split_step_lead: Annotated[float, quantity("time", "0 s", "1 s")] = tagged(
        "0.15 s", "A", _MODEL
    )
    late_without_split_step: Annotated[float, quantity("time", "0 s", "0.5 s")] = tagged(
        "0.104 s", "P", "Uzu, Shinya and Oda 2009, J. Sports Sci. 27:1233"
    )
    shortest_reaction: Annotated[float, quantity("time", "0.05 s", "0.5 s")] = tagged(
        "0.12 s", "A", _MODEL
    )


_Weights = TypeVar("_Weights", bound=Strict)


def _some_weight(weights: _Weights) -> _Weights:
    if not sum(weights.model_dump().values()) > 0.0:
        raise ValueError("at least one of the weights must be above 0")
    return weights


class ShotWeights(Strict):
    """How often the opponents drive, drop and lob; only the proportions count."""

    drive: Weight
    drop: Weight
    lob: Weight

    @model_validator(mode="after")
    def _not_all_zero(self) -> Self:
        return _some_weight(self)


class LaneWeights(Strict):
    """How often each lane is aimed at; only the proportions count.

    Line is the side of their contact, cross the far side; a contact at the centre counts as right.
    """

    line: Weight
    middle: Weight
    cross: Weight

    @model_validator(mode="after")
    def _not_all_zero(self) -> Self:
        return _some_weight(self)


class LanesByReturn(Strict):
    """Lane weights of their own for a return direction; left out means as in ``lanes``."""

    line: LaneWeights | None = None
    middle: LaneWeights | None = None
    cross: LaneWeights | None = None


_CLEARANCE = spread("length", "0 ft", "12 ft")
_AZIMUTH = spread("angle", "-60 deg", "60 deg")
_DIRECT = "none: the lanes are used"


class Drive(Strict):
    """A fast, flat shot over the net."""

    speed: Annotated[Distribution, spread("speed", "5 mph", "110 mph")] = tagged(
        {"kind": "normal", "mean": "36 mph", "sd": "4.5 mph"}, "A", "our assumption, by level"
    )
    net_clearance: Annotated[Distribution, _CLEARANCE] = tagged(
        {"kind": "truncated", "mean": "1.2 ft", "sd": "0.5 ft", "low": "0.2 ft", "high": "4 ft"},
        "A",
        _MODEL,
    )
    topspin: Annotated[float, quantity("spin", "-3000 rpm", "3000 rpm")] = tagged(
        "500 rpm", "A", _MODEL
    )
    inside_baseline: Annotated[float, quantity("length", "0 ft", "15 ft")] | Literal["none"] = (
        tagged("2 ft", "A", _MODEL)
    )
    azimuth: Annotated[Distribution, _AZIMUTH] | None = tagged(None, "A", _DIRECT)


class Drop(Strict):
    """A soft shot meant to land in the non-volley zone."""

    landing_depth: Annotated[Distribution, spread("length", "0.5 ft", "22 ft")] = tagged(
        {"kind": "truncated", "mean": "5 ft", "sd": "1.2 ft", "low": "1.5 ft", "high": "9 ft"},
        "A",
        _MODEL,
    )
    net_clearance: Annotated[Distribution, _CLEARANCE] = tagged(
        {"kind": "truncated", "mean": "1.6 ft", "sd": "0.5 ft", "low": "0.2 ft", "high": "4 ft"},
        "A",
        _MODEL,
    )
    topspin: Annotated[float, quantity("spin", "-3000 rpm", "3000 rpm")] = tagged(
        "0 rpm", "A", _MODEL
    )
    azimuth: Annotated[Distribution, _AZIMUTH] | None = tagged(None, "A", _DIRECT)


class Lob(Strict):
    """A high shot meant to go over the pair."""

    landing_depth: Annotated[Distribution, spread("length", "8 ft", "22 ft")] = tagged(
        {"kind": "truncated", "mean": "18 ft", "sd": "1.5 ft", "low": "13 ft", "high": "21 ft"},
        "A",
        _MODEL,
    )
    top: Annotated[Distribution, spread("length", "6 ft", "40 ft")] = tagged(
        {"kind": "truncated", "mean": "15 ft", "sd": "2 ft", "low": "11 ft", "high": "22 ft"},
        "A",
        _MODEL,
    )
    topspin: Annotated[float, quantity("spin", "-3000 rpm", "3000 rpm")] = tagged(
        "0 rpm", "A", _MODEL
    )
    azimuth: Annotated[Distribution, _AZIMUTH] | None = tagged(None, "A", _DIRECT)


class Errors(Strict):
    """How far the struck ball strays from the intended one."""

    speed: Annotated[Distribution, spread("share", "-60 %", "60 %")]
    elevation: Annotated[Distribution, spread("angle", "-25 deg", "25 deg")]
    azimuth: Annotated[Distribution, spread("angle", "-25 deg", "25 deg")]


class Opponents(Strict):
    """The opponents' contact and their third shot."""

    level: Literal["3.0", "3.5", "4.0", "4.5", "5.0", "professional"] = tagged("3.5", "A", _OURS)
    contact_height: Annotated[Distribution, spread("length", "0.3 ft", "4 ft")] = tagged(
        {"kind": "truncated", "mean": "2.3 ft", "sd": "0.4 ft", "low": "1.2 ft", "high": "3.5 ft"},
        "A",
        _MODEL,
    )
    farthest_contact: Annotated[float, quantity("length", "22 ft", "40 ft")] = tagged(
        "28 ft", "A", _MODEL
    )
    shots: ShotWeights = tagged(LEVELS["3.5"]["shots"], "P", f"by level, {_OPEN_MATCHES}")
    lanes: LaneWeights = tagged({"line": 35.0, "middle": 40.0, "cross": 25.0}, "A", _MODEL)
    lanes_by_return: LanesByReturn = Field(default_factory=LanesByReturn)
    inset: Annotated[Distribution, spread("length", "-2 ft", "10 ft")] = tagged(
        {"kind": "truncated", "mean": "1.8 ft", "sd": "0.8 ft", "low": "0.3 ft", "high": "4 ft"},
        "A",
        _MODEL,
    )
    middle: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        {"kind": "uniform", "low": "-2 ft", "high": "2 ft"}, "A", _MODEL
    )
    drive: Drive = Field(default_factory=Drive)
    drop: Drop = Field(default_factory=Drop)
    lob: Lob = Field(default_factory=Lob)
    errors: Errors = tagged(LEVELS["3.5"]["errors"], "A", "our assumption, by level")

    @model_validator(mode="wrap")
    @classmethod
    def _by_level(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        usual = _entry_for(LEVELS, data, "level", "3.5")
        if usual is None:
            return handler(data)
        drive, errors = data.get("drive", {}), data.get("errors", {})
        if not (isinstance(drive, dict) and isinstance(errors, dict)):
            return handler(data)
        filled = {
            "shots": usual["shots"],
            **data,
            "drive": {"speed": usual["speed"]} | drive,
            "errors": usual["errors"] | errors,
        }
        opponents = handler(filled)
        _unmark(opponents, filled.keys() - data.keys())
        _unmark(opponents.drive, {"speed"} - drive.keys())
        _unmark(opponents.errors, usual["errors"].keys() - errors.keys())
        return opponents


class BallInPlay(Strict):
    """The ball."""

    kind: Literal["outdoor", "indoor"] = tagged("outdoor", "A", "our choice")
    mass: Annotated[float, quantity("mass", "15 g", "40 g")] = tagged(
        "24.3 g", "S", "equipment standard, 0.78-0.935 oz: the middle (quoted)"
    )
    diameter: Annotated[float, quantity("length", "2 in", "4 in")] = tagged(
        "2.92 in", "S", "equipment standard, 2.87-2.97 in: the middle (quoted)"
    )
    drag_coefficient: Annotated[float, Field(strict=True, ge=0.05, le=1.5)] | None = tagged(
        None, "P", "Lindsey 2025: 0.33 outdoor, 0.45 indoor (quoted)"
    )
    lift_slope: Annotated[float, Field(strict=True, ge=0.0, le=1.0)] = tagged(
        0.195, "P", "Steyn et al. 2025, arXiv:2501.00163 (quoted)"
    )
    restitution: Annotated[float, Field(strict=True, ge=0.3, le=0.95)] = tagged(
        0.66, "S", "equipment standard, rebound 30-34 in from 78 in (quoted; computed)"
    )
    friction: Annotated[float, Field(strict=True, ge=0.0, le=1.5)] = tagged(
        0.5, "A", "no published value for this ball on a court was found"
    )

    @property
    def drag(self) -> float:
        """Drag coefficient, by kind of ball unless given."""
        if self.drag_coefficient is not None:
            return self.drag_coefficient
        return {"outdoor": 0.33, "indoor": 0.45}[self.kind]


class Air(Strict):
    """The air: density and wind."""

    temperature: Annotated[float, quantity("temperature", "-20 C", "50 C")] = tagged(
        "20 C", "A", "our choice; density by ISO 2533 and the ideal gas law"
    )
    altitude: Annotated[float, quantity("length", "-1500 ft", "15000 ft")] = tagged(
        "0 ft", "A", "our choice"
    )
    wind_from_behind: Annotated[float, quantity("speed", "-15 mph", "15 mph")] = tagged(
        "0 mph", "A", "our choice; from behind the pair, towards the opponents"
    )
    wind_to_the_right: Annotated[float, quantity("speed", "-15 mph", "15 mph")] = tagged(
        "0 mph", "A", "our choice; as the pair faces the net"
    )


RULES: Final = ("follow", "tethered", "halves", "centre", "bisect", "fixed")


class Centres(Strict):
    """A centre of the pair for each return direction, counted to the pair's right."""

    line: Annotated[float, quantity("length", "-10 ft", "10 ft")] = tagged("0 ft", "A", _MODEL)
    middle: Annotated[float, quantity("length", "-10 ft", "10 ft")] = tagged("0 ft", "A", _MODEL)
    cross: Annotated[float, quantity("length", "-10 ft", "10 ft")] = tagged("0 ft", "A", _MODEL)


_DEPTH = quantity("length", "7 ft", "26 ft")


class Policy(Strict):
    """Where the two should be when the opponents strike, and whether they stop for it."""

    name: Name
    rule: Literal["follow", "tethered", "halves", "centre", "bisect", "fixed"]
    spacing: Annotated[float, quantity("length", "1 ft", "20 ft")] | None = tagged(
        None, "C", "common practice 6 ft, at most 8: 7 ft; 10 ft for halves"
    )
    shift: Annotated[float, Field(strict=True, ge=-1.0, le=2.0)] = tagged(0.40, "A", _MODEL)
    depth: Annotated[float, _DEPTH] = tagged("8 ft", "A", _MODEL)
    returner_depth: Annotated[float, _DEPTH] | None = tagged(None, "A", "as depth")
    partner_depth: Annotated[float, _DEPTH] | None = tagged(None, "A", "as depth")
    split_step: Annotated[bool, Field(strict=True)] = tagged(
        True, "C", "common practice, no source"
    )
    centres: Centres | None = None

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if (self.rule == "fixed") != (self.centres is not None):
            raise ValueError('centres: belongs to rule = "fixed", and only there')
        return self

    @property
    def slug(self) -> str:
        """The name as part of a file name: ASCII letters, digits and hyphens."""
        plain = unicodedata.normalize("NFKD", self.name).encode("ascii", "ignore").decode()
        return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")

    @property
    def gap(self) -> float:
        """Distance between the two (ft)."""
        if self.spacing is not None:
            return self.spacing
        return 10.0 if self.rule == "halves" else 7.0


USUAL_POLICIES: Final = [
    {"name": "halves", "rule": "halves"},
    {"name": "centre", "rule": "centre"},
    {"name": "follow", "rule": "follow"},
    {"name": "bisect", "rule": "bisect"},
    {"name": "tethered", "rule": "tethered"},
    {"name": "stay back", "rule": "centre", "depth": "22 ft", "spacing": "10 ft"},
]


class Run(Strict):
    """How much is simulated and what is compared with what."""

    shots: Annotated[int, Field(strict=True, ge=1, le=10_000_000)] = tagged(
        8192, "A", "shots for each return direction; our choice"
    )
    seed: Annotated[int, Field(strict=True, ge=0, le=2**63 - 1)] = tagged(1, "A", "our choice")
    baseline: Name | None = tagged(None, "A", "the first policy")


class Scenario(Strict):
    """All that a run needs to know. Quantities are in ft, s, rad and their like."""

    name: Name
    question: Text = tagged("Which way of moving reaches the most third shots?", "A", "our choice")
    pair: Pair = Field(default_factory=Pair)
    return_of_serve: ReturnOfServe = Field(default_factory=ReturnOfServe)
    run_in: RunIn = Field(default_factory=RunIn)
    opponents: Opponents = Field(default_factory=Opponents)
    ball: BallInPlay = Field(default_factory=BallInPlay)
    air: Air = Field(default_factory=Air)
    policies: Annotated[list[Policy], Field(min_length=1, max_length=200)] = tagged(
        USUAL_POLICIES, "A", "our choice of rules of thumb"
    )
    run: Run = Field(default_factory=Run)

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        names = [policy.name for policy in self.policies]
        slugs = [policy.slug for policy in self.policies]
        for name, slug in zip(names, slugs, strict=True):
            if not slug:
                raise ValueError(f'policies: the name "{name}" needs a letter or digit a to z')
            if slugs.count(slug) > 1:
                raise ValueError(f'policies: the name "{name}" stands twice, or nearly so')
        if self.run.baseline is not None and self.run.baseline not in names:
            known = ", ".join(f'"{name}"' for name in names)
            raise ValueError(f'run.baseline: "{self.run.baseline}" is not a policy ({known})')
        return self

    @property
    def baseline(self) -> Policy:
        """The policy that the others are compared with."""
        if self.run.baseline is None:
            return self.policies[0]
        return next(policy for policy in self.policies if policy.name == self.run.baseline)

    def digest(self) -> str:
        """A fingerprint of all values that the results depend on."""
        text = json.dumps(self.model_dump(mode="json"), sort_keys=True, ensure_ascii=True)
        return hashlib.sha256(text.encode()).hexdigest()
