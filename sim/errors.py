"""The base of all errors that are told to the user in plain words instead of with a traceback."""

from __future__ import annotations

from typing import ClassVar


class Refused(Exception):
    """What is wrong, what is allowed and how to mend it; nothing was written."""

    exit_code: ClassVar[int] = 2
