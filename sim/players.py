"""The pair: body, eyes and legs of the two players.

Every default carries a tag and its source, see `sim.scenario`.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, ModelWrapValidatorHandler, model_validator

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
from sim.units import METRES_PER_FOOT

_DRILLIS: Final = "Drillis and Contini 1966, in Winter (quoted)"

# Assumed throughout. Published reactions lengthen with age by 0.55 ms a year (simple) to 2.80 ms a
# year (two choices; Woods et al. 2015); the step from the sixties to the seventies is larger.
AGE_GROUPS: Final[dict[str, dict[str, Any]]] = {
    "thirties": {"reaction": "0.24 s", "top_speed": "18 ft/s"},
    "forties": {"reaction": "0.26 s", "top_speed": "16.5 ft/s"},
    "fifties": {"reaction": "0.28 s", "top_speed": "15 ft/s"},
    "sixties": {"reaction": "0.30 s", "top_speed": "13 ft/s"},
    "seventies": {"reaction": "0.36 s", "top_speed": "10 ft/s"},
}


class Player(Strict):
    """One of the pair: body, eyes and legs."""

    height: Annotated[float, quantity("length", "4 ft", "7 ft 6 in")] = tagged(
        "5 ft 7 in", "A", OURS
    )
    handed: Literal["right", "left"] = tagged("right", "A", OURS)
    age_group: Literal["thirties", "forties", "fifties", "sixties", "seventies"] = tagged(
        "sixties", "A", OURS
    )
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
    sideways: Annotated[float, Field(strict=True, gt=0.1, le=1.2)] = tagged(0.85, "A", MODEL)
    backwards: Annotated[float, Field(strict=True, gt=0.1, le=1.2)] = tagged(0.65, "A", MODEL)
    bend: Annotated[float, quantity("length", "0 ft", "3 ft")] = tagged("1.2 ft", "A", MODEL)
    backhand: Annotated[float, Field(strict=True, ge=0.5, le=1.1)] = tagged(0.92, "A", MODEL)
    paddle_sweet_spot: Annotated[float, quantity("length", "0.2 ft", "1.5 ft")] = tagged(
        "0.71 ft", "A", MODEL
    )
    paddle_tip: Annotated[float, quantity("length", "0.3 ft", "1.5 ft")] = tagged(
        "1.12 ft", "A", MODEL
    )
    arm_time: Annotated[float, quantity("time", "0.01 s", "1 s")] = tagged("0.18 s", "A", MODEL)
    lunge_time: Annotated[float, quantity("time", "0.01 s", "2 s")] = tagged("0.45 s", "A", MODEL)
    shoulder_share: Annotated[float, Field(strict=True, ge=0.5, le=0.95)] = tagged(
        0.818, "P", _DRILLIS
    )
    stance_share: Annotated[float, Field(strict=True, ge=0.6, le=1.0)] = tagged(0.93, "A", MODEL)
    shoulder_offset_share: Annotated[float, Field(strict=True, ge=0.05, le=0.25)] = tagged(
        0.129, "P", f"half the biacromial breadth; {_DRILLIS}"
    )
    arm_share: Annotated[float, Field(strict=True, ge=0.2, le=0.5)] = tagged(
        0.386, "P", f"upper arm 0.186, forearm 0.146, half the hand 0.054; {_DRILLIS}"
    )

    @model_validator(mode="wrap")
    @classmethod
    def _by_age_group(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        group = entry_for(AGE_GROUPS, data, "age_group", "sixties")
        if group is None:
            return handler(data)
        reaction = {"kind": "normal", "mean": group["reaction"], "sd": "0.04 s"}
        player = handler({"reaction": reaction, "top_speed": group["top_speed"]} | data)
        unmark(player, {"reaction", "top_speed"} - data.keys())
        return player

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if self.paddle_tip < self.paddle_sweet_spot:
            raise ValueError("paddle_tip: the tip must lie beyond paddle_sweet_spot")
        if self.full_stretch is not None and self.full_stretch < self._reach_without_lunge:
            raise ValueError(
                "full_stretch: less than this player reaches without a lunge "
                f"({self._reach_without_lunge:.2f} ft, "
                f"{METRES_PER_FOOT * self._reach_without_lunge:.2f} m); measure from the middle of "
                "the standing mark to the tip of the paddle"
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
