"""The colours of everything people look at: figures, pages, handouts.

Told apart by lightness too, in grey print and by colour-blind readers, and words stand out from
their ground by 4.5 to 1 or more; tests compute both.
"""

from __future__ import annotations

from typing import Final

INK: Final = "#1b1f24"
QUIET: Final = "#5a6270"
FAINT: Final = "#c9ced6"
GROUND: Final = "#eef0f3"
PAPER: Final = "#ffffff"
# For words on shades: on middling ones INK does not stand out enough.
BLACK: Final = "#000000"
PLAYERS: Final = {"left": "#16528f", "right": "#e38a12"}
# Orange is too light for words on white.
PLAYER_WORDS: Final = {"left": "#16528f", "right": "#9a5700"}
THROUGH: Final = "#7a0c2e"
DIRECTIONS: Final = {"line": "#35186b", "middle": "#0b716b", "cross": "#c07a1a"}
DIRECTION_WORDS: Final = {"line": "#35186b", "middle": "#0b716b", "cross": "#9a5700"}

_LIGHT: Final = {
    "ink": INK,
    "quiet": QUIET,
    "faint": FAINT,
    "ground": GROUND,
    "paper": PAPER,
    "left": PLAYERS["left"],
    "right": PLAYERS["right"],
    "left-words": PLAYER_WORDS["left"],
    "right-words": PLAYER_WORDS["right"],
    "through": THROUGH,
}
_DARK: Final = {
    "ink": "#e9ebef",
    "quiet": "#a9b2bf",
    "faint": "#4a525d",
    "ground": "#232a32",
    "paper": "#14181d",
    "left": "#5b9fe0",
    "right": "#f5b553",
    "left-words": "#7db6ec",
    "right-words": "#f5b553",
    "through": "#ff9db0",
}


def custom_properties(*, dark: bool = False) -> str:
    """The colours as CSS declarations, for a light or a dark page.

    >>> custom_properties().split(";")[0]
    '--ink: #1b1f24'
    """
    colours = _DARK if dark else _LIGHT
    return "; ".join(f"--{name}: {colour}" for name, colour in colours.items())
