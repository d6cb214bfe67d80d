"""Pictures of the report pages in ``reports/``: ``python -m tests.browser.pictures`` takes them.

The top of each page as a browser shows it, 640 pixels wide, in few colours. Which page it was taken
of stands in the picture, so that a test can tell one that is out of date.
"""

from __future__ import annotations

import hashlib
import io
from pathlib import Path
from typing import Final

from sim.worked_reports import REPORTS
from tests.browser.installed import browser
from tests.browser.watched import launched, opened

PICTURE: Final = "page.png"
# Of the window in CSS pixels, and pixels of the picture for each.
_SIZE: Final = (1000, 1340)
_SCALE: Final = 0.64
_COLOURS: Final = 255
_TAKEN_OF: Final = "Source"


def digest(page: Path) -> str:
    """What tells a page from any other; line ends do not count."""
    return hashlib.sha256(page.read_text(encoding="utf-8").encode()).hexdigest()


def taken_of(picture: Path) -> str:
    """The digest of the page that a picture was taken of."""
    from PIL import Image

    with Image.open(picture) as image:
        return str(image.info.get(_TAKEN_OF, ""))


def take(folders: list[Path]) -> None:
    """Take a picture of the report page in each of the folders."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo
    from playwright.sync_api import sync_playwright

    program = browser()
    if program is None:
        raise SystemExit("no browser: see tests/browser/installed.py")
    with sync_playwright() as driver:
        chromium = launched(driver, program)
        for folder in folders:
            page = folder / "report.html"
            with opened(chromium, page, _SIZE, still=True, scale=_SCALE) as watched:
                seen = Image.open(io.BytesIO(watched.page.screenshot())).convert("RGB")
            words = PngInfo()
            words.add_text(_TAKEN_OF, digest(page))
            few = seen.quantize(_COLOURS, dither=Image.Dither.NONE)
            few.save(folder / PICTURE, optimize=True, pnginfo=words)
        chromium.close()


if __name__ == "__main__":
    take(sorted(REPORTS.glob("*-report")))
