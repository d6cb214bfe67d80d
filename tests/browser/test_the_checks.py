"""The checks of the pages can fail: each finds the fault it is there for."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.conftest import without_browser
from tests.browser.installed import CHOSEN, NEEDED, browser
from tests.browser.watched import PHONE, audited, opened, printed, sticking_out, stops

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SOUND = (
    '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Sound</title>'
    '<meta name="viewport" content="width=device-width"><link rel="icon" href="data:,"></head>'
    "<body><main><h1>Sound</h1>{}</main></body></html>"
)


def written(folder: Path, body: str) -> Path:
    path = folder / "page.html"
    path.write_text(SOUND.format(body), encoding="utf-8")
    return path


def test_a_sound_page_passes(chromium: Browser, tmp_path: Path) -> None:
    body = '<p>Text</p><button id="one">One</button> <a id="two" href="#one">Two</a>'
    with opened(chromium, written(tmp_path, body), PHONE) as watched:
        assert audited(watched.page) == []
        assert sticking_out(watched.page) == 0
        assert stops(watched.page) == ["#one", "#two"]
        assert printed(watched.page, "A4") == ["SoundTextOneTwo"]
        assert watched.said == []
        assert watched.asked == []


@pytest.mark.parametrize(
    "script", ["console.error('oh')", "console.log('oh')", "throw new Error('oh')", "no script"]
)
def test_errors_and_messages_are_seen(chromium: Browser, tmp_path: Path, script: str) -> None:
    with opened(chromium, written(tmp_path, f"<script>{script}</script>")) as watched:
        assert len(watched.said) == 1


@pytest.mark.parametrize(
    "asking",
    [
        '<img src="https://pictures.invalid/a.png" alt="">',
        '<script src="http://scripts.invalid/a.js"></script>',
        "<style>@import 'https://styles.invalid/a.css';</style>",
        "<script>fetch('https://numbers.invalid/a.json').catch(() => 0)</script>",
    ],
)
def test_requests_are_seen_and_refused(chromium: Browser, tmp_path: Path, asking: str) -> None:
    with opened(chromium, written(tmp_path, asking)) as watched:
        watched.page.wait_for_load_state("networkidle")
        assert len(watched.asked) == 1
        assert ".invalid/a." in watched.asked[0]


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        ('<p style="color: #aaa; background: #fff">Faint</p>', "contrast"),
        ('<input type="range">', "label"),
        ('<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">', "alternative text"),
        ("<button></button>", "discernible text"),
    ],
)
def test_the_audit_finds_faults(chromium: Browser, tmp_path: Path, body: str, rule: str) -> None:
    with opened(chromium, written(tmp_path, body)) as watched:
        found = audited(watched.page)
        assert len(found) == 1
        assert rule in found[0]


def test_faint_words_are_found_in_the_dark_only(chromium: Browser, tmp_path: Path) -> None:
    body = (
        "<style>@media (prefers-color-scheme: dark) { p { color: #333; background: #000 } }</style>"
        "<p>Faint in the dark</p>"
    )
    for dark, faults in ((False, 0), (True, 1)):
        with opened(chromium, written(tmp_path, body), dark=dark) as watched:
            assert len(audited(watched.page, only="color-contrast")) == faults


def test_what_sticks_out_is_measured(chromium: Browser, tmp_path: Path) -> None:
    path = written(tmp_path, '<div style="width: 400px">Wide</div>')
    with opened(chromium, path, PHONE) as watched:
        assert sticking_out(watched.page) > 80


def test_printed_pages_are_counted(chromium: Browser, tmp_path: Path) -> None:
    path = written(tmp_path, '<p>First</p><p style="break-before: page">Second</p>')
    with opened(chromium, path) as watched:
        assert printed(watched.page, "Letter") == ["SoundFirst", "Second"]


def test_without_a_browser_skipped_or_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(NEEDED, raising=False)
    with pytest.raises(pytest.skip.Exception, match="none here"):
        without_browser("none here")
    monkeypatch.setenv(NEEDED, "1")
    with pytest.raises(pytest.fail.Exception, match="none here"):
        without_browser("none here")


def test_where_there_is_no_browser(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(CHOSEN, raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert browser() is None
    command = [sys.executable, "-m", "tests.browser.installed"]
    root = Path(__file__).parents[2]
    asked = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert asked.returncode != 0
    assert "no browser" in asked.stderr
    monkeypatch.setenv(CHOSEN, "/some/browser")
    assert browser() == "/some/browser"
