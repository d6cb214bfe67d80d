"""The handout in a real browser: one page on paper, and readable on any screen."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pytest

from sim.scenario_files import load
from sim.wording import CAUTIONS
from tests.browser.conftest import BUNDLED, FOLDER, made
from tests.browser.watched import (
    DESK,
    PHONE,
    audited,
    opened,
    printed,
    sticking_out,
    without_spaces,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser


def test_nothing_is_asked_of_the_network_or_said(chromium: Browser, handout: Path) -> None:
    with opened(chromium, handout / "handout.html") as watched:
        assert watched.said == []
        assert watched.asked == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("landscape", [False, True])
def test_it_prints_on_one_page(
    chromium: Browser,
    handout: Path,
    odd_handout: Path,
    paper: Literal["A4", "Letter"],
    landscape: bool,
) -> None:
    for folder in (handout, odd_handout):
        with opened(chromium, folder / "handout.html") as watched:
            sheets = printed(watched.page, paper, landscape=landscape)
            assert len(sheets) == 1
            for line in watched.page.locator("h1, h2, p").all_inner_texts():
                assert without_spaces(line) in sheets[0]
            for sentence in CAUTIONS:
                assert without_spaces(sentence) in sheets[0]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", BUNDLED)
def test_every_bundled_scenario_prints_on_one_page(
    chromium: Browser, tmp_path: Path, name: str, units: str
) -> None:
    """With all its shots: how long the sentences are depends on what was found."""
    folder = made(tmp_path / "handout", "handout", name, "--units", units, few=False)
    with opened(chromium, folder / "handout.html") as watched:
        for paper, landscape in product(("A4", "Letter"), (False, True)):
            sheets = printed(watched.page, paper, landscape=landscape)
            assert len(sheets) == 1, (paper, landscape)


@pytest.mark.parametrize("size", [DESK, PHONE])
def test_audit(chromium: Browser, handout: Path, size: tuple[int, int]) -> None:
    with opened(chromium, handout / "handout.html", size) as watched:
        assert audited(watched.page) == []
        watched.page.emulate_media(color_scheme="dark")
        assert audited(watched.page, only="color-contrast") == []


def test_a_phone_does_not_scroll_sideways(
    chromium: Browser, handout: Path, odd_handout: Path
) -> None:
    for folder in (handout, odd_handout):
        with opened(chromium, folder / "handout.html", PHONE) as watched:
            assert sticking_out(watched.page) <= 0


def test_names_are_text(chromium: Browser, odd_handout: Path) -> None:
    with opened(chromium, odd_handout / "handout.html") as watched:
        page, name = watched.page, load(FOLDER / "names.toml").name
        assert page.evaluate("window.hacked") is None
        assert page.locator("h1").inner_text() == name
        assert name in page.title()
        assert page.locator("script, img").count() == 0
        assert watched.said == []
