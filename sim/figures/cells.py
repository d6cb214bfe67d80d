"""Shades of cells on maps and in tables: the darker, the more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.colors import to_rgb

from sim.court import Array
from sim.figures import style

Colour = tuple[float, float, float]

# A single hue of falling lightness, for colour-blind readers and grey print. The lightest is told
# from white, which is for what stands out or is not known.
LIGHTEST: Final = "#dfe8f3"
DARKEST: Final = "#0e3a69"


@dataclass(frozen=True)
class Shades:
    """Shades from ``least`` to ``most``, in whatever unit the values have."""

    least: float
    most: float
    lightest: str = LIGHTEST
    darkest: str = DARKEST

    @classmethod
    def of(cls, values: Array, otherwise: tuple[float, float] = (0.0, 100.0)) -> Shades:
        """From the least to the most of the values that are known (not NaN), if any is."""
        known = values[~np.isnan(values)]
        return cls(float(known.min()), float(known.max())) if known.size else cls(*otherwise)

    def part(self, value: float) -> float:
        """How far a value is from the least, 0, to the most, 1."""
        part = (value - self.least) / (self.most - self.least) if self.most > self.least else 0.0
        return min(max(part, 0.0), 1.0)

    def fill(self, value: float) -> Colour:
        """The colour (red, green, blue from 0 to 1) of a cell with that value."""
        light, dark = np.array(to_rgb(self.lightest)), np.array(to_rgb(self.darkest))
        red, green, blue = light + self.part(value) * (dark - light)
        return float(red), float(green), float(blue)

    def words(self, value: float) -> str:
        """The colour of words on that cell: white or ours, whichever stands out more."""
        ground = luminance(self.fill(value))
        dark = luminance(to_rgb(style.INK))
        return "white" if 1.05 / (ground + 0.05) > (ground + 0.05) / (dark + 0.05) else style.INK


def luminance(colour: Colour) -> float:
    """Relative luminance of an sRGB colour, 0 for black and 1 for white.

    Source: Web Content Accessibility Guidelines 2.1 (W3C, 2018), definition of relative luminance
    and of contrast ratio (memory).

    >>> round(luminance((1.0, 1.0, 1.0)), 6), luminance((0.0, 0.0, 0.0))
    (1.0, 0.0)
    """
    plain = np.array(colour)
    linear = np.where(plain <= 0.04045, plain / 12.92, ((plain + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))
