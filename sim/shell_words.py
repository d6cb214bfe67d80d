"""Names of files and folders in commands that are printed to be copied."""

from __future__ import annotations

import os
import re
import shlex
from pathlib import PurePath

# What Windows' shells leave as it is; between double quotes everything that a name may hold is.
_BARE = re.compile(r"[\w./\\:@+-]+")


def to_copy(name: str | PurePath, windows: bool = os.name == "nt") -> str:
    """A file's or folder's name as a shell takes it for one word, and no option.

    >>> to_copy("my pair's.toml", windows=False), to_copy("my pair's.toml", windows=True)
    ('\\'my pair\\'"\\'"\\'s.toml\\'', '"my pair\\'s.toml"')
    >>> to_copy("-x.toml", windows=False)
    './-x.toml'
    """
    text = str(name)
    if text.startswith("-"):
        text = f"./{text}"
    if windows:
        return text if _BARE.fullmatch(text) else f'"{text}"'
    return shlex.quote(text)
