"""What a sweep varies: numbers of the scenario or of its policies, and the values they take."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from pydantic import ValidationError

from sim.errors import Refused
from sim.numeric_settings import NumericSetting, numeric_setting, single_keys
from sim.plain_text import quoted
from sim.scenario import Centres, Policy, Scenario
from sim.scenario_errors import ScenarioError
from sim.setting_words import setting_words
from sim.units import UNITS, in_unit
from sim.wording import MINUS

MOST_VALUES: Final = 101
MOST_SETTINGS: Final = 400
_EXAMPLE: Final = 'for example --vary "spacing=4 ft:12 ft:0.5 ft" or --vary shift=0:1:0.1'
_POLICIES: Final = "policies."
_CENTRES: Final = "centres."
# Numbers of a policy; with None the rules whatever they are, else the one rule that looks at it.
_OF_RULE: Final[dict[str, str | None]] = {
    "spacing": None,
    "shift": "follow",
    "depth": None,
    "returner_depth": None,
    "partner_depth": None,
    **{f"{_CENTRES}{direction}": "fixed" for direction in Centres.model_fields},
}
# The unit after a number, as `units.parse_quantity` reads it.
_UNIT: Final = re.compile(r"[+-]?[\d.]+(?:[eE][+-]?\d+)?\s*([A-Za-z/%'\"]+)")
# Rounding errors of the user's own decimals must not cost the last value.
_SLACK: Final = 1e-9


@dataclass(frozen=True)
class Axis:
    """A number that a sweep varies, and its values in the program's unit, rising.

    ``unit`` is the one that the values were given in, empty for plain numbers. ``field`` is the
    number's key inside a policy, None for a number of the scenario; ``only`` names the one policy
    that it is varied for, None for all.
    """

    setting: NumericSetting
    values: tuple[float, ...]
    unit: str
    field: str | None = None
    only: str | None = None

    @property
    def key(self) -> str:
        """The key, as it was given."""
        return self.setting.key

    @property
    def words(self) -> str:
        """What it is called in sentences and figures, which name the policy anyway."""
        return setting_words(self.field or self.key)

    @property
    def column(self) -> str:
        """The heading of its values in tables, with their unit."""
        words = self.unit.replace("/", "_per_").replace("%", "percent").replace("'", "ft")
        return f"{self.key}_{words.replace(chr(34), 'in')}" if self.unit else self.key

    def number(self, value: float) -> float:
        """A value in the unit it was given in, without what rounding added to it."""
        dimension = self.setting.dimension
        plain = in_unit(value, dimension, self.unit) if dimension else value
        return float(f"{plain:.10g}")

    def shown(self, *values: float) -> str:
        """Values as people read them, with the unit once: ``8 to 10.5 ft`` for two."""
        numbers = " to ".join(f"{self.number(value):.5g}" for value in values)
        return f"{numbers} {self.unit}".strip().replace("-", MINUS)

    def given(self, value: float) -> str:
        """Key and value as they are typed."""
        return f"{self.key} = {self.shown(value)}".replace(MINUS, "-")

    def varies(self, policy: Policy) -> bool:
        """Whether other values make another policy of this one; of a scenario's number, never."""
        if self.field is None or self.only not in (None, policy.name) or policy.rule == "best":
            return False
        if self.field == "depth" and policy.rule != "bisect":
            return policy.returner_depth is None or policy.partner_depth is None
        return _OF_RULE[self.field] in (None, policy.rule)

    def now(self, scenario: Scenario, policy: Policy) -> tuple[float, ...]:
        """What it is in the scenario as it stands: one value, or two where two players differ."""
        own = self.field and f"{_POLICIES}{policy.name}.{self.field}"
        keys = single_keys(own or self.key)
        return tuple(dict.fromkeys(numeric_setting(scenario, key).value for key in keys))


def read_axes(texts: Sequence[str], scenario: Scenario) -> tuple[Axis, ...]:
    """One or two axes from ``KEY=FROM:TO:STEP``.

    Raises `Refused`, which says what is wrong, what is allowed, and shows an example.
    """
    if not 1 <= len(texts) <= 2:
        raise Refused(f"--vary: give one key or two, not {len(texts)}; {_EXAMPLE}")
    axes = tuple(_axis(text, scenario) for text in texts)
    if len(axes) == 2:
        first, second = axes
        if _same_number(first, second):
            raise Refused(f"--vary {second.key}: {first.key} varies the same number already")
        settings = len(first.values) * len(second.values)
        if settings > MOST_SETTINGS:
            raise Refused(
                f"--vary: {len(first.values)} values of {first.key} and {len(second.values)} of "
                f"{second.key} are {settings} settings; at most {MOST_SETTINGS}: make a STEP larger"
            )
    return axes


def runs(places: Iterable[int]) -> list[list[int]]:
    """Places in groups of neighbours.

    >>> runs([0, 3, 4, 5])
    [[0], [3, 4, 5]]
    """
    ordered = enumerate(sorted(places))
    neighbours = groupby(ordered, key=lambda pair: pair[1] - pair[0])
    return [[place for _, place in group] for _, group in neighbours]


def scenario_with(
    with_numbers: Callable[[Mapping[str, float]], Scenario],
    scenario: Scenario,
    numbers: Sequence[tuple[Axis, float]],
) -> Scenario:
    """The scenario with other numbers, which ``with_numbers`` makes, by key.

    It is run as ``scenario`` is, and places that were found for that are kept: they are not looked
    for anew. Raises `Refused`, naming the key and what it allows, where a value is not allowed.
    """
    if not numbers:
        return scenario
    try:
        other = with_numbers({axis.key: value for axis, value in numbers})
    except ScenarioError as error:
        given = ", ".join(axis.given(value) for axis, value in numbers)
        raise Refused(f"--vary: {given} is not allowed: {error}") from None
    policies = [
        policy if policy.places else policy.model_copy(update={"places": now.places})
        for policy, now in zip(other.policies, scenario.policies, strict=True)
    ]
    return other.model_copy(update={"run": scenario.run, "policies": policies})


def policy_with(policy: Policy, numbers: Sequence[tuple[Axis, float]]) -> Policy:
    """The policy with those of the numbers that are its own changed. Raises `Refused`."""
    for axis, value in numbers:
        if axis.field is not None and axis.varies(policy):
            policy = _with_number(policy, axis, value)
    return policy


def _axis(text: str, scenario: Scenario) -> Axis:
    # Policies' names may hold an equals sign; values do not.
    key, equals, span = text.rpartition("=")
    key, parts = key.strip(), [part.strip() for part in span.split(":")]
    if not equals or not key or len(parts) != 3 or not all(parts):
        raise Refused(f"--vary {quoted(text)}: must be KEY=FROM:TO:STEP; {_EXAMPLE}")
    try:
        setting, field, only = _setting(key, scenario)
        values, unit = _values(setting, parts)
    except Refused as error:
        raise Refused(f"--vary {error}") from None
    axis = Axis(setting, values, unit, field, only)
    if field is not None and not any(map(axis.varies, scenario.policies)):
        rule = _OF_RULE[field]
        why = "their places or both players' depths are given"
        if rule:
            why = f"only the rule {rule} looks at it"
        raise Refused(f"--vary {key}: changes nothing for any of the policies: {why}")
    return axis


def _setting(key: str, scenario: Scenario) -> tuple[NumericSetting, str | None, str | None]:
    """The number of that key; where it is a policy's, its key there and which policy's."""
    field, only = key, None
    if key.startswith(_POLICIES):
        names = [p.name for p in scenario.policies if key.startswith(f"{_POLICIES}{p.name}.")]
        if names:
            only = max(names, key=len)
            field = key.removeprefix(f"{_POLICIES}{only}.")
    if field in _OF_RULE:
        dimension = None if field == "shift" else "length"
        return NumericSetting(key, math.nan, dimension, ""), field, only
    if key.startswith("run."):
        raise Refused(f"{key}: is not part of the game; see --shots and --seed")
    near = [] if "." in key else difflib.get_close_matches(key, _OF_RULE, n=1)
    if near:
        raise Refused(f"{key}: there is no such number; did you mean {near[0]}?")
    return numeric_setting(scenario, key), None, None


def _values(setting: NumericSetting, parts: list[str]) -> tuple[tuple[float, ...], str]:
    """The values from FROM to TO, and the unit that FROM was given in.

    Each is read as if it had been written out, so that it is what a scenario that says so holds.
    """
    units, said = _units(setting, parts), f"{setting.key}={':'.join(parts)}"
    if setting.dimension and all(map(_is_plain, parts)):
        raise Refused(f"{said}: the unit is missing; {_EXAMPLE}")
    texts = [
        f"{part} {unit}".strip() if _is_plain(part) else part
        for part, unit in zip(parts, units, strict=True)
    ]
    # The last comes first: the others may have its unit.
    step, last, first = (setting.read(text) for text in reversed(texts))
    # A step is a difference: of temperatures, without the offset of their scale.
    step -= setting.read(f"0 {units[2]}".strip())
    unit, dimension = units[0], setting.dimension
    if not all(map(math.isfinite, (first, last, step))):
        raise Refused(f"{said}: FROM, TO and STEP must be finite numbers; {_EXAMPLE}")
    if not step > 0.0:
        raise Refused(f"{said}: STEP must be above 0; {_EXAMPLE}")
    if not first < last:
        raise Refused(f"{said}: FROM must be below TO; {_EXAMPLE}")
    steps = (last - first) / step + _SLACK
    if steps < 1.0:
        raise Refused(f"{said}: STEP goes beyond TO at once; make it smaller; {_EXAMPLE}")
    if steps >= MOST_VALUES:
        raise Refused(
            f"{said}: these are {steps + 1:,.0f} values; at most {MOST_VALUES}: make STEP larger"
        )
    start = in_unit(first, dimension, unit) if dimension else first
    pace = step / UNITS[dimension][unit] if dimension else step
    # As many decimals as the largest value has digits to spare: 0.3 and 0, not nearly so.
    decimals = 11 - math.ceil(math.log10(max(abs(start), abs(start + pace * steps))))
    numbers = [round(start + pace * k, decimals) + 0.0 for k in range(int(steps) + 1)]
    return tuple(setting.read(f"{number!r} {unit}".strip()) for number in numbers), unit


def _units(setting: NumericSetting, parts: list[str]) -> list[str]:
    """The unit of each part: its own (of feet and inches, the first), or that of the last given."""
    if setting.dimension is None:
        return ["", "", ""]
    given = [_unit_in(part, setting.dimension) for part in parts]
    last = next((unit for unit in reversed(given) if unit), "")
    return [unit or last for unit in given]


def _unit_in(part: str, dimension: str) -> str:
    found = _UNIT.match(part)
    return found[1] if found and found[1] in UNITS[dimension] else ""


def _is_plain(part: str) -> bool:
    try:
        float(part)
    except ValueError:
        return False
    return True


def _same_number(first: Axis, second: Axis) -> bool:
    if first.field is not None or second.field is not None:
        apart = None not in (first.only, second.only) and first.only != second.only
        return first.field == second.field and not apart
    return bool(set(single_keys(first.key)) & set(single_keys(second.key)))


def _with_number(policy: Policy, axis: Axis, value: float) -> Policy:
    field, written = str(axis.field), axis.setting.written(value)
    try:
        if not field.startswith(_CENTRES):
            checked = Policy.model_validate({"name": "any", "rule": "halves", field: written})
            return policy.model_copy(update={field: getattr(checked, field)})
        side = field.removeprefix(_CENTRES)
        place = getattr(Centres.model_validate({side: written}), side)
    except ValidationError as error:
        why = error.errors()[0]["msg"].removeprefix("Value error, ").replace("Input should", "must")
        raise Refused(f"--vary: {axis.given(value)} is not allowed: {why}") from None
    centres = (policy.centres or Centres()).model_copy(update={side: place})
    return policy.model_copy(update={"centres": centres})
