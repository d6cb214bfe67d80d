"""The report page in a real browser: what it shows is what the run counted."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import pytest

from sim.answers import answer_all
from sim.rallies import play
from sim.run_in import PLAYERS
from sim.scenario import Policy
from sim.scenario_files import load
from tests.browser.conftest import FOLDER, SHOTS
from tests.browser.watched import (
    DESK,
    PHONE,
    audited,
    opened,
    printed,
    stops,
    to_the_top,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

DIRECTIONS: Final = ("line", "middle", "cross")
MEASURES: Final = ("in_control", "reached")
# A page for a phone beside the court, by whatever connection there is.
MOST_BYTES: Final = 3_000_000
PARTS: Final = ("answer", "sure", "middle", "change", "assumptions", "cautions")
# Rows of a table by return direction.
Rows = dict[str, dict[str, str]]
# The table holds shares to six decimals, half a unit of the last: in percent.
ROUNDED: Final = 0.5e-4
WITH_SHIFT: Final = ("follow", "follow wide")
WITHOUT_SPACING: Final = "own places"


class Settings:
    """The report's tables, looked up by what is chosen on the page."""

    def __init__(self, rows: list[dict[str, str]], changes: list[dict[str, str]]) -> None:
        """Policies that differ only in what can be set share rows; changes has each one's own."""
        by_variant: dict[str, Rows] = {}
        self._own: dict[str, Rows] = {}
        for row in rows:
            by_variant.setdefault(row["variant"], {})[row["return_direction"]] = row
            for policy in row["as_it_stands"].split("; "):
                self._own[policy] = by_variant[row["variant"]]
        self._settings = {
            (row["policy"], number(row["spacing_ft"]), number(row["shift"])): by_variant[
                row["variant"]
            ]
            for row in changes
        }

    def at(self, policy: str, spacing: str, shift: str) -> Rows:
        """The rows of a setting, by return direction."""
        return self._settings[policy, number(spacing), number(shift)]

    def own(self, policy: str) -> Rows:
        """The rows of a policy as it stands in the scenario, by return direction."""
        return self._own[policy]


@pytest.fixture(scope="module")
def settings(report: Path) -> Settings:
    return Settings(*(_rows(report / name) for name in ("settings.csv", "changes.csv")))


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def number(text: str) -> float | None:
    """The first number of a text, if there is one."""
    found = re.search(r"−?\d+(?:\.\d+)?", text)
    return float(found[0].replace("−", "-")) if found else None


def choose(page: Page, policy: str) -> None:
    page.get_by_role("radio", name=policy, exact=True).check()


@dataclass(frozen=True)
class Shown:
    """What the page shows: settings beside the sliders, and what stands under the courts."""

    spacing: str
    shift: str
    texts: dict[tuple[str, str], str]


def shown(page: Page) -> Shown:
    """All that changes with the controls; ``texts`` by measure and return direction."""
    spacing, shift, texts = page.evaluate(_SHOWN)
    return Shown(spacing, shift, {(measure, way): text for measure, way, text in texts})


# In one go: hundreds of settings are looked at.
_SHOWN: Final = """() => [
  document.querySelector("output[for=spacing]").innerText,
  document.querySelector("output[for=shift]").innerText,
  [...document.querySelectorAll("[data-shown]")].map(
    ({dataset, innerText}) => [dataset.shown, dataset.direction, innerText]),
]"""


def hold(texts: dict[tuple[str, str], str], rows: Rows) -> None:
    """Every share and both its ends, as shown, are those of the table to the decimals shown."""
    assert rows.keys() == {*DIRECTIONS, "all"}
    for measure, direction in product(MEASURES, rows):
        text, row = texts[measure, direction], rows[direction]
        values = re.findall(r"\d+(?:\.\d+)?", text)
        assert len(values) == 3, text
        for value, end in zip(values, ("share", "low", "high"), strict=True):
            decimals = len(value.partition(".")[2])
            exact = 100.0 * float(row[f"{measure}_{end}"])
            assert abs(float(value) - exact) <= 0.5 * 10.0**-decimals + ROUNDED, (text, row)


@pytest.mark.parametrize("javascript", [True, False])
def test_nothing_is_asked_of_the_network_or_said(
    chromium: Browser, report: Path, javascript: bool
) -> None:
    with opened(chromium, report / "report.html", javascript=javascript) as watched:
        if javascript:
            for policy in ("halves", *WITH_SHIFT, WITHOUT_SPACING):
                choose(watched.page, policy)
        assert watched.said == []
        assert watched.asked == []


def test_every_policy_shows_what_was_counted(
    chromium: Browser, report: Path, settings: Settings
) -> None:
    with opened(chromium, report / "report.html") as watched:
        page = watched.page
        names = page.locator("#policies label").all_inner_texts()
        assert names == ["halves", *WITH_SHIFT, WITHOUT_SPACING]
        for name in (*names, names[0]):
            choose(page, name)
            hold(shown(page).texts, settings.own(name))


def test_at_first_the_policy_with_most_in_control(
    chromium: Browser, report: Path, settings: Settings
) -> None:
    with opened(chromium, report / "report.html") as watched:
        page = watched.page
        first = page.locator("#policies label:has(:checked)").inner_text()
        names = page.locator("#policies label").all_inner_texts()
        hits = {name: int(settings.own(name)["all"]["in_control"]) for name in names}
        assert hits[first] == max(hits.values())
        assert first in page.locator("#answer").inner_text()
        hold(shown(page).texts, settings.own(first))


@pytest.mark.parametrize("policy", ["halves", "follow"])
def test_every_setting_shows_what_was_counted(
    chromium: Browser, report: Path, settings: Settings, policy: str
) -> None:
    """By keyboard over every position of both sliders."""
    with opened(chromium, report / "report.html", still=True) as watched:
        page = watched.page
        choose(page, policy)
        seen = set()
        for _ in walked(page, "spacing"):
            for _ in walked(page, "shift"):
                now = shown(page)
                seen.add((now.spacing, now.shift))
                hold(now.texts, settings.at(policy, now.spacing, now.shift))
        spacings, shifts = ({each[k] for each in seen} for k in (0, 1))
        assert len(spacings) >= 8
        assert len(shifts) >= 8 if policy in WITH_SHIFT else len(shifts) == 1
        assert len(seen) == len(spacings) * len(shifts)


def walked(page: Page, control: str) -> Iterator[None]:
    """Stand at every position of a slider in turn, by its keys; once where it is disabled."""
    slider = page.locator(f"#{control}")
    if slider.is_disabled():
        yield
        return
    slider.press("Home")
    for place in range(int(slider.get_attribute("max") or 0) + 1):
        if place:
            slider.press("ArrowRight")
        assert slider.input_value() == str(place)
        yield


def test_sliders_by_mouse_and_back_again(
    chromium: Browser, report: Path, settings: Settings
) -> None:
    with opened(chromium, report / "report.html") as watched:
        page = watched.page
        choose(page, "follow")
        own = shown(page)
        ends = []
        for part in (0.02, 0.98):
            slider = page.locator("#spacing")
            slider.scroll_into_view_if_needed()
            box = slider.bounding_box()
            assert box is not None
            page.mouse.click(box["x"] + part * box["width"], box["y"] + box["height"] / 2)
            now = shown(page)
            ends.append(now.spacing)
            hold(now.texts, settings.at("follow", now.spacing, now.shift))
        assert [number(end) for end in ends] == [4.0, 12.0]
        page.get_by_role("button").click()
        assert shown(page) == own


def test_what_has_changed_is_told_once_something_has(chromium: Browser, report: Path) -> None:
    """Four times "as it stands" is no news, and was printed as such."""
    with opened(chromium, report / "report.html", still=True) as watched:
        page = watched.page
        told = page.locator("[data-shown=change]")
        labels = page.get_by_text("against how it stands", exact=False)
        assert told.count() == len(DIRECTIONS) + 1
        for policy in ("follow", "halves"):
            choose(page, policy)
            assert not any(each.is_visible() for each in (*told.all(), *labels.all()))
            page.locator("#spacing").press("End")
            assert all(each.is_visible() and each.inner_text() for each in told.all())
            page.get_by_role("button").click()
        assert not any(each.is_visible() for each in (*told.all(), *labels.all()))
        assert not any("againsthowitstands" in sheet for sheet in printed(page, "A4"))


def test_what_a_policy_has_not_cannot_be_set(chromium: Browser, report: Path) -> None:
    with opened(chromium, report / "report.html") as watched:
        page = watched.page
        for policy in ("halves", *WITH_SHIFT, WITHOUT_SPACING):
            choose(page, policy)
            assert page.locator("#spacing").is_disabled() == (policy == WITHOUT_SPACING)
            assert page.locator("#shift").is_disabled() == (policy not in WITH_SHIFT)


@pytest.mark.parametrize(
    ("policy", "presses"),
    [
        ("follow", ("End", "Home")),
        ("follow", ("Home", "End")),
        ("halves", ("End", "")),
        ("own places", ("", "")),
    ],
)
def test_players_stand_where_the_shots_find_them(
    chromium: Browser, report: Path, policy: str, presses: tuple[str, str]
) -> None:
    """The marks against mean places from the engine, both in feet from the middle of the net."""
    with opened(chromium, report / "report.html", still=True) as watched:
        page = watched.page
        choose(page, policy)
        for control, key in zip(("spacing", "shift"), presses, strict=True):
            if key:
                page.locator(f"#{control}").press(key)
        now = shown(page)
        expected = places(policy, number(now.spacing), number(now.shift))
        marks = page.evaluate(_MARKS)
        for direction, player in product(DIRECTIONS, PLAYERS):
            # A tenth of a foot is as fine as the page draws.
            assert marks[direction][player] == pytest.approx(
                expected[direction][player], abs=0.06
            ), (direction, player)


def places(
    policy: str, spacing: float | None, shift: float | None
) -> dict[str, dict[str, tuple[float, float]]]:
    """Where the third shots find each player on average (ft), by return direction."""
    scenario = load(FOLDER / "pair.toml", {"run": {"shots": SHOTS}})
    own = next(each for each in scenario.policies if each.name == policy)
    changes = {"spacing": spacing, "shift": shift}
    changed = own.model_copy(update={k: v for k, v in changes.items() if v is not None})
    found = {}
    for direction in DIRECTIONS:
        (answer,) = answer_all(
            scenario, play(scenario, direction, 0, SHOTS), [Policy.model_validate(changed)]
        )
        found[direction] = {
            name: (float(np.mean(place.x)), float(np.mean(place.y)))
            for name, place in answer.places.items()
        }
    return found


# The non-volley zone, 20 ft wide and 7 ft on either side of the net, gives the scale.
_MARKS: Final = """() => {
  const middle = (box) => [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
  const found = {};
  for (const court of document.querySelectorAll("svg[data-court]")) {
    const zone = court.querySelector("use[href='#zone']").getBoundingClientRect();
    const [x, y] = middle(zone);
    found[court.dataset.court] = {};
    for (const mark of court.querySelectorAll("[data-player]")) {
      const at = middle(mark.getBoundingClientRect());
      found[court.dataset.court][mark.dataset.player] =
        [(at[0] - x) * 20 / zone.width, (y - at[1]) * 14 / zone.height];
    }
  }
  return found;
}"""


def test_without_scripts_every_policy_is_there(
    chromium: Browser, report: Path, settings: Settings
) -> None:
    with opened(chromium, report / "report.html", javascript=False) as watched:
        page = watched.page
        panels = page.locator("section.policy")
        assert panels.count() == 4
        for panel, name in zip(panels.all(), ("halves", *WITH_SHIFT, WITHOUT_SPACING), strict=True):
            assert panel.is_visible()
            assert name in panel.locator("h3").first.inner_text()
            for heading, row in settings.own(name).items():
                for measure in MEASURES:
                    exact = 100.0 * float(row[f"{measure}_share"])
                    texts = panel.locator("dd").all_inner_texts()
                    assert any(_is_shown(exact, text) for text in texts), (name, heading, measure)
            assert panel.locator("svg").count() == len(DIRECTIONS)
        for control in page.locator("input, button, output").all():
            assert not control.is_visible()
        for part in PARTS:
            assert page.locator(f"#{part}").is_visible()


def _is_shown(exact: float, text: str) -> bool:
    """Whether a text begins with a number, to the decimals it shows."""
    value = re.match(r"\d+(?:\.(\d+))?", text)
    if value is None:
        return False
    return abs(float(value[0]) - exact) <= 0.5 * 10.0 ** -len(value[1] or "") + ROUNDED


@pytest.mark.parametrize("size", [DESK, PHONE])
def test_audit(chromium: Browser, report: Path, size: tuple[int, int]) -> None:
    """axe-core finds nothing serious, with all that opens open; contrast on a dark page too."""
    with opened(chromium, report / "report.html", size) as watched:
        page = watched.page
        page.evaluate("for (const each of document.querySelectorAll('details')) each.open = true")
        assert audited(page) == []
        page.emulate_media(color_scheme="dark")
        assert audited(page, only="color-contrast") == []


def test_audit_without_scripts(chromium: Browser, report: Path, tmp_path: Path) -> None:
    """axe-core is a script itself, so that the page's own are taken out instead."""
    text = (report / "report.html").read_text(encoding="utf-8")
    bare = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
    assert "<script" not in bare
    (tmp_path / "report.html").write_text(bare, encoding="utf-8")
    with opened(chromium, tmp_path / "report.html") as watched:
        assert watched.page.locator("section.policy").first.is_visible()
        assert audited(watched.page) == []


def test_all_controls_by_keyboard_and_seen(chromium: Browser, report: Path) -> None:
    """Tab reaches every control in the order of the page, and shows where it is."""
    with opened(chromium, report / "report.html", still=True) as watched:
        page = watched.page
        choose(page, "follow")
        page.locator("#spacing").press("ArrowRight")
        order = stops(page)
        assert order[:4] == ["radio policy", "#spacing", "#shift", "#reset"]
        assert len(order) == 4 + page.locator("details").count()
        to_the_top(page)
        for _ in order:
            page.keyboard.press("Tab")
            assert _focus_is_seen(page)
        page.locator("#policies :checked").press("ArrowDown")
        assert page.locator("#policies label:has(:checked)").inner_text() == "follow wide"


def _focus_is_seen(page: Page) -> bool:
    """Whether the element in focus, with some ground around it, looks other than without focus."""
    clip = page.evaluate(
        "() => { const at = document.activeElement; at.scrollIntoView({block: 'center'});"
        " const box = at.getBoundingClientRect(); return {x: Math.max(box.x - 8, 0),"
        " y: box.y - 8, width: box.width + 16, height: box.height + 16}; }"
    )
    focused = page.screenshot(clip=clip)
    page.evaluate("window.was = document.activeElement; window.was.blur()")
    blurred = page.screenshot(clip=clip)
    page.evaluate("window.was.focus({focusVisible: true})")
    return focused != blurred


@pytest.mark.parametrize("still", [False, True])
def test_marks_move_unless_less_motion_is_wished(
    chromium: Browser, report: Path, still: bool
) -> None:
    with opened(chromium, report / "report.html", still=still) as watched:
        page = watched.page
        choose(page, "halves")
        page.evaluate("Promise.all(document.getAnimations().map((each) => each.finished))")
        moving = page.evaluate(
            "() => { document.querySelector('#policies input[value=follow]').click();"
            " return document.getAnimations().length; }"
        )
        assert (moving == 0) == still


@pytest.mark.parametrize("javascript", [True, False])
def test_names_are_text(chromium: Browser, odd_report: Path, javascript: bool) -> None:
    with opened(chromium, odd_report / "report.html", javascript=javascript) as watched:
        page = watched.page
        scenario = load(FOLDER / "names.toml")
        names = [policy.name for policy in scenario.policies]
        shown_names = page.locator("#policies label").all_text_contents()
        assert [text.strip() for text in shown_names] == names
        if javascript:
            for name in names:
                choose(page, name)
                assert name in page.locator("main").inner_text()
        assert page.evaluate("window.hacked") is None
        assert page.title() == scenario.name
        assert page.locator("h1").inner_text() == scenario.name
        assert scenario.question in page.locator("main").inner_text()
        assert page.locator("img").count() == 0
        assert watched.said == []


def test_units_are_those_asked_for(chromium: Browser, odd_report: Path) -> None:
    with opened(chromium, odd_report / "report.html") as watched:
        page = watched.page
        assert re.fullmatch(r"\d\.\d+ m", shown(page).spacing)
        assert not re.search(r"\d ft\b", page.locator("main").inner_text())


def test_it_is_small(report: Path, odd_report: Path) -> None:
    for folder in (report, odd_report):
        assert (folder / "report.html").stat().st_size < MOST_BYTES
