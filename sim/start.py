"""Where the command ``reachshare`` begins: being stopped while it loads ends it without a word."""

from __future__ import annotations

import sys

# What shells expect of a command that was stopped from the keyboard: 128 and the signal's number.
_STOPPED = 130


def start() -> None:
    """Load the command line and run it, which sees to being stopped itself."""
    try:
        from sim.cli import main
    except KeyboardInterrupt:
        sys.exit(_STOPPED)
    main()
