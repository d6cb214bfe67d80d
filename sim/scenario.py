"""What a scenario says: the pair, the return of serve, the opponents, ball, air and policies.

Every default carries a tag, [S] rule or standard, [P] published, [C] common practice without a
source, [A] our assumption, and its source; the model page explains them.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from typing import Annotated, Final, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from sim.draws import Sampling
from sim.opponents import Opponents
from sim.plain_text import NOT_PLAIN, is_plain, some_of
from sim.players import Pair
from sim.quantities import MODEL, Distribution, Strict, quantity, spread, tagged
from sim.wording import DIRECTIONS

RETURN_DIRECTIONS: Final = ("line", "middle", "cross")


def _plain_text(text: str) -> str:
    if not text.strip():
        raise ValueError("must not be empty")
    if not is_plain(text):
        raise ValueError(NOT_PLAIN)
    return text


Text = Annotated[str, Field(max_length=200), AfterValidator(_plain_text)]
Name = Annotated[str, Field(max_length=40), AfterValidator(_plain_text)]


def _side(mean: str) -> dict[str, str]:
    return {"kind": "truncated", "mean": mean, "sd": "1.5 ft", "low": "-10 ft", "high": "10 ft"}


class Lateral(Strict):
    """Where returns land across the court, counted from the centre towards the returner's side."""

    line: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        _side("7 ft"), "A", MODEL
    )
    middle: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        _side("0 ft"), "A", MODEL
    )
    cross: Annotated[Distribution, spread("length", "-10 ft", "10 ft")] = tagged(
        _side("-7 ft"), "A", MODEL
    )


class ReturnOfServe(Strict):
    """The pair's return of serve and where it is struck."""

    side: Literal["even", "odd"] = tagged("even", "A", "the right-hand player returns; our choice")
    directions: Annotated[
        list[Literal["line", "middle", "cross"]], Field(min_length=1, max_length=3)
    ] = tagged(["line", "middle", "cross"], "A", "our choice")
    struck_from_centre: Annotated[float, quantity("length", "0 ft", "10 ft")] = tagged(
        "5 ft", "A", MODEL
    )
    struck_depth: Annotated[float, quantity("length", "15 ft", "28 ft")] = tagged(
        "22.5 ft", "A", MODEL
    )
    struck_height: Annotated[float, quantity("length", "0.5 ft", "4 ft")] = tagged(
        "2.5 ft", "A", MODEL
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
        MODEL,
    )

    @model_validator(mode="after")
    def _no_doubles(self) -> Self:
        if len(set(self.directions)) != len(self.directions):
            raise ValueError("directions: each may stand only once")
        return self


class RunIn(Strict):
    """How the two get from the baseline to their places."""

    returner_delay: Annotated[float, quantity("time", "0 s", "2 s")] = tagged("0.30 s", "A", MODEL)
    partner_delay: Annotated[float, quantity("time", "0 s", "2 s")] = tagged("0.25 s", "A", MODEL)
    partner_starts: Literal["baseline", "line"] = tagged(
        "baseline", "A", "both back, as after a deep serve; our choice"
    )
    split_step_lead: Annotated[float, quantity("time", "0 s", "1 s")] = tagged("0.15 s", "A", MODEL)
    late_without_split_step: Annotated[float, quantity("time", "0 s", "0.5 s")] = tagged(
        "0.104 s", "P", "Uzu, Shinya and Oda 2009, J. Sports Sci. 27:1233"
    )
    shortest_reaction: Annotated[float, quantity("time", "0.05 s", "0.5 s")] = tagged(
        "0.12 s", "A", MODEL
    )


class BallInPlay(Strict):
    """The ball."""

    kind: Literal["outdoor", "indoor"] = tagged("outdoor", "A", "our choice")
    mass: Annotated[float, quantity("mass", "18 g", "35 g")] = tagged(
        "24.3 g", "S", "equipment standard, 0.78-0.935 oz: the middle (quoted)"
    )
    diameter: Annotated[float, quantity("length", "2.5 in", "3.5 in")] = tagged(
        "2.92 in", "S", "equipment standard, 2.87-2.97 in: the middle (quoted)"
    )
    drag_coefficient: Annotated[float, Field(strict=True, ge=0.1, le=0.8)] | None = tagged(
        None, "P", "Lindsey 2025: 0.33 outdoor, 0.45 indoor (quoted)"
    )
    lift_slope: Annotated[float, Field(strict=True, ge=0.0, le=0.4)] = tagged(
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


RULES: Final = {
    "follow": "the pair shifts part of the way towards the side the opponents strike from",
    "tethered": "the returner runs straight up, the partner keeps a fixed distance beside",
    "halves": "each runs up the middle of the own half",
    "centre": "both stand around the centre line",
    "bisect": "the pair stands across the middle of the opponents' angle of return",
    "fixed": "the pair stands where the scenario says, for each return direction",
    "best": "each has a place for each return direction, given or found by a search",
}


class Centres(Strict):
    """A centre of the pair for each return direction, counted to the pair's right."""

    line: Annotated[float, quantity("length", "-10 ft", "10 ft")] = tagged("0 ft", "A", MODEL)
    middle: Annotated[float, quantity("length", "-10 ft", "10 ft")] = tagged("0 ft", "A", MODEL)
    cross: Annotated[float, quantity("length", "-10 ft", "10 ft")] = tagged("0 ft", "A", MODEL)


_DEPTH = quantity("length", "7 ft", "26 ft")


class Spot(Strict):
    """Where one player is to stand: to the right of the centre line, and from the net."""

    from_centre: Annotated[float, quantity("length", "-10 ft", "10 ft")]
    depth: Annotated[float, _DEPTH]


class Spots(Strict):
    """Where the two are to stand."""

    left: Spot
    right: Spot

    @model_validator(mode="after")
    def _side_by_side(self) -> Self:
        if self.left.from_centre >= self.right.from_centre:
            raise ValueError(
                "the left player must stand to the left of the right one: a smaller from_centre "
                "(it counts to the right, so that -5 ft is left of the centre line)"
            )
        return self


class Places(Strict):
    """Where the two are to stand after returns in each direction."""

    line: Spots | None = None
    middle: Spots | None = None
    cross: Spots | None = None

    def after(self, direction: str) -> Spots | None:
        """Those after returns in one direction, if given."""
        spots: Spots | None = getattr(self, direction)
        return spots


class Policy(Strict):
    """Where the two should be when the opponents strike, and whether they stop for it."""

    name: Name
    rule: Literal["follow", "tethered", "halves", "centre", "bisect", "fixed", "best"]
    spacing: Annotated[float, quantity("length", "1 ft", "20 ft")] | None = tagged(
        None, "C", "common practice 6 ft, at most 8: 7 ft; 10 ft for halves"
    )
    shift: Annotated[float, Field(strict=True, ge=-1.0, le=2.0)] = tagged(0.40, "A", MODEL)
    depth: Annotated[float, _DEPTH] = tagged("8 ft", "A", MODEL)
    returner_depth: Annotated[float, _DEPTH] | None = tagged(None, "A", "as depth")
    partner_depth: Annotated[float, _DEPTH] | None = tagged(None, "A", "as depth")
    split_step: Annotated[bool, Field(strict=True)] = tagged(
        True, "C", "common practice, no source"
    )
    centres: Centres | None = None
    places: Places | None = None

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if (self.rule == "fixed") != (self.centres is not None):
            raise ValueError(
                'centres: belongs to rule = "fixed", and only there, for example '
                'centres = { line = "1 ft", middle = "0 ft", cross = "-1 ft" }'
            )
        if self.rule != "best" and self.places is not None:
            raise ValueError(
                'places: belongs to rule = "best", and only there; reachshare positions writes them'
            )
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
    sampling: Sampling = tagged(
        "quasi-random", "A", "our choice; intervals from replicates, see the accuracy page"
    )
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
                both = " and ".join(f'"{each.name}"' for each in self.policies if each.slug == slug)
                raise ValueError(
                    f"policies: the names {both} are the same, or nearly so: files are called by "
                    "them, for which only a to z and digits count; tell them apart by these"
                )
        for policy in self.policies:
            self._check_places(policy)
        if self.run.baseline is not None and self.run.baseline not in names:
            raise ValueError(
                f'run.baseline: "{self.run.baseline}" is not a policy; set it to one of '
                f"{some_of(names)}"
            )
        return self

    def _check_places(self, policy: Policy) -> None:
        for direction in self.return_of_serve.directions:
            if policy.places is not None and policy.places.after(direction) is None:
                raise ValueError(
                    f'policies: the places of "{policy.name}" leave out returns '
                    f"{DIRECTIONS[direction]}; give places.{direction}, or leave out places to "
                    "have them found"
                )

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
