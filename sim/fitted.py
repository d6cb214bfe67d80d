"""What every fit hands on: estimates with ranges, a scenario that holds them, and their draws."""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from sim.court import Array
from sim.errors import Refused
from sim.numeric_settings import numeric_setting
from sim.samples import with_samples_written_out
from sim.scenario import Scenario
from sim.scenario_errors import ScenarioError
from sim.scenario_files import ScenarioFile, build, overlay
from sim.tables import Row
from sim.toml_text import toml_text
from sim.units import SHOWN_UNIT, format_quantity, in_unit

# Posterior draws that ranges are made from; as many of them as are asked for are written.
POSTERIOR: Final = 4000
_LONGEST_NAME: Final = 40
_TAILS: Final = (0.025, 0.975)


@dataclass(frozen=True)
class Estimate:
    """A fitted number with its 95 % range, in the program's unit.

    ``key`` is that of the setting it goes into, empty where it goes into none. ``n`` is how many
    observations it rests on, ``usual`` what the scenario fitted to has instead.
    """

    quantity: str
    key: str
    value: float
    low: float
    high: float
    n: int
    method: str
    dimension: str | None = None
    usual: float = math.nan

    def row(self, units: str) -> Row:
        """The estimate as a row of fit.csv."""
        unit = SHOWN_UNIT[units][self.dimension] if self.dimension else ""
        numbers = {"estimate": self.value, "low": self.low, "high": self.high}
        if self.dimension:
            numbers = {k: in_unit(v, self.dimension, unit) for k, v in numbers.items()}
        name = self.key or self.quantity
        return {"quantity": name, "unit": unit, **numbers, "n": self.n, "method": self.method}


@dataclass(frozen=True)
class Posterior:
    """What a fit knows: estimates, the scenario tables they fill, and joint draws by setting's key.

    Draws have shape (draws,), in the program's unit; ``remarks`` go behind values of the tables.
    """

    estimates: list[Estimate]
    tables: dict[str, Any]
    remarks: dict[str, str]
    draws: dict[str, Array]


@dataclass(frozen=True)
class Handed:
    """The files of a fit: the scenario's text, the draws as cells, and how many were refused."""

    text: str
    scenario: Scenario
    draws: list[Row]
    refused: int


def stream(seed: int, number: int) -> np.random.Generator:
    """Random numbers of one kind of fit, independent of those of another with the same seed."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(number,))))


def range_of(draws: Array) -> tuple[float, float]:
    """The 95 % range of posterior draws."""
    low, high = np.quantile(draws, _TAILS)
    return float(low), float(high)


def hand_on(
    like: ScenarioFile, posterior: Posterior, title: str, wanted: int, units: str
) -> Handed:
    """The scenario with the fitted values, and the first draws that it allows.

    A draw outside the scenario's limits is passed over and counted: what is written comes from the
    posterior cut off at the limits. Raises `Refused` where the values, or nearly all draws, are
    outside.
    """
    tables = overlay(_own_tables(like), posterior.tables)
    # A file's name may hold what no remark may.
    remark = "".join(letter if letter.isprintable() else " " for letter in title)
    text = f"# {remark}\n" + toml_text(tables, posterior.remarks)
    file = ScenarioFile(
        "fit", text, overlay(like.tables, posterior.tables), like.folder, "fit.toml"
    )
    file.tables["name"] = tables["name"]
    scenario = build(file)
    dimensions = {key: numeric_setting(scenario, key).dimension for key in posterior.draws}
    kept: list[Row] = []
    refused = 0
    error: Refused = Refused("no draws")
    for place in range(POSTERIOR):
        if len(kept) == wanted:
            break
        cells = {
            key: written(float(column[place]), dimensions[key], units)
            for key, column in posterior.draws.items()
        }
        try:
            build(file, _with_cells(posterior.tables, cells))
            kept.append(cells)
        except ScenarioError as found:
            refused, error = refused + 1, found
    if len(kept) < wanted:
        raise Refused(
            f"Only {len(kept)} of {POSTERIOR} draws of the fit are values that a scenario allows. "
            f"Check what was typed. The last one refused: {error}"
        )
    return Handed(text, scenario, kept, refused)


def _own_tables(like: ScenarioFile) -> dict[str, Any]:
    """What the new scenario's file says before the fitted values.

    It names the bundled scenario that it builds on; of another one it holds all tables, and the
    values of samples, since it lies in another folder.
    """
    if like.bundled:
        name = f"{build(like).name[: _LONGEST_NAME - 8]}, fitted"
        return {"extends": like.short_name, "name": name}
    own = with_samples_written_out(like.tables, like.folder)
    return {"name": build(like).name} | own


def _with_cells(tables: Mapping[str, Any], cells: Row) -> dict[str, Any]:
    """The fitted tables, with a draw in place of the estimates."""
    changed = copy.deepcopy(dict(tables))
    for key, cell in cells.items():
        *parents, name = key.split(".")
        table = changed
        for parent in parents:
            table = table[parent]
        table[name] = cell if isinstance(table[name], str) else float(cell)
    return changed


def written(value: float, dimension: str | None, units: str) -> str:
    """A value as scenario files write it, at four significant digits; weights are plain numbers.

    >>> written(12.3141, "running speed", "us"), written(48.2071, None, "us")
    ('12.31 ft/s', '48.21')
    """
    return format_quantity(value, dimension, units, small=False) if dimension else f"{value:.4g}"
