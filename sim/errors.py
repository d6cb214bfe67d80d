"""The base of all errors that are told to the user in plain words instead of with a traceback."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import ClassVar

from sim.plain_text import quoted, some_of

# What to do where no third shot stays in play.
GET_BALLS_IN_PLAY = (
    "give the opponents smaller errors, other shots or other aims (opponents.errors, .shots, "
    ".drive, .drop, .lob); more --shots help only where some would stay in play"
)


class Refused(Exception):
    """What is wrong, what is allowed and how to mend it; nothing was written."""

    exit_code: ClassVar[int] = 2


def near_miss(word: str, known: Iterable[str]) -> str:
    """The nearest of the known words as a question, or nothing.

    >>> near_miss("folow", ["halves", "follow"])
    ' (did you mean "follow"?)'
    """
    close = difflib.get_close_matches(word, list(known), n=1)
    return f' (did you mean "{close[0]}"?)' if close else ""


def refuse_unknown(option: str, kind: str, names: Iterable[str], known: Iterable[str]) -> None:
    """Raise `Refused` for the first of an option's names that is not known.

    >>> refuse_unknown("--policy", "a policy", ["nobody"], ["halves"])
    Traceback (most recent call last):
    sim.errors.Refused: --policy: "nobody" is not a policy of the scenario; it has "halves"
    """
    known = list(known)
    for name in names:
        if name not in known:
            raise Refused(
                f"{option}: {quoted(name)} is not {kind} of the scenario{near_miss(name, known)}; "
                f"it has {some_of(known)}"
            )
