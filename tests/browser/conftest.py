"""One browser for the tests of this folder, or the reason why there is none."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, NoReturn

import pytest

from tests.browser.installed import CHOSEN, NAMES, NEEDED, browser

if TYPE_CHECKING:
    from playwright.sync_api import Browser


def without_browser(reason: str) -> NoReturn:
    """Skip, and say why; fail where a browser is needed."""
    if os.environ.get(NEEDED):
        pytest.fail(f"{reason} ({NEEDED} is set)", pytrace=False)
    pytest.skip(reason)


# Shared by the tests of this folder and gone after them: while the driver is up, the thread counts
# as inside an event loop, and tests elsewhere start event loops of their own.
@pytest.fixture(scope="package")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A headless Chromium that opens pages from their files."""
    program = browser()
    if program is None:
        without_browser(f"no browser: {', '.join(NAMES)} not on the path; {CHOSEN} may name one")
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError:
        without_browser("playwright is not installed: it comes with reachshare[test]")
    # Chromium's sandbox does not work for root, and the pages are our own.
    root = sys.platform == "linux" and os.geteuid() == 0
    empty = tmp_path_factory.mktemp("empty") / "empty.html"
    empty.write_text("<!DOCTYPE html><title>empty</title>", encoding="utf-8")
    with sync_playwright() as driver:
        try:
            started = driver.chromium.launch(
                executable_path=program, args=["--no-sandbox"] if root else []
            )
            # Some packages of Chromium start, but are not let at files outside of home.
            page = started.new_page()
            page.goto(empty.as_uri())
            page.close()
        except Error as error:
            without_browser(f"{program} does not open pages: {error.message.splitlines()[0]}")
        yield started
        started.close()
