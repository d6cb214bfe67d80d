"""Scenarios of every kind, drawn from the whole range of what a scenario can say.

The fields of `sim.scenario.Scenario` say what is drawn, with their types and limits: a new setting
is drawn by itself, and one of a type unknown here is an error. Only what fields have to do with
each other is written down here, in `_FITTED`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from types import UnionType
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from hypothesis import strategies as st
from pydantic import BaseModel, BeforeValidator, ValidationError

from sim.players import Player
from sim.quantities import Quantity, Spread
from sim.scenario import RETURN_DIRECTIONS, Policy, Run, Scenario, Spots
from sim.units import UNITS, in_unit, parse_quantity

Tables = dict[str, Any]

# Letters, digits and signs that names may hold; every name gets a number of its own behind it.
_LETTERS: Final = st.sampled_from("abc xyz 059 äöß 的 '\"#=[]{}\\,.-€")
_MOST_POLICIES: Final = 3
# Whether a scenario gives what it may leave out.
_GIVEN: Final = st.sampled_from([True, True, False])


@cache
def quantities(reader: Quantity) -> st.SearchStrategy[str]:
    """Texts of a quantity within its limits, the limits included, in any unit."""
    low, high = reader.bounds

    @st.composite
    def within(draw: st.DrawFn) -> str:
        value = draw(st.floats(low, high))
        unit = draw(st.sampled_from([*UNITS[reader.dimension]]))
        text = f"{in_unit(value, reader.dimension, unit)!r} {unit}"
        # Another unit may round a hair beyond a limit.
        return text if low <= parse_quantity(text, reader.dimension) <= high else reader.low

    return st.one_of(within(), within(), within(), st.sampled_from([reader.low, reader.high]))


def distributions(reader: Quantity) -> st.SearchStrategy[Any]:
    """A plain value, or a table of any kind of distribution, all of it within the limits."""
    value = quantities(reader)
    return st.one_of(value, _shapes(reader), _lists(value))


def _lists(value: st.SearchStrategy[str]) -> st.SearchStrategy[Tables]:
    @st.composite
    def drawn(draw: st.DrawFn) -> Tables:
        values = draw(st.lists(value, min_size=1, max_size=5))
        table: Tables = {"kind": "list", "values": values}
        if draw(st.booleans()):
            weights = st.lists(
                st.floats(0.0, 1e6), min_size=len(values), max_size=len(values)
            ).filter(lambda found: sum(found) > 0.0)
            table["weights"] = draw(weights)
        return table

    return drawn()


@st.composite
def _shapes(draw: st.DrawFn, reader: Quantity) -> Tables:
    low, high = reader.bounds
    unit = next(unit for unit, size in UNITS[reader.dimension].items() if size > 0.0)

    def text(value: float) -> str:
        return f"{in_unit(value, reader.dimension, unit)!r} {unit}"

    # Drawn as shares of the room, a little inside, so that rounding stays within the limits.
    shares = st.floats(0.001, 0.999)
    first, second, third = sorted(low + (high - low) * draw(shares) for _ in range(3))
    kind = draw(st.sampled_from(["constant", "normal", "truncated", "uniform", "triangular"]))
    if kind == "constant":
        return {"kind": kind, "value": draw(quantities(reader))}
    if kind == "normal":
        room = min(second - low, high - second)
        sd = 0.19 * room * draw(st.floats(0.0, 1.0))  # five sd on either side fit
        return {"kind": kind, "mean": text(second), "sd": text(sd)}
    width = 0.001 * (high - low)
    ends = {"low": text(first), "high": text(max(third, first + width))}
    if kind == "truncated":
        # At least as wide as the room: the mean may then lie outside the ends.
        sd = (high - low) * draw(st.floats(0.3, 0.9))
        return {"kind": kind, "mean": text(second), "sd": text(sd), **ends}
    return {"kind": kind, **ends} | ({"mode": text(second)} if kind == "triangular" else {})


def _reader(metadata: tuple[Any, ...]) -> Quantity | Spread | None:
    for part in metadata:
        function = getattr(part, "func", None) if isinstance(part, BeforeValidator) else None
        if isinstance(function, Quantity | Spread):
            return function
    return None


def _limits(metadata: tuple[Any, ...]) -> dict[str, Any]:
    """What is said of a field's values: least and greatest, shortest and longest."""
    found: dict[str, Any] = {}
    for part in metadata:
        inner = getattr(part, "metadata", [part])
        for one in inner if isinstance(inner, list | tuple) else [part]:
            for name in ("ge", "gt", "le", "lt", "min_length", "max_length"):
                if getattr(one, name, None) is not None:
                    found[name] = getattr(one, name)
    return found


def values_of(annotation: Any, metadata: tuple[Any, ...] = ()) -> st.SearchStrategy[Any]:
    """What a field of that type may hold, as it is written in a scenario file."""
    if get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        return values_of(inner, (*metadata, *more))
    reader = _reader(metadata)
    if reader is not None:
        return quantities(reader) if isinstance(reader, Quantity) else distributions(reader.reader)
    origin, arguments, limits = get_origin(annotation), get_args(annotation), _limits(metadata)
    if origin is Literal:
        return st.sampled_from(arguments)
    if origin in (Union, UnionType):
        return st.one_of([values_of(each) for each in arguments if each is not type(None)])
    if origin is list:
        most = min(limits.get("max_length", 5), _MOST_POLICIES)
        return st.lists(
            values_of(arguments[0]), min_size=limits.get("min_length", 0), max_size=most
        )
    if annotation is bool:
        return st.booleans()
    if annotation is int:
        return st.integers(limits["ge"], limits["le"])
    if annotation is float:
        low = limits.get("ge", limits.get("gt"))
        return st.floats(low, limits["le"], exclude_min="gt" in limits)
    if annotation is str:
        return st.text(_LETTERS, max_size=12)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return tables_of(annotation)
    raise TypeError(f"no values are known for {annotation}: add the type to values_of")


@cache
def tables_of(model: type[BaseModel]) -> st.SearchStrategy[Tables]:
    """Tables of a model: what must be given, and most of what may be left out."""
    fields = {
        name: values_of(field.annotation, tuple(field.metadata))
        for name, field in model.model_fields.items()
    }
    optional = {name for name, field in model.model_fields.items() if not field.is_required()}

    @st.composite
    def drawn(draw: st.DrawFn) -> Tables:
        tables = {
            name: draw(values)
            for name, values in fields.items()
            if name not in optional or draw(_GIVEN)
        }
        return draw(fitted(tables)) if fitted else tables

    fitted = _FITTED.get(model.__name__)
    return drawn()


# --- what fields have to do with each other ----------------------------------------------------


def _player(tables: Tables) -> st.SearchStrategy[Tables]:
    """A tip beyond the sweet spot, and a full stretch beyond the reach without a lunge."""
    left_out = ("full_stretch", "paddle_tip", "paddle_sweet_spot")
    for count in range(len(left_out) + 1):
        trial = {key: value for key, value in tables.items() if key not in left_out[:count]}
        try:
            Player.model_validate(trial)
        except ValidationError:
            continue
        return st.just(trial)
    raise AssertionError(f"no player can be made of {tables}")


def _some_weight(tables: Tables) -> st.SearchStrategy[Tables]:
    return st.just(tables if any(tables.values()) else dict.fromkeys(tables, 1.0))


def _directions(tables: Tables) -> st.SearchStrategy[Tables]:
    if "directions" in tables:
        return st.just(tables | {"directions": list(dict.fromkeys(tables["directions"]))})
    return st.just(tables)


def _spots(tables: Tables) -> st.SearchStrategy[Tables]:
    left, right = tables["left"], tables["right"]
    across = [parse_quantity(spot["from_centre"], "length") for spot in (left, right)]
    if across[0] == across[1]:
        left, right = left | {"from_centre": "-5 ft"}, right | {"from_centre": "5 ft"}
    elif across[0] > across[1]:
        left, right = right, left
    return st.just({"left": left, "right": right})


@st.composite
def _policy(draw: st.DrawFn, tables: Tables) -> Tables:
    """Centres for the rule fixed, and places after every return for the rule best."""
    kept = {key: value for key, value in tables.items() if key not in ("centres", "places")}
    if tables["rule"] == "fixed":
        kept["centres"] = tables.get("centres", {})
    if tables["rule"] == "best":
        # A search would play far more shots than the test itself.
        kept["places"] = {name: draw(tables_of(Spots)) for name in RETURN_DIRECTIONS}
    return kept


def _run(tables: Tables) -> st.SearchStrategy[Tables]:
    """Few shots: how many is no matter of validity."""
    kept = {key: value for key, value in tables.items() if key != "baseline"}
    return st.integers(1, 150).map(lambda shots: kept | {"shots": shots})


@st.composite
def _scenario(draw: st.DrawFn, tables: Tables) -> Tables:
    """Names of their own for the policies, one of which may be the baseline."""
    policies = tables.get("policies") or [draw(tables_of(Policy))]
    for number, policy in enumerate(policies):
        policy["name"] = f"{policy['name']} {number}"
    run = tables.get("run") or draw(tables_of(Run))
    if draw(st.booleans()):
        run = run | {"baseline": draw(st.sampled_from(policies))["name"]}
    question = {"question": f"{tables['question']}?"} if "question" in tables else {}
    return tables | question | {"name": f"{tables['name']}.", "policies": policies, "run": run}


_FITTED: Final[dict[str, Callable[[Tables], st.SearchStrategy[Tables]]]] = {
    "Player": _player,
    "ShotWeights": _some_weight,
    "LaneWeights": _some_weight,
    "ReturnOfServe": _directions,
    "Spots": _spots,
    "Policy": _policy,
    "Run": _run,
    "Scenario": _scenario,
}


def scenarios() -> st.SearchStrategy[Tables]:
    """Tables of any valid scenario; those of the rule best have their places."""
    return tables_of(Scenario)
