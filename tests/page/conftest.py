"""A real browser for the page: Debian's Chromium, headless, with no way out to any network."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from page_tool import CHROMIUM, FLAGS


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests of a process."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


class Watched:
    """Pages whose every request, error and complaint is kept."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.contexts: list[BrowserContext] = []
        self.errors: list[str] = []
        self.asked: list[str] = []

    def open(self, **how: Any) -> Page:
        """A page in a browser profile of its own: another device."""
        context = self.browser.new_context(**{"viewport": {"width": 1280, "height": 800}, "color_scheme": "dark", **how})
        self.contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda e: self.errors.append(str(e)))
        page.on("request", lambda r: self.asked.append(r.url))
        return page


@pytest.fixture
def pages(browser: Browser) -> Iterator[Watched]:
    """Pages to open; in the end no script has failed and no request has left this machine."""
    watched = Watched(browser)
    yield watched
    for context in watched.contexts:
        context.close()
    assert watched.errors == []
    outside = [u for u in watched.asked if not u.startswith(("http://127.0.0.1:", "http://localhost:", "blob:", "data:"))]
    assert outside == []
