"""Any number of a scenario by its key: what it is, and the same scenario with other numbers.

Keys are those of scenario files, with dots: ``pair.left.top_speed``, ``opponents.drive.speed.mean``
(a part of a distribution), ``pair.both.top_speed`` (both players), ``policies.NAME.spacing``.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from sim.errors import Refused
from sim.plain_text import is_plain, quoted, shown_key
from sim.quantities import Shape
from sim.scenario import USUAL_POLICIES, Scenario
from sim.scenario_files import ScenarioFile, build, merge, nested, overlay
from sim.settings import fields_of, reader_of
from sim.units import SHOWN_UNIT, UNITS, format_quantity, parse_quantity

_BOTH: Final = "pair.both."
_POLICIES: Final = "policies."


@dataclass(frozen=True)
class NumericSetting:
    """A number of a scenario: its key, its value in the program's unit, and its dimension.

    ``dimension`` is a key of `units.UNITS`, or None for a plain number; ``tag`` is that of the
    default, empty where the scenario gives the value itself.
    """

    key: str
    value: float
    dimension: str | None
    tag: str
    whole: bool = False

    def read(self, text: str) -> float:
        """A value as people write it, in the program's unit. Raises `Refused` naming the key."""
        try:
            return parse_quantity(text, self.dimension) if self.dimension else _plain_number(text)
        except ValueError as error:
            why = error if self.dimension else "write a plain number"
            raise Refused(f"{self.key} = {quoted(text)}: {why}") from None

    def written(self, value: float) -> str | float | int:
        """A value as scenario files hold it."""
        if self.dimension is None:
            return round(value) if self.whole else float(value)
        return _written(value, self.dimension)

    def shown(self, value: float, units: str = "us") -> str:
        """A value as people read it."""
        if self.dimension is None:
            return f"{value:.4g}"
        return format_quantity(value, self.dimension, units, small=False)

    def unit(self, units: str = "us") -> str:
        """The unit that `shown` uses, empty for a plain number."""
        return "" if self.dimension is None else SHOWN_UNIT[units][self.dimension]


def _plain_number(text: str) -> float:
    """A number as people write it, which `float` does not ask for."""
    if "_" in text or not is_plain(text):
        raise ValueError(text)
    return float(text)


def numeric_setting(scenario: Scenario, key: str) -> NumericSetting:
    """The number of that key. Raises `Refused`, with the nearest keys, where there is none."""
    return _found({setting.key: setting for setting in numeric_settings(scenario)}, key)


def _found(known: Mapping[str, NumericSetting], key: str) -> NumericSetting:
    wanted = key.replace(_BOTH, "pair.left.", 1) if key.startswith(_BOTH) else key
    if wanted not in known:
        near = difflib.get_close_matches(wanted, known, n=3, cutoff=0.5)
        hint = f"; did you mean {', '.join(near)}?" if near else "."
        raise Refused(
            f"{shown_key(key)}: is not a number of this scenario{hint} "
            "reachshare scenario show --full lists all settings"
        )
    found = known[wanted]
    return NumericSetting(key, found.value, found.dimension, found.tag, found.whole)


def numeric_settings(scenario: Scenario) -> list[NumericSetting]:
    """All numbers of a scenario, the parts of distributions included, in the schema's order."""
    return list(_walk(scenario, "", given=True, tag=""))


def changed(file: ScenarioFile, changes: dict[str, Any], numbers: Mapping[str, float]) -> Scenario:
    """The file's scenario under ``changes`` (tables), with other numbers, by key.

    Values are in the program's units. Raises `ScenarioError` where a value is not allowed and
    `Refused` for unknown keys.
    """
    return changer(file, changes)(numbers)


def changer(
    file: ScenarioFile, changes: dict[str, Any]
) -> Callable[[Mapping[str, float]], Scenario]:
    """`changed` for many sets of numbers, each at the cost of making one scenario."""
    scenario = build(file, changes)
    known = {setting.key: setting for setting in numeric_settings(scenario)}

    def with_numbers(numbers: Mapping[str, float]) -> Scenario:
        tables = changes
        wholes: dict[str, dict[str, Any]] = {}
        for key, value in numbers.items():
            written = _found(known, key).written(value)
            for one in single_keys(key):
                parent, _, name = one.rpartition(".")
                if one.startswith(_POLICIES):
                    tables = _with_policy_number(file, scenario, tables, one, written)
                elif parent in wholes:
                    wholes[parent][name] = written
                elif whole := _whole_table(scenario, parent):
                    wholes[parent] = whole | {name: written}
                else:
                    tables = merge(tables, nested(one, written))
        for parent, whole in wholes.items():
            tables = merge(tables, nested(parent, whole))
        return build(file, tables)

    return with_numbers


def single_keys(key: str) -> list[str]:
    """The keys that a key stands for: those of both players for ``pair.both``."""
    if key.startswith(_BOTH):
        return [key.replace(_BOTH, f"pair.{name}.", 1) for name in ("left", "right")]
    return [key]


def _whole_table(scenario: Scenario, key: str) -> dict[str, Any] | None:
    """The table of that key if it has to be given whole: a distribution, or weights."""
    owner: Any = scenario
    entry = None
    for part in key.split(".") if key else ():
        entry = type(owner).model_fields[part]
        owner = getattr(owner, part)
    if entry and isinstance(owner, Shape):
        return _shape_table(owner, _dimension(entry))
    if entry and any(field.is_required() for field in type(owner).model_fields.values()):
        return dict(owner.model_dump())
    return None


def _with_policy_number(
    file: ScenarioFile,
    scenario: Scenario,
    tables: dict[str, Any],
    key: str,
    written: str | float | int,
) -> dict[str, Any]:
    """Policies are a list, which is laid over whole; so is its baseline, which would go with it."""
    given = overlay(file.tables, tables).get("policies", USUAL_POLICIES)
    name, rest = _policy_and_rest(scenario, key)
    policies = [
        merge(policy, nested(rest, written)) if policy["name"] == name else policy
        for policy in given
    ]
    return merge(tables, {"policies": policies, "run": {"baseline": scenario.baseline.name}})


def _policy_and_rest(scenario: Scenario, key: str) -> tuple[str, str]:
    rest = key.removeprefix(_POLICIES)
    name = next(p.name for p in scenario.policies if rest.startswith(f"{p.name}."))
    return name, rest.removeprefix(f"{name}.")


def _walk(model: BaseModel, prefix: str, *, given: bool, tag: str) -> Iterator[NumericSetting]:
    for name, value, entry, mine, own, _ in fields_of(model, given, tag):
        key, shown_tag = f"{prefix}{name}", "" if mine else own
        if isinstance(value, Shape):
            for part, number in value:
                if isinstance(number, float):
                    part_key = f"{key}.{part}"
                    yield NumericSetting(part_key, number, _dimension(entry), shown_tag)
        elif isinstance(value, BaseModel):
            yield from _walk(value, f"{key}.", given=mine, tag=own)
        elif key == "policies":
            for policy in value:
                yield from _walk(policy, f"{key}.{policy.name}.", given=mine, tag=own)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            whole = isinstance(value, int)
            yield NumericSetting(key, float(value), _dimension(entry), shown_tag, whole)


def _dimension(entry: FieldInfo) -> str | None:
    reader = reader_of((entry.annotation, *entry.metadata))
    return reader.dimension if reader else None


def _shape_table(shape: Shape, dimension: str | None) -> dict[str, Any]:
    def text(value: Any) -> Any:
        number = isinstance(value, float) and dimension is not None
        return _written(value, dimension) if number and dimension else value

    table = {}
    for name, value in shape:
        if name == "values":
            table[name] = [text(entry) for entry in value]
        elif value is not None:
            table[name] = text(value) if name != "weights" else value
    return table


def _written(value: float, dimension: str) -> str:
    """A value with its unit, which reads back as the same value."""
    units = UNITS[dimension]
    unit = next((unit for unit, size in units.items() if size == 1.0), next(iter(units)))
    return f"{float(value) / units[unit]!r} {unit}"
