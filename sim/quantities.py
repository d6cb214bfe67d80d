"""Fields of a scenario: quantities with units, distributions of them, and tagged defaults."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Final, Literal, Self

import numpy as np
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    model_validator,
)

from sim.court import Array
from sim.normal import normal_quantile, normal_share_below
from sim.plain_text import quoted
from sim.samples import LARGEST_SAMPLE, Sample, sample_cells, sample_of
from sim.units import EXAMPLES, in_unit, parse_quantity, unit_written, with_article

TAGS: Final = {
    "S": "rule or standard",
    "P": "published measurement",
    "C": "common practice, no source",
    "A": "our assumption",
}
# What a default of our own says of itself.
OURS: Final = "our assumption; measure your own"
MODEL: Final = "our assumption"
_LEAST_SHARE_KEPT: Final = 1e-4
# A limit in another unit is the limit.
_ROUNDING: Final = 1e-12
_TAIL: Final = 5.0


class Strict(BaseModel):
    """A table of the scenario: unknown keys are errors, values do not change."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, validate_default=True, allow_inf_nan=False
    )


def tagged(default: Any, tag: str, source: str, **constraints: Any) -> Any:
    """A field with a default value, the tag that says how sure it is, and its source."""
    extra: dict[str, Any] = {"tag": tag, "source": source}
    if isinstance(default, dict | list):
        return Field(default_factory=lambda: default, json_schema_extra=extra, **constraints)
    return Field(default, json_schema_extra=extra, **constraints)


@dataclass(frozen=True)
class Quantity:
    """Reads a quantity of one dimension within limits, all three given as people write them."""

    dimension: str
    low: str
    high: str

    def __call__(self, value: object) -> float:
        number = parse_quantity(value, self.dimension)
        low, high = self.bounds
        allowed = min(max(number, low), high)
        if abs(number - allowed) > _ROUNDING * max(abs(low), abs(high)):
            given = self.in_unit_of(value)
            raise ValueError(f"must lie between {self.low} and {self.high}{given}")
        return allowed

    def in_unit_of(self, value: object) -> str:
        """The limits in brackets, in the unit of a value (one that can be read) if that is another.

        They are rounded inwards, so that they are allowed.
        """
        unit = unit_written(str(value))
        if unit in (unit_written(self.low), unit_written(self.high)):
            return ""
        low, high = (in_unit(end, self.dimension, unit) for end in self.bounds)
        return f" ({_rounded(low, math.ceil):g} {unit} and {_rounded(high, math.floor):g} {unit})"

    @cached_property
    def bounds(self) -> tuple[float, float]:
        """Both limits in the program's unit."""
        return parse_quantity(self.low, self.dimension), parse_quantity(self.high, self.dimension)

    def in_words(self) -> str:
        what = with_article(self.dimension)
        return f"{what} from {self.low} to {self.high}, such as {EXAMPLES[self.dimension]}"


def _rounded(value: float, towards: Callable[[float], int]) -> float:
    """A value at four significant digits, rounded up or down."""
    if value == 0.0:
        return 0.0
    decimals = 3 - math.floor(math.log10(abs(value)))
    # What a conversion adds in the last digits is no reason to round away.
    return towards(round(value * 10.0**decimals, 6)) / 10.0**decimals


def quantity(dimension: str, low: str, high: str) -> BeforeValidator:
    """Annotation for a float field written as text with a unit, within limits."""
    reader = Quantity(dimension, low, high)
    as_text = Annotated[str, Field(description=reader.in_words())]
    return BeforeValidator(reader, json_schema_input_type=as_text)


_Text = Annotated[float, BeforeValidator(lambda value: value, json_schema_input_type=str)]


class Shape(Strict):
    """A distribution as its inverse: uniform numbers in (0, 1) in, values of any shape out."""

    def quantile(self, u: Array) -> Array:
        raise NotImplementedError

    def typical(self) -> float:
        """The median."""
        return float(self.quantile(np.array([0.5]))[0])


class Constant(Shape):
    """Always the same value."""

    kind: Literal["constant"]
    value: _Text

    def quantile(self, u: Array) -> Array:
        return np.full(u.shape, self.value)


class Normal(Shape):
    """A normal distribution."""

    kind: Literal["normal"]
    mean: _Text
    sd: _Text

    def quantile(self, u: Array) -> Array:
        return self.mean + self.sd * normal_quantile(u)


class Truncated(Shape):
    """A normal distribution cut off below ``low`` and above ``high`` (drawn again, not clipped)."""

    kind: Literal["truncated"]
    mean: _Text
    sd: _Text
    low: _Text
    high: _Text

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        _check_order(self.low, self.high)
        if self.sd == 0.0:
            raise ValueError("sd: must be above 0; write a plain value for no spread")
        below, above = self._cut()
        if above - below < _LEAST_SHARE_KEPT:
            raise ValueError("mean: too far outside low and high for its sd")
        return self

    def _cut(self) -> tuple[float, float]:
        """Shares of the whole distribution below ``low`` and below ``high``."""
        low, high = (self.low - self.mean) / self.sd, (self.high - self.mean) / self.sd
        return normal_share_below(low), normal_share_below(high)

    def quantile(self, u: Array) -> Array:
        below, above = self._cut()
        values = self.mean + self.sd * normal_quantile(below + u * (above - below))
        return np.clip(values, self.low, self.high)


class Uniform(Shape):
    """Every value between ``low`` and ``high`` equally likely."""

    kind: Literal["uniform"]
    low: _Text
    high: _Text

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _check_order(self.low, self.high)
        return self

    def quantile(self, u: Array) -> Array:
        return self.low + u * (self.high - self.low)


class Triangular(Shape):
    """Between ``low`` and ``high``, most likely at ``mode``."""

    kind: Literal["triangular"]
    low: _Text
    mode: _Text
    high: _Text

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _check_order(self.low, self.high)
        if not self.low <= self.mode <= self.high:
            raise ValueError("mode: must lie between low and high")
        return self

    def quantile(self, u: Array) -> Array:
        width, rise = self.high - self.low, self.mode - self.low
        rising = self.low + np.sqrt(u * width * rise)
        falling = self.high - np.sqrt((1.0 - u) * width * (self.high - self.mode))
        return np.where(u < rise / width, rising, falling)


class WeightedList(Shape):
    """One of a list of values, with weights (equal when left out)."""

    kind: Literal["list"]
    values: Annotated[list[_Text], Field(min_length=1, max_length=LARGEST_SAMPLE)]
    weights: list[Annotated[float, Field(ge=0.0, le=1e9)]] | None = None

    @model_validator(mode="after")
    def _fitting(self) -> Self:
        if self.weights is not None and len(self.weights) != len(self.values):
            raise ValueError("weights: there must be as many as values")
        if self.weights is not None and not sum(self.weights) > 0.0:
            raise ValueError("weights: at least one must be above 0")
        return self

    def quantile(self, u: Array) -> Array:
        values = np.array(self.values)
        weights = np.ones(values.size) if self.weights is None else np.array(self.weights)
        order = np.argsort(values, kind="stable")
        return np.asarray(values[order][choose(weights[order], u)])


Distribution = Annotated[
    Constant | Normal | Truncated | Uniform | Triangular | WeightedList,
    Field(discriminator="kind"),
]
_Written = Annotated[
    Constant | Normal | Truncated | Uniform | Triangular | WeightedList | Sample,
    Field(discriminator="kind"),
]


def choose(weights: Array, u: Array) -> np.ndarray:
    """Index drawn with the given weights, from uniform numbers ``u`` in (0, 1); shape of ``u``."""
    edges = np.cumsum(weights) / np.sum(weights)
    return np.minimum(np.searchsorted(edges, u, side="right"), np.flatnonzero(weights)[-1])


@dataclass(frozen=True)
class Spread:
    """Reads a distribution of one quantity: a plain quantity, or a table with a ``kind``."""

    reader: Quantity

    def __call__(self, value: object, info: ValidationInfo) -> object:
        if isinstance(value, str):
            return {"kind": "constant", "value": self.reader(value)}
        if not isinstance(value, dict):
            parse_quantity(value, self.reader.dimension)
        table = dict(value)  # type: ignore[call-overload]
        if table.get("kind") == "sample":
            folder = (info.context or {}).get("folder", Path())
            return {"kind": "list", "values": self._read_sample(table, Path(folder))}
        mean = table.get("mean")
        for key in ("value", "mean", "low", "mode", "high"):
            if key in table:
                table[key] = self._read(key, table[key])
        if "sd" in table:
            table["sd"] = self._read_width(table["sd"])
        if table.get("kind") == "normal" and "mean" in table and "sd" in table:
            self._check_tails(table["mean"], table["sd"], self.reader.in_unit_of(mean))
        if isinstance(table.get("values"), list):
            table["values"] = [self._read("values", entry) for entry in table["values"]]
        return table

    def _read(self, key: str, value: object) -> float:
        try:
            return self.reader(value)
        except ValueError as error:
            raise ValueError(f"{key} = {quoted(value)}: {error}") from None

    def _read_width(self, value: object) -> float:
        low, high = self.reader.bounds
        try:
            number = parse_quantity(value, self.reader.dimension)
            if not 0.0 <= number <= high - low:
                raise ValueError("must not be negative nor wider than the allowed range")
        except ValueError as error:
            raise ValueError(f"sd = {quoted(value)}: {error}") from None
        return number

    def _check_tails(self, mean: float, sd: float, in_other_unit: str) -> None:
        low, high = self.reader.bounds
        if not (low <= mean - _TAIL * sd and mean + _TAIL * sd <= high):
            raise ValueError(
                f"mean and sd: {_TAIL:.0f} sd either side of the mean must stay between "
                f"{self.reader.low} and {self.reader.high}{in_other_unit}; use "
                'kind = "truncated" with low and high for a wider spread'
            )

    def _read_sample(self, table: dict[str, Any], folder: Path) -> list[float]:
        sample = sample_of(table)
        return [
            self._read(f"{sample.file} line {line}, {sample.column}", f"{cell} {sample.unit}")
            for line, cell in sample_cells(sample, folder)
        ]


def spread(dimension: str, low: str, high: str) -> BeforeValidator:
    """Annotation for a `Distribution` field of one dimension, all of it within limits."""
    reader = Quantity(dimension, low, high)
    as_text = Annotated[str, Field(description=reader.in_words())]
    return BeforeValidator(Spread(reader), json_schema_input_type=as_text | _Written)


def _check_order(low: float, high: float) -> None:
    if not low < high:
        raise ValueError("low: must be below high")


def entry_for(table: dict[str, Any], data: Any, key: str, usual: str) -> dict[str, Any] | None:
    """The row of defaults that a scenario's table asks for, or None."""
    wanted = data.get(key, usual) if isinstance(data, dict) else None
    return table.get(wanted) if isinstance(wanted, str) else None


def unmark(model: Strict, names: Iterable[str]) -> None:
    """Let values filled in by age group or level count as defaults, not as given."""
    model.model_fields_set.difference_update(names)
