"""One browser for the tests of this folder, or the reason why there is none."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

import pytest
from click.testing import CliRunner

from sim.cli import main
from tests.browser.installed import CHOSEN, NAMES, NEEDED, browser
from tests.browser.watched import launched

if TYPE_CHECKING:
    from playwright.sync_api import Browser

FOLDER: Final = Path(__file__).parent
BUNDLED: Final = sorted(path.stem for path in (FOLDER.parents[1] / "scenarios").glob("*.toml"))
# For each return direction: enough for balls to get through, few enough to be quick.
SHOTS: Final = 64


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
    empty = tmp_path_factory.mktemp("empty") / "empty.html"
    empty.write_text("<!DOCTYPE html><title>empty</title>", encoding="utf-8")
    with sync_playwright() as driver:
        try:
            started = launched(driver, program)
            # Some packages of Chromium start, but are not let at files outside of home.
            page = started.new_page()
            page.goto(empty.as_uri())
            page.close()
        except Error as error:
            without_browser(f"{program} does not open pages: {error.message.splitlines()[0]}")
        yield started
        started.close()


def made(folder: Path, *words: str, few: bool = True) -> Path:
    """The folder with what a command of ``reachshare`` wrote there, from few shots or its own."""
    shots = ["--shots", str(SHOTS)] if few else []
    rest = ["--no-figures", "--workers", "1", "--quiet", "--out", str(folder)]
    result = CliRunner().invoke(main, [*words, *shots, *rest])
    assert result.exit_code == 0, result.output
    return folder


@pytest.fixture(scope="package")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a report on `pair.toml`."""
    words = ["report", str(FOLDER / "pair.toml"), "--settings", "32"]
    return made(tmp_path_factory.mktemp("pages") / "report", *words)


@pytest.fixture(scope="package")
def odd_report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a report on `names.toml`, in metres."""
    words = ["report", str(FOLDER / "names.toml"), "--settings", "32", "--units", "metric"]
    return made(tmp_path_factory.mktemp("pages") / "report", *words)


@pytest.fixture(scope="package")
def handout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a handout on `pair.toml`."""
    return made(tmp_path_factory.mktemp("pages") / "handout", "handout", str(FOLDER / "pair.toml"))


@pytest.fixture(scope="package")
def odd_handout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a handout on `names.toml`, in metres."""
    words = ["handout", str(FOLDER / "names.toml"), "--units", "metric"]
    return made(tmp_path_factory.mktemp("pages") / "handout", *words)
