"""Text from outside, before it is shown: no letter of it may act on a terminal or a page."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final

# Control, format and private letters, halves of pairs, line and paragraph separators.
_UNFIT: Final = frozenset({"Cc", "Cf", "Cn", "Cs", "Co", "Zl", "Zp"})
NOT_PLAIN: Final = "must be one line of plain text, without control characters"
_LONGEST_SHOWN: Final = 80
_MOST_WORDS: Final = 20
# Of whole numbers: Python writes out no more than some 14,000.
_MOST_BITS: Final = 256


def is_plain(text: str) -> bool:
    """Whether a text is one line without control characters.

    >>> is_plain("Zoë's pair"), is_plain("two\\nlines"), is_plain("right to left \\u202e")
    (True, False, False)
    """
    return (text.isascii() and text.isprintable()) or not any(map(_is_unfit, text))


def spelt_out(text: str, kept: str = "") -> str:
    """A text with its control characters as escapes that can be read; those in ``kept`` stay.

    >>> spelt_out("\\x1b[2J one\\n", kept="\\n")
    '\\\\x1b[2J one\\n'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escape(c) if _is_unfit(c) and c not in kept else c for c in text)


def quoted(value: object) -> str:
    """A value as error messages show it: strings in quotes, control characters spelt out.

    >>> quoted("a\\u202eb"), quoted(True)
    ('"a\\\\u202eb"', 'true')
    """
    if isinstance(value, str):
        # More than is shown need not be looked at.
        letters = value[:_LONGEST_SHOWN]
        text = '"' + "".join(c if c.isprintable() else _escape(c) for c in letters) + '"'
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, int) and value.bit_length() > _MOST_BITS:
        text = f"a number of {value.bit_length()} bits"
    else:
        text = str(value)
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."


def shown_key(key: str) -> str:
    """A key as error messages show it: plain where it can be."""
    return key if key.isprintable() and len(key) <= _LONGEST_SHOWN else quoted(key)


def some_of(words: Iterable[str]) -> str:
    """Words in quotes, no more of them than anyone reads.

    >>> some_of(["a", "b"])
    '"a", "b"'
    """
    known = list(words)
    more = len(known) - _MOST_WORDS
    said = ", ".join(map(quoted, known[:_MOST_WORDS]))
    return f"{said} and {more:,} more" if more > 0 else said


def _is_unfit(letter: str) -> bool:
    return unicodedata.category(letter) in _UNFIT


def _escape(letter: str) -> str:
    code = ord(letter)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
