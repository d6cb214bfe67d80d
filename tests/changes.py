"""The change log, read."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

CHANGES: Final = Path(__file__).parent.parent / "sim" / "docs" / "changes.md"
NOT_RELEASED: Final = "Not released"


def headings() -> list[str]:
    """What has a section of its own, newest first."""
    return re.findall(r"^## (.+)$", CHANGES.read_text(encoding="utf-8"), flags=re.MULTILINE)


def latest_version() -> str:
    """The newest version of which the change log tells what it holds."""
    return next(heading for heading in headings() if heading != NOT_RELEASED)
