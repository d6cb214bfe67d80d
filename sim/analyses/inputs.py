"""What a coach may doubt in a scenario: inputs, each a group of numbers that move together.

Which numbers, and how far they are moved, is our assumption throughout; how far follows from what
is known of them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from sim.errors import Refused
from sim.joint_draws import JointDraws
from sim.numeric_settings import NumericSetting, numeric_setting, numeric_settings, single_keys
from sim.plain_text import quoted
from sim.scenario import Scenario
from sim.units import in_unit

WithNumbers = Callable[[Mapping[str, float]], Scenario]

# By the tag of a number: how far to either side, and what to call it. Rules and standards [S] are
# not varied; a number without a tag is given by the scenario.
WIDTHS: Final = {"": 0.10, "P": 0.10, "C": 0.20, "A": 0.30}
WORDS: Final = {
    "": "given",
    "P": "published",
    "C": "common practice",
    "A": "our assumption",
}
YOURS: Final = "your range"
DRAWN: Final = "your draws"
_WIDEST_FIRST: Final = ("A", "C", "P", "")
# Key, what it is called, and where the key is no number itself, the numbers that move together.
_USUAL: Final[tuple[tuple[str, str, tuple[str, ...]], ...]] = (
    ("pair.both.top_speed", "the pair's top speed", ()),
    ("pair.both.reaction.mean", "the pair's reaction", ()),
    ("pair.both.full_stretch", "the pair's full stretch", ()),
    ("opponents.drive.speed.mean", "the speed of their drives", ()),
    (
        "opponents.errors",
        "the spread of their errors",
        tuple(f"opponents.errors.{part}.sd" for part in ("speed", "elevation", "azimuth")),
    ),
    ("opponents.shots.drive", "how often they drive", ()),
    ("opponents.lanes.cross", "how often they aim cross-court", ()),
    ("return_of_serve.landing_depth.mean", "the depth of the returns", ()),
)
_WITHOUT_SPLIT_STEP: Final = (
    ("run_in.late_without_split_step", "what a missing split step costs", ()),
)
# Halvings of the way back from a limit.
_HALVINGS: Final = 12
_UNIT: Final = re.compile(r"[A-Za-z/%'\"]+\s*$")


@dataclass(frozen=True)
class Range:
    """Numbers moved together from ``lows`` to ``highs``, all equally likely in between.

    ``settings`` are the numbers, each by its single key. ``why`` is what the range rests on, and
    ``clipped`` whether a limit of the scenario cut it.
    """

    key: str
    label: str
    settings: tuple[NumericSetting, ...]
    lows: tuple[float, ...]
    highs: tuple[float, ...]
    why: str
    clipped: bool = False

    @property
    def keys(self) -> list[str]:
        """The keys of the numbers."""
        return [setting.key for setting in self.settings]

    def numbers(self, u: float) -> dict[str, float]:
        """The numbers that far along the way, by key; ``u`` in [0, 1]."""
        ends = zip(self.keys, self.lows, self.highs, strict=True)
        return {key: low + u * (high - low) for key, low, high in ends}

    def shown(self, u: float, units: str) -> str:
        """The numbers that far along, as people read them; unlike ones as a factor.

        Numbers beside each other have the same decimals, and so have both ends.
        """
        numbers = self.numbers(u)
        if len({setting.dimension for setting in self.settings}) > 1:
            first = self.settings[0]
            return f"{numbers[first.key] / first.value:.2g} times"
        beside = [u] if 0.0 < u < 1.0 else [0.0, 1.0]
        places = max(_places(value) for at in beside for value in self._in_unit(at, units))
        texts = dict.fromkeys(f"{value:.{places}f}" for value in self._in_unit(u, units))
        return f"{'/'.join(texts)} {self.settings[0].unit(units)}".rstrip()

    def _in_unit(self, u: float, units: str) -> list[float]:
        return [
            value
            if setting.dimension is None
            else in_unit(value, setting.dimension, setting.unit(units))
            for setting, value in zip(self.settings, self.numbers(u).values(), strict=True)
        ]


@dataclass(frozen=True)
class Drawn:
    """The numbers of a file of joint draws, kept together row by row."""

    draws: JointDraws
    label: str
    why: str = DRAWN
    clipped: bool = False

    @property
    def key(self) -> str:
        """The file's name."""
        return self.label

    @property
    def keys(self) -> list[str]:
        """The keys of the numbers."""
        return [one for key in self.draws.keys for one in single_keys(key)]

    def numbers(self, u: float) -> dict[str, float]:
        """One of the rows, all equally likely."""
        count = len(self.draws.lines)
        return self.draws.numbers(min(int(u * count), count - 1))

    def shown(self, u: float, units: str) -> str:
        """Rows have no order: only the ends of the differences that they make."""
        return "95 % of draws" if u > 0.5 else "5 % of draws"


Input = Range | Drawn


def _places(value: float) -> int:
    """Decimals with which a number has three digits, none of them a last nought.

    >>> _places(4.804), _places(16.02), _places(0.39), _places(1234.5)
    (1, 0, 2, 0)
    """
    digits = f"{value:.2e}".split("e")
    return max(len(digits[0].rstrip("0").rstrip(".").partition(".")[2]) - int(digits[1]), 0)


def usual_inputs(scenario: Scenario, with_numbers: WithNumbers) -> list[Range]:
    """The inputs that are varied when nobody says otherwise, within the scenario's limits.

    Numbers that the scenario does not have (a distribution without a mean) or that stand at zero
    are left out.
    """
    known = {setting.key: setting for setting in numeric_settings(scenario)}
    split = {policy.split_step for policy in scenario.policies}
    found = []
    for key, label, group in _USUAL + (() if split == {True} else _WITHOUT_SPLIT_STEP):
        singles = group or single_keys(key)
        settings = tuple(known[one] for one in singles if one in known and known[one].value)
        if settings:
            found.append(_usual(key, label, settings, with_numbers))
    return found


def _usual(
    key: str, label: str, settings: tuple[NumericSetting, ...], with_numbers: WithNumbers
) -> Range:
    tag = next(tag for tag in _WIDEST_FIRST if any(setting.tag == tag for setting in settings))
    width = WIDTHS[tag]
    lows, low_clipped = _within_limits(settings, -width, with_numbers)
    highs, high_clipped = _within_limits(settings, width, with_numbers)
    return Range(key, label, settings, lows, highs, WORDS[tag], low_clipped or high_clipped)


def _within_limits(
    settings: tuple[NumericSetting, ...], part: float, with_numbers: WithNumbers
) -> tuple[tuple[float, ...], bool]:
    """The numbers moved by that part of themselves, or as far as the scenario allows."""

    def moved(part: float) -> tuple[float, ...]:
        return tuple(setting.value * (1.0 + part) for setting in settings)

    def allowed(part: float) -> bool:
        numbers = zip(settings, moved(part), strict=True)
        try:
            with_numbers({setting.key: value for setting, value in numbers})
        except Refused:
            return False
        return True

    if allowed(part):
        return moved(part), False
    good, bad = 0.0, part
    for _ in range(_HALVINGS):
        middle = 0.5 * (good + bad)
        good, bad = (middle, bad) if allowed(middle) else (good, middle)
    return moved(good), True


def range_of(text: str, scenario: Scenario, with_numbers: WithNumbers) -> Range:
    """A user's own range, written KEY=LOW:HIGH; for a group that moves by a factor, of factors.

    Raises `Refused` where it cannot be read or leaves the scenario's limits.
    """
    try:
        return _read_range(text, scenario, with_numbers)
    except Refused as error:
        raise Refused(f"--vary-input {quoted(text)}: {error}") from None


def _read_range(text: str, scenario: Scenario, with_numbers: WithNumbers) -> Range:
    key, _, ends = (part.strip() for part in text.partition("="))
    low_text, colon, high_text = (part.strip() for part in ends.partition(":"))
    if not (key and colon and low_text and high_text):
        raise Refused("is not KEY=LOW:HIGH, such as pair.both.top_speed=10:14 ft/s")
    if key.startswith("run."):
        raise Refused(f"{key}: says how much is played; it cannot be varied")
    unit = _UNIT.search(high_text)
    if unit and not _UNIT.search(low_text):
        low_text = f"{low_text} {unit.group().strip()}"
    labels = {usual: label for usual, label, _ in _USUAL + _WITHOUT_SPLIT_STEP}
    label = labels.get(key, key)
    group = next((group for usual, _, group in _USUAL if group and usual == key), None)
    if group:
        factor = NumericSetting(key, 1.0, None, "")
        low, high = factor.read(low_text), factor.read(high_text)
        settings = tuple(numeric_setting(scenario, one) for one in group)
        lows, highs = (tuple(s.value * end for s in settings) for end in (low, high))
    else:
        setting = numeric_setting(scenario, key)
        low, high = setting.read(low_text), setting.read(high_text)
        settings = tuple(numeric_setting(scenario, one) for one in single_keys(key))
        lows, highs = (low,) * len(settings), (high,) * len(settings)
    if not low < high:
        raise Refused(f"{key}: {low_text} must be below {high_text}")
    found = Range(key, label, settings, lows, highs, YOURS)
    for end in (0.0, 1.0):
        with_numbers(found.numbers(end))
    return found


def inputs_of(
    usual: Iterable[Range],
    own: Sequence[Range],
    draws: Sequence[JointDraws],
    only: Sequence[str],
) -> list[Input]:
    """All inputs: a user's ranges and draws take the place of usual ones with the same numbers.

    ``only`` keeps of the usual ones those with these keys. Raises `Refused` for unknown keys and
    for numbers that would come from two places.
    """
    usual = list(usual)
    names = [each.key for each in usual] + [each.key for each in own]
    for key in only:
        if key not in names:
            raise Refused(f"--only {key}: is not varied here; there are: {', '.join(names)}")
    given: list[Input] = [*own, *(Drawn(each, _file_name(each)) for each in draws)]
    taken: dict[str, str] = {}
    for each in given:
        for key in each.keys:
            if key in taken:
                raise Refused(f"{each.label}: {key} is varied by {taken[key]}, too; keep one")
        taken |= dict.fromkeys(each.keys, each.label)
    kept = [_without(each, taken) for each in usual if not only or each.key in only]
    return [*(each for each in kept if each), *given]


def _file_name(draws: JointDraws) -> str:
    return re.split(r"[/\\]", draws.file)[-1]


def _without(usual: Range, taken: Mapping[str, str]) -> Range | None:
    """What is left of an input without the numbers that others move."""
    places = [k for k, key in enumerate(usual.keys) if key not in taken]
    if len(places) == len(usual.settings):
        return usual
    if not places:
        return None
    left = [(usual.settings[k], usual.lows[k], usual.highs[k]) for k in places]
    settings, lows, highs = (tuple(part) for part in zip(*left, strict=True))
    who = ", ".join(setting.key for setting in settings)
    return replace(usual, label=f"{usual.label} ({who})", settings=settings, lows=lows, highs=highs)
