"""The report page as it is laid out: on paper, on a phone, and in grey."""

from __future__ import annotations

import io
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import pytest
from PIL import Image

from sim.run_in import PLAYERS
from sim.wording import CAUTIONS, LIMITS
from tests.browser.conftest import BUNDLED, made
from tests.browser.test_report_page import choose, number
from tests.browser.watched import (
    DESK,
    PHONE,
    opened,
    paper_of,
    printed,
    sticking_out,
    without_spaces,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# Of a telephone of today; `PHONE` is the narrowest.
_TODAYS_PHONE: Final = (390, 800)


@pytest.mark.parametrize("names", ["report", "odd_report"], ids=["short", "long"])
@pytest.mark.parametrize("javascript", [True, False])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_two_pages(
    chromium: Browser,
    request: pytest.FixtureRequest,
    names: str,
    paper: Literal["A4", "Letter"],
    javascript: bool,
) -> None:
    """The answer on the first, the cautions on the second, so that one sheet holds both."""
    page = request.getfixturevalue(names) / "report.html"
    with opened(chromium, page, javascript=javascript) as watched:
        answer = without_spaces(watched.page.locator("#answer").inner_text())
        sheets = printed(watched.page, paper)
        assert len(sheets) == 2
        assert answer in sheets[0]
        for sentence in (*LIMITS, *CAUTIONS):
            assert without_spaces(sentence) in sheets[1]
        # The first one is for hanging up, and goes without the second.
        for sentence in (LIMITS[0], *CAUTIONS):
            assert without_spaces(sentence) in sheets[0]
        # What is left out on paper is said there.
        assert without_spaces("Where balls get through is on the screen's page") in sheets[0]
        assert without_spaces("2 of 4 policies") in sheets[1]


@pytest.mark.slow
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", BUNDLED)
def test_every_bundled_scenario_prints_on_two_pages(
    chromium: Browser, tmp_path: Path, name: str, units: str
) -> None:
    """With all its shots: how long sentences and names are depends on what was found."""
    folder = made(tmp_path / "report", "report", name, "--units", units, few=False)
    for javascript in (True, False):
        with opened(chromium, folder / "report.html", javascript=javascript) as watched:
            for paper, landscape in product(("A4", "Letter"), (False, True)):
                sheets = printed(watched.page, paper, landscape=landscape)
                assert len(sheets) == 2, (paper, landscape, javascript)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_asks_for_upright_paper(
    chromium: Browser, report: Path, paper: Literal["A4", "Letter"]
) -> None:
    with opened(chromium, report / "report.html") as watched:
        for sheet in paper_of(watched.page, paper, landscape=True).pages:
            assert sheet.mediabox.width < sheet.mediabox.height


def test_dark_screens_print_on_white(chromium: Browser, report: Path) -> None:
    with opened(chromium, report / "report.html", dark=True) as watched:
        page = watched.page
        ground = "getComputedStyle(document.body).backgroundColor"
        assert page.evaluate(ground) != "rgb(255, 255, 255)"
        page.emulate_media(media="print", color_scheme="dark")
        assert page.evaluate(ground) == "rgb(255, 255, 255)"


@pytest.mark.parametrize("javascript", [True, False])
def test_a_phone_does_not_scroll_sideways(
    chromium: Browser, report: Path, odd_report: Path, javascript: bool
) -> None:
    for folder in (report, odd_report):
        page_file = folder / "report.html"
        with opened(chromium, page_file, PHONE, javascript=javascript) as watched:
            page = watched.page
            for each in page.locator("details > summary").all():
                each.click()
            assert sticking_out(page) <= 0


@pytest.mark.parametrize("size", [PHONE, _TODAYS_PHONE])
def test_on_a_phone_the_chosen_policy_is_seen_and_the_controls_are_small(
    chromium: Browser, report: Path, odd_report: Path, size: tuple[int, int]
) -> None:
    for folder in (report, odd_report):
        with opened(chromium, folder / "report.html", size, still=True) as watched:
            page = watched.page
            labels = page.locator("#policies label")
            for label in labels.all():
                label.locator("input").evaluate("each => each.click()")
                seen, bar = label.bounding_box(), page.locator("#policies").bounding_box()
                assert seen is not None
                assert bar is not None
                assert seen["x"] >= bar["x"] - 1.0
                assert seen["x"] + seen["width"] <= bar["x"] + bar["width"] + 1.0
    # Short names, nothing moved: at most this of a screen is taken from the courts.
    with opened(chromium, report / "report.html", size, still=True) as watched:
        choose(watched.page, "follow")
        assert watched.page.locator(".controls").evaluate("each => each.offsetHeight") <= 150


@pytest.mark.parametrize("size", [PHONE, _TODAYS_PHONE])
def test_scales_have_numbers_on_a_phone_and_on_a_desk(
    chromium: Browser, report: Path, size: tuple[int, int]
) -> None:
    """Every dot stands among numbers as its share does: under it, or where there is one head."""
    for window in (size, DESK):
        with opened(chromium, report / "report.html", window, still=True) as watched:
            for row in watched.page.locator(".compared tbody tr").all():
                places = row.evaluate(_PLACES_ON_SCALE)
                assert len(places["ticks"]) >= 2
                (x0, first), (x1, last) = places["ticks"][0], places["ticks"][-1]
                value = first + (last - first) * (places["dot"] - x0) / (x1 - x0)
                shown = number(row.locator("td").nth(1).inner_text())
                # Shares of so few shots are told in whole percent.
                assert value == pytest.approx(shown, abs=0.5 + 0.01 * (last - first))


# Numbers on the row's own scale, else those of the head, and the dot: middles in CSS pixels.
_PLACES_ON_SCALE: Final = """(row) => {
  const box = (each) => each.getBoundingClientRect();
  const middle = (each) => (box(each).left + box(each).right) / 2;
  const seen = (each) => box(each).height > 0;
  const own = [...row.querySelectorAll("text.narrow")].filter(seen);
  const ticks = own.length ? own : [...row.closest("table").querySelectorAll("thead text")];
  return {
    ticks: ticks.map((each) => [middle(each), Number(each.textContent)]),
    dot: middle(row.querySelector(".value")),
  };
}"""


def test_shades_are_told_apart_in_grey(chromium: Browser, report: Path) -> None:
    """As on grey paper: the lightest that is in control is darker than any full stretch."""
    with opened(chromium, report / "report.html") as watched:
        page = watched.page
        shades: dict[str, list[float]] = {"control": [], "stretch": []}
        key = page.locator("#court > .key")
        for words, kind in (("in control", "control"), ("at full stretch", "stretch")):
            swatch = key.locator("li", has_text=words).locator("svg")
            pixels = Image.open(io.BytesIO(swatch.screenshot())).convert("L")
            for part in (0.25, 0.75):
                spot = round(part * pixels.width), pixels.height // 2
                shades[kind].append(pixels.getpixel(spot))
        assert max(shades["control"]) <= min(shades["stretch"]) - 25
        assert abs(shades["control"][0] - shades["control"][1]) >= 15


def test_all_that_is_drawn_is_explained(chromium: Browser, report: Path) -> None:
    """Every kind of line, patch and mark on the courts stands in the key."""
    with opened(chromium, report / "report.html") as watched:
        key = watched.page.locator("#court > .key")
        for drawn in ("path.widest", "path.control", "path.stretch", "path.crosses"):
            assert watched.page.locator(f"svg.ground {drawn}").count()
            assert key.locator(drawn).count()
        for mark in ("found", "target"):
            assert key.locator(f"use[href^='#{mark}']").count() == len(PLAYERS)
        assert "their widest typical drives that land in" in key.inner_text()
