"""How the tests run: steady property tests, and slow ones only when asked for."""

from __future__ import annotations

import pytest
from hypothesis import settings

# The same examples in every run: a failure here is a failure everywhere. No deadline, because the
# machine may be busy and time is not what these tests are about.
settings.register_profile(
    "steady", deadline=None, derandomize=True, database=None, max_examples=40, print_blob=True
)
settings.load_profile("steady")


def pytest_configure(config: pytest.Config) -> None:
    """Leave tests marked slow out unless ``-m`` says which ones to take."""
    if not config.option.markexpr:
        config.option.markexpr = "not slow"
