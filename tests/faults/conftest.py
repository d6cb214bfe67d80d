"""What the tests of faults share."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

# These faults are made with forks, signals, limits and pipes in the place of files.
collect_ignore_glob = ["test_*", "children.py"] if sys.platform == "win32" else []


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to be in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path
