"""Units: exact conversions both ways, and what is taken for a quantity and what is not."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.units import EXAMPLES, SHOWN_UNIT, UNITS, format_quantity, in_unit, parse_quantity

# Exact definitions: international yard and pound agreement 1959 (foot 0.3048 m, pound 0.45359237
# kg, mile 5280 ft, pound 16 oz); minute 60 s; turn 2 pi rad and 360 deg. One of the unit is so
# many of the program's own.
FOOT = Fraction(3048, 10000)
EXACT = {
    ("length", "ft"): Fraction(1),
    ("length", "in"): Fraction(1, 12),
    ("length", "m"): 1 / FOOT,
    ("length", "cm"): Fraction(1, 100) / FOOT,
    ("length", "mm"): Fraction(1, 1000) / FOOT,
    ("length", "'"): Fraction(1),
    ("length", '"'): Fraction(1, 12),
    ("speed", "ft/s"): Fraction(1),
    ("speed", "mph"): Fraction(5280, 3600),
    ("speed", "m/s"): 1 / FOOT,
    ("speed", "km/h"): Fraction(1000, 3600) / FOOT,
    ("time", "s"): Fraction(1),
    ("time", "ms"): Fraction(1, 1000),
    ("angle", "deg"): math.pi / 180.0,
    ("angle", "rad"): Fraction(1),
    ("spin", "rpm"): 2.0 * math.pi / 60.0,
    ("spin", "rad/s"): Fraction(1),
    ("mass", "g"): Fraction(1, 1000),
    ("mass", "kg"): Fraction(1),
    ("mass", "oz"): Fraction(45359237, 100_000_000) / 16,
    ("share", "%"): Fraction(1, 100),
}
EXACT |= {
    ("running speed", unit): size
    for (dimension, unit), size in EXACT.items()
    if dimension == "speed"
}
TEMPERATURES = {("temperature", "C"), ("temperature", "F")}


def test_no_unit_is_left_out_here() -> None:
    known = {(dimension, unit) for dimension, units in UNITS.items() for unit in units}
    assert known == EXACT.keys() | TEMPERATURES


@pytest.mark.parametrize(("dimension", "unit"), EXACT)
def test_every_unit_both_ways(dimension: str, unit: str) -> None:
    size = float(EXACT[dimension, unit])
    assert parse_quantity(f"1 {unit}", dimension) == pytest.approx(size, rel=1e-15)
    assert parse_quantity(f"-2.5e1{unit}", dimension) == pytest.approx(-25.0 * size, rel=1e-15)
    assert in_unit(size, dimension, unit) == pytest.approx(1.0, rel=1e-15)
    assert in_unit(-25.0 * size, dimension, unit) == pytest.approx(-25.0, rel=1e-15)


# Freezing and boiling point of water at sea level, and where both scales agree.
@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0)])
def test_temperature_both_ways(celsius: float, fahrenheit: float) -> None:
    assert parse_quantity(f"{fahrenheit} F", "temperature") == pytest.approx(celsius, abs=1e-12)
    assert parse_quantity(f"{celsius} C", "temperature") == celsius
    assert in_unit(celsius, "temperature", "F") == pytest.approx(fahrenheit, abs=1e-12)
    assert in_unit(celsius, "temperature", "C") == celsius


@given(st.sampled_from(sorted(EXACT.keys() | TEMPERATURES)), st.floats(-1e6, 1e6))
def test_round_trip(key: tuple[str, str], number: float) -> None:
    dimension, unit = key
    value = parse_quantity(f"{number!r} {unit}", dimension)
    assert in_unit(value, dimension, unit) == pytest.approx(number, rel=1e-12, abs=1e-12)


@given(st.integers(0, 8), st.floats(0.0, 11.999))
def test_feet_and_inches_add_up(feet: int, inches: float) -> None:
    expected = feet + inches / 12.0
    for text in (f"{feet} ft {inches!r} in", f"{feet}'{inches!r}\"", f" {feet}ft {inches!r}in "):
        assert parse_quantity(text, "length") == pytest.approx(expected, rel=1e-12)
        assert parse_quantity("-" + text.strip(), "length") == pytest.approx(-expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("5 ft 7 in", 67.0 / 12.0),
        ("5 feet 7 inches", 67.0 / 12.0),
        ("1 foot 1 inch", 13.0 / 12.0),
        ("5'7\"", 67.0 / 12.0),
        ("67 in", 67.0 / 12.0),
        ("1.70 m", 1.70 / 0.3048),
        ("170cm", 1.70 / 0.3048),
        (".5 ft", 0.5),
        ("5. ft", 5.0),
        ("+5 ft", 5.0),
        ("0 ft 6 in", 0.5),
        ("5 ft 6", 5.5),
        ("5'6", 5.5),
        ("5 feet 6.0 ", 5.5),
        ("-5 ft 6", -5.5),
        ("5' 6 in", 5.5),
        ('5 ft 6"', 5.5),
    ],
)
def test_ways_to_write_a_length(text: str, feet: float) -> None:
    assert parse_quantity(text, "length") == pytest.approx(feet, rel=1e-15)


BARE_OR_BROKEN = [
    ("", "not a number with a unit"),
    ("5", "not a number with a unit"),
    ("ft", "not a number with a unit"),
    ("five ft", "not a number with a unit"),
    ("1,70 m", "not a number with a unit"),
    ("5 7", "not a number with a unit"),
    ("5 ft 7 8", "not a number with a unit"),
    ("5 ft -7", "not a number with a unit"),
    ("5 ft 12", "the inches beside feet must be under 12"),
    ("5' 7 cm", "only feet and inches may be combined"),
    ("- 5 ft", "not a number with a unit"),
    ("nan ft", "not a number with a unit"),
    ("inf ft", "not a number with a unit"),
    ("-inf ft", "not a number with a unit"),
    ("1_000 ft", "not a number with a unit"),
    ("about 5 ft", "not a number with a unit"),
    ("5 ft; rm", "not a number with a unit"),
    ("5 yards", '"yards" is not a unit of length'),
    ("5 FT", '"FT" is not a unit of length'),
    ("5 mph", '"mph" is not a unit of length'),
    ("5 ft 7 ft", "only feet and inches may be combined"),
    ("7 in 5 ft", "only feet and inches may be combined"),
    ("1 m 70 cm", "only feet and inches may be combined"),
    ("5 ft 7 in 3 in", "only feet and inches may be combined"),
    ("5 ft -7 in", "only the first part may carry a sign"),
    ("1e400 ft", "too large"),
    ("5 ft 1e400 in", "too large"),
]


@pytest.mark.parametrize(("text", "complaint"), BARE_OR_BROKEN)
def test_what_is_not_a_length(text: str, complaint: str) -> None:
    with pytest.raises(ValueError, match=complaint) as caught:
        parse_quantity(text, "length")
    # Every complaint shows how to write it.
    assert EXAMPLES["length"] in str(caught.value)


@pytest.mark.parametrize("value", [5, 5.0, True, None, ["5 ft"], {"ft": 5}, math.nan])
def test_a_number_without_its_unit_is_refused(value: object) -> None:
    with pytest.raises(ValueError, match="the unit is missing"):
        parse_quantity(value, "length")


@pytest.mark.parametrize("dimension", sorted(UNITS))
def test_examples_in_the_complaints_are_right(dimension: str) -> None:
    for example in EXAMPLES[dimension].split('"')[1::2]:
        assert math.isfinite(parse_quantity(example, dimension))


@given(st.text(max_size=12), st.sampled_from(sorted(UNITS)))
def test_any_text_gives_a_finite_number_or_a_helpful_complaint(text: str, dimension: str) -> None:
    complaint, value = "", 0.0
    try:
        value = parse_quantity(text, dimension)
    except ValueError as error:
        complaint = str(error)
    assert math.isfinite(value)
    assert EXAMPLES[dimension] in complaint or not complaint


@pytest.mark.parametrize("system", sorted(SHOWN_UNIT))
@pytest.mark.parametrize("dimension", sorted(UNITS))
def test_shown_quantities_can_be_read_again(dimension: str, system: str) -> None:
    for value in (0.0, 0.3, 1.0, 67.0 / 12.0, 40.0, -0.2):
        text = format_quantity(value, dimension, system)
        again = parse_quantity(text, dimension)
        # Four significant digits of what is shown, half of the last one either way.
        shown = in_unit(value, dimension, SHOWN_UNIT[system][dimension])
        size = UNITS[dimension][SHOWN_UNIT[system][dimension]]
        assert again == pytest.approx(value, abs=5e-4 * abs(shown) * size + 1e-15)
