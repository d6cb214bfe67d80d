"""A page opened from its file and watched, and what can be asked of any page."""

from __future__ import annotations

import io
import os
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Playwright, Route
    from pypdf import PdfReader

# Widths and heights of windows in CSS pixels: a desk, and the narrowest that pages are made for.
DESK: Final = (1280, 900)
PHONE: Final = (320, 640)
# What a printer leaves free where the page does not say: the browser's own 0.4 inch.
MARGIN: Final = "0.4in"
# Milliseconds after which something that does not appear is taken to be missing.
MOST_PATIENCE: Final = 10_000
_OWN: Final = ("file:", "data:", "about:")


@dataclass
class Watched:
    """An open page, what it has said on the console, and whom it has asked over the network.

    Every request that leaves the machine is refused.
    """

    page: Page
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def answer(self, route: Route) -> None:
        """Let a file through; write down and refuse what would go over the network."""
        if route.request.url.startswith(_OWN):
            route.continue_()
        else:
            self.asked.append(route.request.url)
            route.abort()


def launched(driver: Playwright, program: str) -> Browser:
    """A headless Chromium; without its sandbox only for root, for whom that does not work."""
    root = sys.platform == "linux" and os.geteuid() == 0
    arguments = ["--no-sandbox"] if root else []
    return driver.chromium.launch(executable_path=program, args=arguments)


@contextmanager
def opened(
    browser: Browser,
    path: Path,
    size: tuple[int, int] = DESK,
    *,
    javascript: bool = True,
    dark: bool = False,
    still: bool = False,
    scale: float = 1.0,
) -> Iterator[Watched]:
    """A page opened from its file in a window of its own.

    ``still`` is for reduced motion, ``scale`` gives the screen's pixels for each of the page.
    """
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        device_scale_factor=scale,
        java_script_enabled=javascript,
        color_scheme="dark" if dark else "light",
        reduced_motion="reduce" if still else "no-preference",
    )
    try:
        context.set_default_timeout(MOST_PATIENCE)
        watched = Watched(context.new_page())
        watched.page.on("console", lambda message: watched.said.append(message.text))
        watched.page.on("pageerror", lambda error: watched.said.append(str(error)))
        context.route("**/*", watched.answer)
        watched.page.goto(path.resolve().as_uri(), wait_until="load")
        yield watched
    finally:
        context.close()


def audited(page: Page, only: str | None = None) -> list[str]:
    """What axe-core finds serious or critical, a line for each rule broken; by all rules or one."""
    from axe_playwright_python.sync_playwright import Axe

    options = {"resultTypes": ["violations"], **({"runOnly": [only]} if only else {})}
    violations: list[dict[str, Any]] = Axe().run(page, options=options).response["violations"]
    return [
        f"{found['impact']}: {found['help']}: {[node['target'] for node in found['nodes']]}"
        for found in violations
        if found["impact"] in ("serious", "critical")
    ]


def sticking_out(page: Page) -> int:
    """CSS pixels by which the page is wider than its window."""
    return int(
        page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    )


def printed(page: Page, paper: Literal["A4", "Letter"], *, landscape: bool = False) -> list[str]:
    """The text of every printed page, without its spaces, which differ between PDF readers."""
    pages = paper_of(page, paper, landscape=landscape).pages
    return [without_spaces(printed_page.extract_text()) for printed_page in pages]


def paper_of(page: Page, paper: Literal["A4", "Letter"], *, landscape: bool = False) -> PdfReader:
    """What a printer gets; a page that asks for upright paper gets it, as from a browser's menu."""
    from pypdf import PdfReader

    margin = dict.fromkeys(("top", "bottom", "left", "right"), MARGIN)
    file = page.pdf(format=paper, landscape=landscape, margin=margin, prefer_css_page_size=True)
    return PdfReader(io.BytesIO(file))


def without_spaces(text: str) -> str:
    """The text without any white space, and with letters that print as one told apart."""
    return "".join(unicodedata.normalize("NFKC", text).split())


def stops(page: Page, most: int = 200) -> list[str]:
    """The elements that the Tab key reaches from the top of the page, in their order.

    Each as a selector, or its tag; ends where the focus leaves the page or comes round.
    """
    found: list[str] = []
    to_the_top(page)
    for _ in range(most):
        page.keyboard.press("Tab")
        at = page.evaluate(_WHERE)
        if at is None or at in found:
            break
        found.append(at)
    return found


def to_the_top(page: Page) -> None:
    """Put the focus where it is on a page just opened, so that Tab goes to the first control."""
    page.evaluate(
        "() => { const body = document.body; body.tabIndex = -1; body.focus();"
        " body.removeAttribute('tabindex'); }"
    )


# A radio group is one stop of the Tab key: named by its group, whichever is chosen.
_WHERE: Final = """() => {
  const at = document.activeElement;
  if (!at || at === document.body || at === document.documentElement) return null;
  if (at.type === "radio") return `radio ${at.name}`;
  if (at.id) return `#${at.id}`;
  return [...document.querySelectorAll(at.tagName)].indexOf(at) + " " + at.tagName.toLowerCase();
}"""
