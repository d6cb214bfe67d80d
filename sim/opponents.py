"""The opponents: their level, what they play, where they aim it and how far they stray.

Every default carries a tag and its source, see `sim.scenario`.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal, Self, TypeVar

from pydantic import BeforeValidator, Field, ModelWrapValidatorHandler, model_validator

from sim.quantities import (
    MODEL,
    OURS,
    Distribution,
    Strict,
    entry_for,
    quantity,
    spread,
    tagged,
    unmark,
)

LANES: Final = ("line", "middle", "cross")
SHOTS: Final = ("drive", "drop", "lob")
_OPEN_MATCHES: Final = (
    "counted from an open rally-by-rally extract of competitive matches, 2022-2025"
)

Weight = Annotated[float, Field(strict=True, ge=0.0, le=1e6)]

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


_CLEARANCE = spread("length", "0 ft", "8 ft")
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
        MODEL,
    )
    topspin: Annotated[float, quantity("spin", "-2000 rpm", "2000 rpm")] = tagged(
        "500 rpm", "A", MODEL
    )
    inside_baseline: Annotated[float, quantity("length", "0 ft", "15 ft")] | Literal["none"] = (
        tagged("2 ft", "A", MODEL)
    )
    azimuth: Annotated[Distribution, _AZIMUTH] | None = tagged(None, "A", _DIRECT)


class Drop(Strict):
    """A soft shot meant to land in the non-volley zone."""

    landing_depth: Annotated[Distribution, spread("length", "0.5 ft", "22 ft")] = tagged(
        {"kind": "truncated", "mean": "5 ft", "sd": "1.2 ft", "low": "1.5 ft", "high": "9 ft"},
        "A",
        MODEL,
    )
    net_clearance: Annotated[Distribution, _CLEARANCE] = tagged(
        {"kind": "truncated", "mean": "1.6 ft", "sd": "0.5 ft", "low": "0.2 ft", "high": "4 ft"},
        "A",
        MODEL,
    )
    topspin: Annotated[float, quantity("spin", "-2000 rpm", "2000 rpm")] = tagged(
        "0 rpm", "A", MODEL
    )
    azimuth: Annotated[Distribution, _AZIMUTH] | None = tagged(None, "A", _DIRECT)


class Lob(Strict):
    """A high shot meant to go over the pair."""

    landing_depth: Annotated[Distribution, spread("length", "8 ft", "22 ft")] = tagged(
        {"kind": "truncated", "mean": "18 ft", "sd": "1.5 ft", "low": "13 ft", "high": "21 ft"},
        "A",
        MODEL,
    )
    top: Annotated[Distribution, spread("length", "6 ft", "35 ft")] = tagged(
        {"kind": "truncated", "mean": "15 ft", "sd": "2 ft", "low": "11 ft", "high": "22 ft"},
        "A",
        MODEL,
    )
    topspin: Annotated[float, quantity("spin", "-2000 rpm", "2000 rpm")] = tagged(
        "0 rpm", "A", MODEL
    )
    azimuth: Annotated[Distribution, _AZIMUTH] | None = tagged(None, "A", _DIRECT)


class Errors(Strict):
    """How far the struck ball strays from the intended one."""

    speed: Annotated[Distribution, spread("share", "-60 %", "60 %")]
    elevation: Annotated[Distribution, spread("angle", "-25 deg", "25 deg")]
    azimuth: Annotated[Distribution, spread("angle", "-25 deg", "25 deg")]


def _rating(level: object) -> object:
    """A rating written as a number is as good as one in quotes."""
    if isinstance(level, int | float) and not isinstance(level, bool):
        text = f"{level:.1f}"
        return text if float(text) == level else str(level)
    return level


class Opponents(Strict):
    """The opponents' contact and their third shot."""

    level: Annotated[
        Literal["3.0", "3.5", "4.0", "4.5", "5.0", "professional"],
        BeforeValidator(
            _rating,
            json_schema_input_type=Literal[
                "3.0", "3.5", "4.0", "4.5", "5.0", "professional", 3, 4, 5
            ]
            | float,
        ),
    ] = tagged("3.5", "A", OURS)
    contact_height: Annotated[Distribution, spread("length", "0.3 ft", "4 ft")] = tagged(
        {"kind": "truncated", "mean": "2.3 ft", "sd": "0.4 ft", "low": "1.2 ft", "high": "3.5 ft"},
        "A",
        MODEL,
    )
    farthest_contact: Annotated[float, quantity("length", "22 ft", "40 ft")] = tagged(
        "28 ft", "A", MODEL
    )
    shots: ShotWeights = tagged(LEVELS["3.5"]["shots"], "P", f"by level, {_OPEN_MATCHES}")
    lanes: LaneWeights = tagged({"line": 35.0, "middle": 40.0, "cross": 25.0}, "A", MODEL)
    lanes_by_return: LanesByReturn = Field(default_factory=LanesByReturn)
    inset: Annotated[Distribution, spread("length", "-2 ft", "10 ft")] = tagged(
        {"kind": "truncated", "mean": "1.8 ft", "sd": "0.8 ft", "low": "0.3 ft", "high": "4 ft"},
        "A",
        MODEL,
    )
    middle: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        {"kind": "uniform", "low": "-2 ft", "high": "2 ft"}, "A", MODEL
    )
    drive: Drive = Field(default_factory=Drive)
    drop: Drop = Field(default_factory=Drop)
    lob: Lob = Field(default_factory=Lob)
    errors: Errors = tagged(LEVELS["3.5"]["errors"], "A", "our assumption, by level")

    @model_validator(mode="wrap")
    @classmethod
    def _by_level(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if isinstance(data, dict) and "level" in data:
            data = data | {"level": _rating(data["level"])}
        usual = entry_for(LEVELS, data, "level", "3.5")
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
        unmark(opponents, filled.keys() - data.keys())
        unmark(opponents.drive, {"speed"} - drive.keys())
        unmark(opponents.errors, usual["errors"].keys() - errors.keys())
        return opponents
