"""Every setting of a scenario as one line: key, value, whether it was given, tag and source."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final, NamedTuple, get_args

from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo

from sim.quantities import Quantity, Shape, Spread
from sim.scenario import Scenario
from sim.units import format_quantity

_LONGEST_LIST: Final = 8
# Where nothing is given, the value that the program works out instead.
_IN_EFFECT: Final = {
    "full_stretch": "stretched_reach",
    "drag_coefficient": "drag",
    "spacing": "gap",
    "returner_depth": "depth",
    "partner_depth": "depth",
}


@dataclass(frozen=True)
class Setting:
    """One setting; ``tag`` and ``source`` are those of the default, empty where there is none."""

    key: str
    value: str
    given: bool
    tag: str
    source: str


def settings(scenario: Scenario, units: str = "us") -> list[Setting]:
    """All settings of a scenario, in the order of the schema.

    >>> from sim.scenario import Scenario
    >>> lead = [s for s in settings(Scenario(name="x")) if s.key == "run_in.split_step_lead"][0]
    >>> lead.value, lead.given, lead.tag
    ('0.15 s', False, 'A')
    """
    return list(_walk(scenario, "", True, "", "", units))


def _walk(
    model: BaseModel, prefix: str, given: bool, tag: str, source: str, units: str
) -> Iterator[Setting]:
    for name, value, entry, mine, own_tag, own_source in fields_of(model, given, tag, source):
        key = f"{prefix}{name}"
        if isinstance(value, BaseModel) and not isinstance(value, Shape):
            yield from _walk(value, f"{key}.", mine, own_tag, own_source, units)
        elif isinstance(value, list) and value and isinstance(value[0], BaseModel):
            for number, item in enumerate(value, 1):
                # What a given list leaves out are defaults of its items, tagged as such.
                yield from _walk(item, f"{key}[{number}].", mine, own_tag, own_source, units)
        else:
            yield Setting(key, _text(value, entry, units), mine, own_tag, own_source)


class Entry(NamedTuple):
    """A field of one of the scenario's tables, with the value in effect."""

    name: str
    value: Any
    field: FieldInfo
    given: bool
    tag: str
    source: str


def fields_of(model: BaseModel, given: bool, tag: str, source: str = "") -> Iterator[Entry]:
    """All fields of a table; ``given``, ``tag`` and ``source`` are those of the table itself."""
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        if value is None and name in _IN_EFFECT:
            value = getattr(model, _IN_EFFECT[name])
        extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
        own_tag, own_source = str(extra.get("tag", tag)), str(extra.get("source", source))
        yield Entry(
            name, value, field, given and name in model.model_fields_set, own_tag, own_source
        )


def _text(value: Any, entry: FieldInfo, units: str) -> str:
    reader = reader_of((entry.annotation, *entry.metadata))
    dimension = reader.dimension if reader else None
    if units == "us" and reader and isinstance(entry.default, str):
        # As its author wrote it, unless age group or level has put another value in its place.
        with suppress(ValueError):
            if reader(entry.default) == value:
                return entry.default

    def shown(number: Any) -> str:
        if isinstance(number, bool):
            return "yes" if number else "no"
        if isinstance(number, float) and dimension:
            return format_quantity(number, dimension, units, small=not isinstance(value, Shape))
        return f"{number:.6g}" if isinstance(number, float) else str(number)

    if value is None:
        return "-"
    if isinstance(value, Shape):
        parts = {name: getattr(value, name) for name in type(value).model_fields}
        kind = parts.pop("kind")
        if kind == "constant":
            return shown(parts["value"])
        if kind == "list":
            return f"list of {len(parts['values'])} values"
        return f"{kind}: " + ", ".join(f"{name} {shown(part)}" for name, part in parts.items())
    if isinstance(value, list):
        return ", ".join(map(shown, value[:_LONGEST_LIST]))
    return shown(value)


def reader_of(parts: tuple[Any, ...]) -> Quantity | None:
    """The reader of a field's quantity, wherever in its annotation it stands."""
    for part in parts:
        if isinstance(part, BeforeValidator):
            function = part.func
            if isinstance(function, Spread):
                return function.reader
            if isinstance(function, Quantity):
                return function
        found = reader_of((*get_args(part), *getattr(part, "__metadata__", ())))
        if found:
            return found
    return None
