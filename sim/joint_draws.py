"""Joint draws of a scenario's numbers, from CSV files: what somebody does not know about them.

A file has a column for each number, named by its key as in `sim.numeric_settings`, and a row for
each draw; cells are written as in scenario files: ``12.31 ft/s``, ``0.97 s``, a plain number for a
weight. What stands in one row belongs together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from sim.court import Array
from sim.errors import Refused
from sim.input_files import UnreadableFile, content, csv_lines
from sim.numeric_settings import NumericSetting, numeric_setting, single_keys
from sim.plain_text import quoted, shown_key
from sim.scenario import Scenario

LEAST_DRAWS: Final = 20
_MOST_DRAWS: Final = 100_000
_LARGEST_FILE: Final = 20_000_000
_TOLD_EVERY: Final = 1000
_HOW_IT_IS_PLAYED: Final = "run."


@dataclass(frozen=True)
class JointDraws:
    """Draws of some numbers of a scenario, in the program's units.

    ``values`` has shape (draws, keys), ``lines`` the line of the file that each draw stands in.
    """

    file: str
    settings: tuple[NumericSetting, ...]
    values: Array
    lines: tuple[int, ...]

    @property
    def keys(self) -> list[str]:
        """The keys of the columns."""
        return [setting.key for setting in self.settings]

    def numbers(self, draw: int) -> dict[str, float]:
        """One draw, by key."""
        return dict(zip(self.keys, self.values[draw].tolist(), strict=True))

    def spaced(self, most: int) -> JointDraws:
        """At most so many of the draws, evenly spaced: neighbours in a file may be alike."""
        count = len(self.lines)
        if count <= most:
            return self
        kept = np.arange(most) * count // most
        lines = tuple(self.lines[k] for k in kept)
        return JointDraws(self.file, self.settings, self.values[kept], lines)


def read_draws(path: Path, scenario: Scenario) -> JointDraws:
    """Read a file of draws for that scenario.

    Raises `Refused` that names file, line, key and value and says what is allowed. Whether the
    values lie within the scenario's limits is for `scenarios_of` to say.
    """
    data = _content(path)
    try:
        lines = csv_lines(data, _MOST_DRAWS)
    except UnreadableFile as why:
        raise Refused(f"{path}{why}") from None
    if not lines:
        raise Refused(f"{path}: is empty; the first line names the keys")
    (first, keys), *rows = lines
    settings = _header(path, first, keys, scenario)
    if not LEAST_DRAWS <= len(rows) <= _MOST_DRAWS:
        raise Refused(
            f"{path}: has {len(rows)} draws (lines below the header); from {LEAST_DRAWS} to "
            f"{_MOST_DRAWS:,} are allowed"
        )
    values = np.array([_row(path, line, cells, settings) for line, cells in rows])
    numbers = tuple(line for line, _ in rows)
    return JointDraws(str(path), settings, values, numbers)


def _content(path: Path) -> bytes:
    try:
        return content(path, _LARGEST_FILE)
    except UnreadableFile as why:
        raise Refused(f"{path}{why}") from None


def _header(
    path: Path, line: int, keys: list[str], scenario: Scenario
) -> tuple[NumericSetting, ...]:
    taken: dict[str, str] = {}
    settings = []
    for key in keys:
        if key.startswith(_HOW_IT_IS_PLAYED):
            raise Refused(
                f"{path} line {line}: {shown_key(key)}: says how much is played; take it out"
            )
        try:
            settings.append(numeric_setting(scenario, key))
        except Refused as error:
            raise Refused(f"{path} line {line}: {error}") from None
        for one in single_keys(key):
            if one in taken:
                raise Refused(f"{path} line {line}: {shown_key(one)} stands in two columns")
            taken[one] = key
    return tuple(settings)


def _row(
    path: Path, line: int, cells: list[str], settings: tuple[NumericSetting, ...]
) -> list[float]:
    if len(cells) != len(settings):
        raise Refused(
            f"{path} line {line}: {len(cells)} cells under {len(settings)} keys; decimals are "
            "written with a point: 12.31 ft/s"
        )
    values = []
    for setting, cell in zip(settings, cells, strict=True):
        try:
            value = setting.read(cell)
        except Refused as error:
            raise Refused(f"{path} line {line}: {error}") from None
        if not np.isfinite(value):
            raise Refused(f"{path} line {line}: {setting.key} = {quoted(cell)}: must be finite")
        values.append(value)
    return values


def check_apart(draws: Sequence[JointDraws]) -> None:
    """Raise `Refused` where two files give the same number: each is independent of the others."""
    taken: dict[str, str] = {}
    for each in draws:
        own = [one for key in each.keys for one in single_keys(key)]
        for key in own:
            if key in taken:
                raise Refused(
                    f"{each.file}: {key} stands in {taken[key]}, too; a number can come from one "
                    "file only"
                )
        taken |= dict.fromkeys(own, each.file)


def check_limits(
    draws: JointDraws,
    with_numbers: Callable[[Mapping[str, float]], Scenario],
    told: Callable[[int, int], None] = lambda done, planned: None,
) -> None:
    """Raise `Refused` with the line of a draw that is not allowed in the scenario.

    The largest and smallest values come first: a slip of the pen is among them. ``told`` hears how
    many of how many draws are checked.
    """
    ends = np.concatenate((draws.values.argmin(axis=0), draws.values.argmax(axis=0)))
    for done, draw in enumerate(dict.fromkeys((*sorted(ends.tolist()), *range(len(draws.lines))))):
        try:
            with_numbers(draws.numbers(draw))
        except Refused as error:
            raise Refused(f"{draws.file} line {draws.lines[draw]}: {error}") from None
        if (done + 1) % _TOLD_EVERY == 0:
            told(done + 1, len(draws.lines))


def scenarios_of(
    draws: Sequence[JointDraws],
    most: int,
    seed: int,
    with_numbers: Callable[[Mapping[str, float]], Scenario],
) -> list[Scenario]:
    """A scenario for every joint draw, at most so many and as many as the shortest file has.

    Files are independent of each other: the rows of each are taken in a random order of their own,
    so that files sorted by their values do not go up and down together. ``with_numbers`` makes the
    scenario (`numeric_settings.changer`). Raises `Refused` with file and line where a value is
    outside the scenario's limits.
    """
    check_apart(draws)
    most = min([most, *(len(each.lines) for each in draws)])
    kept = [each.spaced(most) for each in draws]
    orders = [
        np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(number,))).permutation(most)
        for number in range(len(kept))
    ]
    scenarios = []
    for row in range(most):
        chosen = [(each, int(order[row])) for each, order in zip(kept, orders, strict=True)]
        numbers = {key: v for each, k in chosen for key, v in each.numbers(k).items()}
        try:
            scenarios.append(with_numbers(numbers))
        except Refused as error:
            where = " with ".join(f"{each.file} line {each.lines[k]}" for each, k in chosen)
            raise Refused(f"{where}: {error}") from None
    return scenarios
