"""Quantities with their unit, as people write them: ``5 ft 7 in``, ``38 mph``, ``0.30 s``.

Inside the program every quantity is a plain float in feet, seconds, radians, feet per second,
radians per second, kilograms, degrees Celsius, or a plain fraction.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import Final

from sim.plain_text import is_plain

# Exact by definition: the international yard and pound agreement of 1959 fixes the foot at 0.3048 m
# and the avoirdupois pound at 0.45359237 kg; the statute mile is 5280 ft.
METRES_PER_FOOT: Final = 0.3048
INCHES_PER_FOOT: Final = 12.0
KILOGRAMS_PER_OUNCE: Final = 0.45359237 / 16.0

_FEET_PER_SECOND: Final = {
    "ft/s": 1.0,
    "mph": 5280.0 / 3600.0,
    "m/s": 1.0 / METRES_PER_FOOT,
    "km/h": 1.0 / (3.6 * METRES_PER_FOOT),
}
UNITS: Final[dict[str, dict[str, float]]] = {
    "length": {
        "ft": 1.0,
        "in": 1.0 / 12.0,
        "m": 1.0 / METRES_PER_FOOT,
        "cm": 0.01 / METRES_PER_FOOT,
        "mm": 0.001 / METRES_PER_FOOT,
        "'": 1.0,
        '"': 1.0 / 12.0,
    },
    "speed": _FEET_PER_SECOND,
    "running speed": _FEET_PER_SECOND,
    "time": {"s": 1.0, "ms": 0.001},
    "angle": {"deg": math.pi / 180.0, "rad": 1.0},
    "spin": {"rpm": 2.0 * math.pi / 60.0, "rad/s": 1.0},
    "mass": {"g": 0.001, "kg": 1.0, "oz": KILOGRAMS_PER_OUNCE},
    "temperature": {"C": 1.0, "F": 5.0 / 9.0},
    "share": {"%": 0.01},
}
EXAMPLES: Final[dict[str, str]] = {
    "length": '"5 ft 7 in" or "1.70 m"',
    "speed": '"38 mph" or "61 km/h"',
    "running speed": '"13 ft/s" or "4 m/s"',
    "time": '"0.30 s" or "300 ms"',
    "angle": '"4 deg"',
    "spin": '"500 rpm"',
    "mass": '"24.3 g"',
    "temperature": '"20 C" or "68 F"',
    "share": '"5.5 %"',
}
_WRITTEN_OUT: Final = {"foot": "ft", "feet": "ft", "inch": "in", "inches": "in"}
_SIGNS: Final = {"'": "ft", '"': "in"}
_TERM: Final = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z/%'\"]+)\s*")
# 5 ft 7 and 5'7, as people say and write them.
_INCHES_WITHOUT_UNIT: Final = re.compile(r"(ft|feet|foot|')\s*(\d+(?:\.\d*)?)\s*\Z")
_FREEZING_POINT_FAHRENHEIT: Final = 32.0
_LONGEST_TEXT: Final = 60


def parse_quantity(text: object, dimension: str) -> float:
    """Turn text such as ``"5 ft 7 in"`` into a float in the program's own unit.

    ``dimension`` is a key of `UNITS`. Only lengths may be written in two parts: feet and inches,
    the latter without their unit if you like.

    Raises `ValueError` that says what is wrong and shows how to write it.

    >>> parse_quantity("5 ft 6 in", "length")
    5.5
    >>> round(parse_quantity("38 mph", "speed"), 3)
    55.733
    """
    if isinstance(text, str):
        return _parsed(text, dimension)
    raise ValueError(f"the unit is missing; {_how(dimension)}")


# A scenario has a hundred quantities, nearly all the same in thousands of settings of a study.
@lru_cache(maxsize=4096)
def _parsed(text: str, dimension: str) -> float:
    units, how = UNITS[dimension], _how(dimension)
    if len(text) > _LONGEST_TEXT:
        raise ValueError(f"this is too long for a number with a unit; {how}")
    if not is_plain(text):
        raise ValueError(f"control characters are no part of a number; {how}")
    if dimension == "length":
        text = _INCHES_WITHOUT_UNIT.sub(r"\1 \2 in", text)
    terms = [(number, _WRITTEN_OUT.get(unit, unit)) for number, unit in _TERM.findall(text.strip())]
    if not terms or "".join(_TERM.sub("", text.strip()).split()):
        raise ValueError(f"this is not a number with a unit; {how}")
    unknown = [unit for _, unit in terms if unit not in units]
    if unknown:
        allowed = ", ".join(unit for unit in units if unit not in "'\"")
        raise ValueError(f'"{unknown[0]}" is not a unit of {dimension} ({allowed}); {how}')
    feet_and_inches = [_SIGNS.get(unit, unit) for _, unit in terms] == ["ft", "in"]
    if len(terms) > 1 and not feet_and_inches:
        raise ValueError(f"only feet and inches may be combined; {how}")
    if len(terms) > 1 and terms[1][0][0] in "+-":
        raise ValueError(f"only the first part may carry a sign; {how}")
    sign = -1.0 if terms[0][0].startswith("-") else 1.0
    value = sign * sum(abs(float(number)) * units[unit] for number, unit in terms)
    if dimension == "temperature" and terms[0][1] == "F":
        value -= _FREEZING_POINT_FAHRENHEIT * units["F"]
    if not math.isfinite(value):
        raise ValueError(f"the number is too large; {how}")
    if len(terms) > 1 and float(terms[1][0]) >= INCHES_PER_FOOT:
        raise ValueError(f"the inches beside feet must be under 12; {how}")
    return value


def _how(dimension: str) -> str:
    return f"write {with_article(dimension)} with its unit, for example {EXAMPLES[dimension]}"


def unit_written(text: str) -> str:
    """The unit that a quantity is written in, of feet and inches the feet.

    >>> unit_written("1.70 m"), unit_written("5 ft 7 in"), unit_written('90"')
    ('m', 'ft', 'in')
    """
    unit = _TERM.findall(text)[0][1]
    return (_WRITTEN_OUT | _SIGNS).get(unit, unit)


def with_article(noun: str) -> str:
    """A noun with its indefinite article.

    >>> with_article("speed"), with_article("angle")
    ('a speed', 'an angle')
    """
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def in_unit(value: float, dimension: str, unit: str) -> float:
    """Give a value held in the program's own unit in another unit of the same dimension.

    >>> round(in_unit(5.5, "length", "m"), 4)
    1.6764
    """
    shifted = value + (
        _FREEZING_POINT_FAHRENHEIT * UNITS[dimension]["F"]
        if dimension == "temperature" and unit == "F"
        else 0.0
    )
    return shifted / UNITS[dimension][unit]


SHOWN_UNIT: Final[dict[str, dict[str, str]]] = {
    "us": {
        "length": "ft",
        "speed": "mph",
        "running speed": "ft/s",
        "time": "s",
        "angle": "deg",
        "spin": "rpm",
        "mass": "g",
        "temperature": "F",
        "share": "%",
    },
    "metric": {
        "length": "m",
        "speed": "km/h",
        "running speed": "m/s",
        "time": "s",
        "angle": "deg",
        "spin": "rpm",
        "mass": "g",
        "temperature": "C",
        "share": "%",
    },
}


def format_quantity(value: float, dimension: str, system: str = "us", *, small: bool = True) -> str:
    """Write a value with its unit, in the ``us`` or ``metric`` system, at four significant digits.

    With ``small``, lengths under half a foot are in inches or centimetres.

    >>> format_quantity(5.5, "length"), format_quantity(5.5, "length", "metric")
    ('5.5 ft', '1.676 m')
    >>> format_quantity(0.25, "length"), format_quantity(0.25, "length", "metric")
    ('3 in', '7.62 cm')
    """
    unit = SHOWN_UNIT[system][dimension]
    if small and dimension == "length" and 0.0 < abs(value) < 0.5:
        unit = {"ft": "in", "m": "cm"}[unit]
    return f"{in_unit(value, dimension, unit):.4g} {unit}"
