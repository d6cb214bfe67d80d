"""What the tests of faults share."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture
def anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to be in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path
