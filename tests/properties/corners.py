"""How many corners are looked into: a few in every run, many more where they are asked for.

``REACHSHARE_TEST_EXAMPLES=20`` draws twenty times as many, and other ones every time.
"""

from __future__ import annotations

import os
from typing import Final

from hypothesis import settings

VARIABLE: Final = "REACHSHARE_TEST_EXAMPLES"


def corners(few: int) -> settings:
    """Settings of a property that looks into so many corners in an ordinary run."""
    times = int(os.environ.get(VARIABLE, "1"))
    return settings(max_examples=few * times, derandomize=times == 1)
