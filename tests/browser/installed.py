"""Which browser the tests of the pages use; ``python3 -m tests.browser.installed`` names it.

Nothing but the standard library: ``.ci/run`` asks before anything is installed.
"""

from __future__ import annotations

import os
import shutil
import sys
from typing import Final

# The browser to use, where it is not on the path or another one is meant.
CHOSEN: Final = "REACHSHARE_TEST_BROWSER"
# Set where the tests must not be skipped for want of a browser: in CI.
NEEDED: Final = "REACHSHARE_NEEDS_BROWSER"
NAMES: Final = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "microsoft-edge",
    "msedge",
)


def browser() -> str | None:
    """The browser's program: the one that was chosen, or the first that is on the path."""
    return os.environ.get(CHOSEN) or next(filter(None, map(shutil.which, NAMES)), None)


if __name__ == "__main__":
    found = browser()
    if found is None:
        sys.exit(f"no browser: none of {', '.join(NAMES)} is on the path, and {CHOSEN} names none")
    print(found)
