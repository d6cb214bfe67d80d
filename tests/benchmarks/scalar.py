"""The plain scalar C translation of the comparison: compiled with gcc, driven through ctypes.

A yardstick for the package's speed, which counts all that a run of the package counts; `scalar.c`
says what it is and what it does not know.
Step counts, turns and tables are the package's own: they are written into a header before
compiling. The compiled library goes to a folder for temporary files, never into the repository.
"""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from sim import (
    ball,
    bounce,
    court,
    draws,
    flight,
    intention,
    interception,
    normal,
    rallies,
    reach,
    return_of_serve,
    tally,
    track,
)
from sim.answers import REACHED
from sim.court import BASELINE, Array
from sim.normal import normal_share_below
from sim.opponents import LANES, SHOTS, Drive, Drop, Lob
from sim.players import Player
from sim.quantities import Constant, Normal, Shape, Triangular, Truncated, Uniform, WeightedList
from sim.rallies import ball_of
from sim.return_of_serve import returner_side
from sim.run_in import PLAYERS, starts
from sim.scenario import RETURN_DIRECTIONS, Policy, Scenario
from sim.tally import Tally

SOURCE: Final = Path(__file__).with_suffix(".c")
FLAGS: Final = ("-O3", "-march=native")
# In the order of the enumerations in scalar.c.
COLUMNS: Final = (
    "return_side",
    "return_depth",
    "return_top",
    "contact_height",
    "shot",
    "lane",
    "landing_side",
    "pace",
    "net_clearance",
    "landing_depth",
    "top",
    "azimuth",
    "error_speed",
    "error_elevation",
    "error_azimuth",
    "reaction_left",
    "reaction_right",
)
RULES: Final = ("follow", "tethered", "halves", "centre", "bisect", "fixed", "best")
PARTS: Final = (
    "draws",
    "return of serve",
    "aim and error",
    "flight and bounce",
    "answers",
    "counts",
)
KINDS: Final = (Constant, Normal, Truncated, Uniform, Triangular, WeightedList)

_COUNTS: Final = {
    "STEPS_AFTER_BOUNCE": return_of_serve._STEPS_AFTER_BOUNCE,
    "STEPS_TO_GROUND": rallies._STEPS_TO_GROUND,
    "STEPS_OF_APPROACH": rallies._STEPS_OF_APPROACH,
    "STEPS_OF_REBOUND": rallies._STEPS_OF_REBOUND,
    "MOST_STEPS": flight._MOST_STEPS,
    "NEWTON_STEPS": flight._NEWTON_STEPS,
    "PARABOLAS": flight._PARABOLAS,
    "TURNS_OVER_NET": intention._TURNS_OVER_NET,
    "TURNS_TO_TOP": intention._TURNS_TO_TOP,
    "TURNS_AT_SPEED": intention._TURNS_AT_SPEED,
    "TURNS_WHEN_SLOW": intention._TURNS_WHEN_SLOW,
    "POINTS": intention._POINTS,
    "PER_STEP": track._PER_STEP,
    "FINER": track._FINER,
    "REPLICATES": draws.REPLICATES,
    "STRIPS": tally.LATERAL_EDGES.size - 1,
    "INSTANTS_ON_THE_WAY": tally._INSTANTS_ON_THE_WAY.size,
}
_NUMBERS: Final = {
    "CENTRE_OF_NORMAL": normal._CENTRE,
    "FAR_TAIL": normal._FAR_TAIL,
    "SMALLEST_SHARE": normal._SMALLEST,
    "GRAVITY": ball.GRAVITY,
    "HALF_WIDTH": court.HALF_WIDTH,
    "BASELINE": court.BASELINE,
    "NON_VOLLEY_ZONE": court.NON_VOLLEY_ZONE,
    "NET_HEIGHT_AT_CENTRE": court.NET_HEIGHT_AT_CENTRE,
    "NET_HEIGHT_AT_SIDELINE": court.NET_HEIGHT_AT_SIDELINE,
    "POST": court.POST,
    "SMALLEST_SPEED": flight._SMALLEST_SPEED,
    "FLAT": flight._FLAT,
    "INERTIA_FACTOR": bounce.INERTIA_FACTOR,
    "SETTLED": intention._SETTLED,
    "GUESSED_GROUND_SPEED": intention._GUESSED_GROUND_SPEED,
    "LEAST_LANDING_SLOPE": intention._LEAST_LANDING_SLOPE,
    "LEAST_RISE": intention._LEAST_RISE,
    "LEAST_REACH": intention._LEAST_REACH,
    "STEEPEST": intention._STEEPEST,
    "LONGEST_STRETCH": intention._LONGEST_STRETCH,
    "FASTEST": intention._FASTEST,
    "QUICKEST": intention._QUICKEST,
    "SLOWEST": intention._SLOWEST,
    "FARTHEST": intention._FARTHEST,
    "SHORTEST_LANDING": intention._SHORTEST_LANDING,
    "LAST_DEPTH": track.LAST_DEPTH,
    "NEAR_MISS": interception._NEAR_MISS,
    "GROUND": track._GROUND,
    "PASSING_DEPTH": tally.PASSING_DEPTH,
    "FIRST_LATERAL_EDGE": tally.LATERAL_EDGES[0],
    "ARRIVED_WITHIN": tally.ARRIVED_WITHIN,
}
_TABLES: Final = {
    "IN_CENTRE": normal._IN_CENTRE,
    "IN_TAIL": normal._IN_TAIL,
    "IN_FAR_TAIL": normal._IN_FAR_TAIL,
    "NODES": intention._NODES,
    "INTEGRAL": intention._INTEGRAL,
    "TWICE_TO_END": intention._TWICE[-1],
    "TO_POWERS": intention._TO_POWERS,
    "TWICE_TO_POWERS": intention._TWICE_TO_POWERS,
    "ON_THE_WAY_AT": tally._INSTANTS_ON_THE_WAY,
}


_Number: Final = ctypes.c_double
_Integer: Final = ctypes.c_int64
_Numbers: Final = ctypes.POINTER(ctypes.c_double)
_Fields = tuple[tuple[str, Any], ...]


def _all(kind: Any, *names: str) -> _Fields:
    return tuple((name, kind) for name in names)


class _Choice(ctypes.Structure):
    _fields_ = (("edges", _Numbers), *_all(_Integer, "count", "last"))


class _Distribution(ctypes.Structure):
    _fields_ = (
        ("kind", _Integer),
        *_all(_Number, "mean", "sd", "low", "mode", "high", "below", "inside"),
        ("values", _Numbers),
        ("choice", _Choice),
    )


class _Ball(ctypes.Structure):
    _fields_ = _all(_Number, "drag", "magnus", "radius", "restitution", "friction")


class _Player(ctypes.Structure):
    _fields_ = (
        *_all(_Number, "body", "shoulder", "bend", "backhand"),
        ("arm", _Number * 2),
        *_all(_Number, "arm_time", "lunge", "lunge_time", "forehand_side", "top_speed"),
        *_all(_Number, "time_constant", "sideways", "backwards", "run_in_delay"),
        ("reaction", _Distribution),
    )


class _Policy(ctypes.Structure):
    _fields_ = (
        *_all(_Integer, "rule", "split_step"),
        *_all(_Number, "gap", "shift", "depth"),
        ("own_depth", _Number * 2),
        ("centre", _Number * 3),
        *_all((_Number * 2) * 3, "best_x", "best_depth"),
        *_all(_Number * 2, "start_x", "start_y"),
    )


class _Wish(ctypes.Structure):
    _fields_ = (
        *_all(_Number, "topspin", "deepest"),
        *_all(_Distribution, "speed", "net_clearance", "landing_depth", "top"),
    )


class _Scenario(ctypes.Structure):
    _fields_ = (
        ("ball", _Ball),
        ("player", _Player * 2),
        *_all(_Number, "returner_side", "struck_from_centre", "struck_depth", "struck_height"),
        ("lateral", _Distribution * 3),
        *_all(_Distribution, "return_depth", "return_top", "contact_height"),
        ("farthest_contact", _Number),
        ("shots", _Choice),
        ("lanes", _Choice * 3),
        *_all(_Distribution, "inset", "middle"),
        ("wish", _Wish * 3),
        *_all(_Distribution, "error_speed", "error_elevation", "error_azimuth"),
        *_all(_Number, "split_step_lead", "lateness", "shortest_reaction"),
        *_all(_Integer, "policies", "baseline"),
        ("policy", ctypes.POINTER(_Policy)),
    )


class _Counts(ctypes.Structure):
    _fields_ = _all(ctypes.c_void_p, *(field.name for field in fields(Tally)))

    @classmethod
    def into(cls, tally: Tally) -> _Counts:
        """Where the counts of a tally lie, for C to add to."""
        return cls(**{name: _pointer(values) for name, values in vars(tally).items()})


@dataclass(frozen=True)
class Library:
    """The compiled translation."""

    functions: ctypes.CDLL


@dataclass(frozen=True)
class Played:
    """Every shot of one return direction.

    ``contact`` holds time (s), x, y and z (ft), shape (4, shots), ``launch`` the velocity as struck
    (ft/s), shape (3, shots). ``fate`` indexes `sim.rallies.FATES`, shape (shots,); ``control`` and
    ``stretch`` are as in `sim.answers.Answer`, shape (policies, players, shots), False where the
    ball is not in play, and so is ``leak``, shape (policies, shots), `REACHED` where it is not.
    ``tally`` is what `sim.tally.count` makes of them.
    """

    contact: Array
    launch: Array
    fate: np.ndarray
    control: np.ndarray
    stretch: np.ndarray
    leak: np.ndarray
    tally: Tally


def build(flags: Sequence[str] = FLAGS) -> Library | None:
    """Compile the translation, or None where there is no gcc."""
    compiler = shutil.which("gcc")
    if compiler is None:
        return None
    with tempfile.TemporaryDirectory(prefix="reachshare-scalar-") as folder:
        (Path(folder) / "constants.h").write_text(_header(), encoding="utf-8")
        target = Path(folder) / "scalar.so"
        into = ("-shared", "-fPIC", "-I", folder, "-o", str(target))
        subprocess.run([compiler, *flags, *into, str(SOURCE), "-lm"], check=True)
        # Once loaded, the library outlives its file.
        functions = ctypes.CDLL(str(target))
    functions.size_of_scenario.restype = ctypes.c_int64
    if functions.size_of_scenario() != ctypes.sizeof(_Scenario):
        raise RuntimeError("scalar.c and scalar.py lay the scenario out differently")
    return Library(functions)


def play(
    library: Library, scenario: Scenario, direction: str, uniforms: dict[str, Array]
) -> Played:
    """Play shots made of given uniform numbers: those of `sim.draws`, by name, shape (shots,)."""
    numbers = np.stack([uniforms[name] for name in COLUMNS])
    shots, policies = numbers.shape[1], len(scenario.policies)
    struck, fate = np.zeros((7, shots)), np.zeros(shots, np.int8)
    control, stretch = np.zeros((2, policies, len(PLAYERS), shots), np.int8)
    leak = np.full((policies, shots), REACHED, np.int8)
    counted = _empty(scenario)
    translated = _Translated(scenario)
    library.functions.play(
        ctypes.byref(translated.scenario),
        ctypes.c_int64(RETURN_DIRECTIONS.index(direction)),
        ctypes.c_int64(shots),
        *(_pointer(array) for array in (numbers, struck, fate, control, stretch, leak)),
        ctypes.byref(_Counts.into(counted)),
    )
    reached = control.astype(bool), stretch.astype(bool)
    return Played(struck[:4], struck[4:], fate, *reached, leak, counted)


def run(library: Library, scenario: Scenario, shots: int, parts: int = len(PARTS)) -> Tally:
    """The work for ``shots`` of each return direction, with numbers of C's own making.

    They are counted as one block, however many they are. With fewer `PARTS` it stops after those.
    """
    tallies = []
    translated = _Translated(scenario)
    for direction in scenario.return_of_serve.directions:
        stream = RETURN_DIRECTIONS.index(direction)
        tallies.append(_empty(scenario))
        library.functions.run(
            ctypes.byref(translated.scenario),
            ctypes.c_int64(stream),
            ctypes.c_int64(shots),
            ctypes.c_uint64(scenario.run.seed * len(RETURN_DIRECTIONS) + stream),
            ctypes.c_int64(parts),
            ctypes.byref(_Counts.into(tallies[-1])),
        )
    return Tally.of_directions(tallies)


def _empty(scenario: Scenario) -> Tally:
    """No counts yet of one block of one return direction."""
    return Tally.empty(len(scenario.policies), 1, draws.REPLICATES)


def _pointer(array: np.ndarray) -> ctypes.c_void_p:
    if not array.flags.c_contiguous:
        raise ValueError("scalar.c reads and writes arrays without gaps only")
    return ctypes.c_void_p(array.ctypes.data)


def _header() -> str:
    """The package's constants as C."""
    lines = ["/* Written by scalar.py from the package's constants. */"]
    lines += [f"#define {name} {count}" for name, count in _COUNTS.items()]
    lines += [f"#define {name} ({float(number)!r})" for name, number in _NUMBERS.items()]
    lines += [_table(name, np.asarray(values)) for name, values in _TABLES.items()]
    return "\n".join(lines) + "\n"


def _table(name: str, values: Array) -> str:
    size = "".join(f"[{count}]" for count in values.shape)
    rows = ["{" + ", ".join(map(repr, row)) + "}" for row in np.atleast_2d(values).tolist()]
    text = ",\n".join(rows) if values.ndim == 1 else "{\n" + ",\n".join(rows) + "}"
    return f"static const double {name}{size} = {text};"


class _Translated:
    """A scenario in the layout of scalar.c, together with the arrays it points to."""

    def __init__(self, scenario: Scenario) -> None:
        self._given = scenario
        self._arrays: list[np.ndarray] = []
        ball_in_air, legs = ball_of(scenario), scenario.run_in
        if not ball_in_air.calm:
            raise ValueError("the scalar translation knows no wind")
        self._policies = (_Policy * len(scenario.policies))(*map(self._policy, scenario.policies))
        self.scenario = _Scenario(
            ball=_Ball(*(getattr(ball_in_air, name) for name, _ in _Ball._fields_)),
            player=(_Player * 2)(*map(self._player, PLAYERS)),
            split_step_lead=legs.split_step_lead,
            lateness=legs.late_without_split_step,
            shortest_reaction=legs.shortest_reaction,
            policies=len(scenario.policies),
            baseline=scenario.policies.index(scenario.baseline),
            policy=self._policies,
            **self._return_of_serve(),
            **self._opponents(),
        )

    def _return_of_serve(self) -> dict[str, Any]:
        wanted = self._given.return_of_serve
        lateral = [self._spread(getattr(wanted.lateral, name)) for name in RETURN_DIRECTIONS]
        return {
            "returner_side": returner_side(self._given),
            "struck_from_centre": wanted.struck_from_centre,
            "struck_depth": wanted.struck_depth,
            "struck_height": wanted.struck_height,
            "lateral": (_Distribution * 3)(*lateral),
            "return_depth": self._spread(wanted.landing_depth),
            "return_top": self._spread(wanted.top),
        }

    def _opponents(self) -> dict[str, Any]:
        opponents = self._given.opponents
        errors = {
            f"error_{name}": self._spread(getattr(opponents.errors, name))
            for name in ("speed", "elevation", "azimuth")
        }
        lanes = [
            getattr(opponents.lanes_by_return, name) or opponents.lanes
            for name in RETURN_DIRECTIONS
        ]
        return {
            "contact_height": self._spread(opponents.contact_height),
            "farthest_contact": opponents.farthest_contact,
            "shots": self._choice([getattr(opponents.shots, name) for name in SHOTS]),
            "lanes": (_Choice * 3)(
                *(self._choice([getattr(own, name) for name in LANES]) for own in lanes)
            ),
            "inset": self._spread(opponents.inset),
            "middle": self._spread(opponents.middle),
            "wish": (_Wish * 3)(*(self._wish(getattr(opponents, name)) for name in SHOTS)),
            **errors,
        }

    def _wish(self, wanted: Drive | Drop | Lob) -> _Wish:
        if wanted.azimuth is not None:
            raise ValueError("the scalar translation knows no direct azimuth")
        inside = getattr(wanted, "inside_baseline", None)
        spreads = {
            name: self._spread(getattr(wanted, name))
            for name in ("speed", "net_clearance", "landing_depth", "top")
            if hasattr(wanted, name)
        }
        deepest = inside - BASELINE if isinstance(inside, float) else -np.inf
        return _Wish(topspin=wanted.topspin, deepest=deepest, **spreads)

    def _spread(self, shape: Shape) -> _Distribution:
        values: dict[str, Any] = {"kind": KINDS.index(type(shape))}
        for name in ("mean", "sd", "low", "mode", "high"):
            values[name] = getattr(shape, name, 0.0)
        if isinstance(shape, Constant):
            values["mean"] = shape.value
        if isinstance(shape, Truncated):
            below, above = (
                normal_share_below((end - shape.mean) / shape.sd) for end in (shape.low, shape.high)
            )
            values |= {"below": below, "inside": above - below}
        if isinstance(shape, WeightedList):
            order = np.argsort(shape.values, kind="stable")
            weights = np.ones(order.size) if shape.weights is None else np.array(shape.weights)
            values["values"] = self._numbers(np.array(shape.values)[order])
            values["choice"] = self._choice(weights[order])
        return _Distribution(**values)

    def _choice(self, weights: ArrayLike) -> _Choice:
        given = np.asarray(weights, np.float64)
        edges = self._numbers(np.cumsum(given) / np.sum(given))
        return _Choice(edges, given.size, int(np.flatnonzero(given)[-1]))

    def _numbers(self, values: Array) -> Any:
        """A pointer to numbers that stay alive as long as this object."""
        self._arrays.append(np.ascontiguousarray(values, np.float64))
        return self._arrays[-1].ctypes.data_as(_Numbers)

    def _player(self, name: str) -> _Player:
        player: Player = getattr(self._given.pair, name)
        legs = self._given.run_in
        body = player.shoulder_offset_share * player.height
        arms = [reach.arm_length(player, stretched=stretched) for stretched in (False, True)]
        return _Player(
            body=body,
            shoulder=player.shoulder_share * player.stance_share * player.height,
            bend=player.bend,
            backhand=player.backhand,
            arm=tuple(arms),
            arm_time=player.arm_time,
            lunge=max(player.stretched_reach - (body + arms[1]), 0.0),
            lunge_time=player.lunge_time,
            forehand_side=1.0 if player.handed == "right" else -1.0,
            top_speed=player.top_speed,
            time_constant=player.time_constant,
            sideways=player.sideways,
            backwards=player.backwards,
            run_in_delay=legs.returner_delay if self._returns(name) else legs.partner_delay,
            reaction=self._spread(player.reaction),
        )

    def _policy(self, policy: Policy) -> _Policy:
        own = [
            policy.returner_depth if self._returns(name) else policy.partner_depth
            for name in PLAYERS
        ]
        start = starts(self._given, policy)
        places = [policy.places and policy.places.after(name) for name in RETURN_DIRECTIONS]
        spots = [(place.left, place.right) if place else () for place in places]
        return _Policy(
            rule=RULES.index(policy.rule),
            split_step=policy.split_step,
            gap=policy.gap,
            shift=policy.shift,
            depth=policy.depth,
            own_depth=tuple(policy.depth if depth is None else depth for depth in own),
            centre=tuple(getattr(policy.centres, name, 0.0) for name in RETURN_DIRECTIONS),
            best_x=tuple(tuple(spot.from_centre for spot in two) for two in spots),
            best_depth=tuple(tuple(spot.depth for spot in two) for two in spots),
            start_x=tuple(start[name][0] for name in PLAYERS),
            start_y=tuple(start[name][1] for name in PLAYERS),
        )

    def _returns(self, name: str) -> bool:
        return (name == "right") == (returner_side(self._given) > 0)
