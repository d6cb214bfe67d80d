"""All properties once more, in many more corners, and others every time."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.properties.corners import VARIABLE


@pytest.mark.slow
@pytest.mark.skipif(VARIABLE in os.environ, reason="so many corners are being looked into already")
def test_properties_hold_in_many_corners() -> None:
    here = Path(__file__).parent
    command = [sys.executable, "-m", "pytest", "-m", "not slow", str(here)]
    environment = os.environ | {VARIABLE: "10"}
    done = subprocess.run(
        command, cwd=here.parents[1], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout[-6000:]
