"""A real browser against a running server.

    def test_...(live_server, page):            a phone, 390 x 844, script on, light
    def test_...(live_server, open_page):       open_page(width=1280, dark=True, script=False): as many as wanted
    def test_...(page, axe):                    axe(page) fails with what an accessibility checker finds

Addresses are relative: page.goto("/"). Each page fails its test on a script error, on a line of the console that names
the Content Security Policy and on an answer of 500 or above. `page.wait_for_function` needs eval, which our policy
forbids: use expect(locator) and page.evaluate.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any, Protocol

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Response, sync_playwright

PHONE_WIDTH = 600
FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


class OpenPage(Protocol):
    """Open a page of its own context, that is: signed in as nobody, with cookies of its own."""

    def __call__(
        self, *, width: int = 390, height: int = 844, dark: bool = False, script: bool = True, **options: Any
    ) -> Page: ...


def find_chromium() -> str | None:
    given = os.environ.get("SPANWELL_CHROMIUM")
    return given or next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Start this machine's Chromium, once; without one the journeys are skipped, under CI they fail."""
    path = find_chromium()
    if path is None:
        sentence = "no Chromium on this machine: install Debian's chromium, or name one in SPANWELL_CHROMIUM"
        pytest.fail(sentence) if os.environ.get("CI") else pytest.skip(sentence)
    # The driver keeps an event loop running in this thread; Django would take that for an asynchronous view.
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as driver:
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        sandbox = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        launched = driver.chromium.launch(executable_path=path, args=[*FLAGS, *sandbox])
        yield launched
        launched.close()


@pytest.fixture
def open_page(browser: Browser, live_server: Any) -> Iterator[OpenPage]:
    """Give a function that opens pages of any size and kind; see the head of this file."""
    faults: list[str] = []
    contexts: list[BrowserContext] = []

    def make(*, width: int = 390, height: int = 844, dark: bool = False, script: bool = True, **options: Any) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": height},
            has_touch=width < PHONE_WIDTH,
            is_mobile=width < PHONE_WIDTH,
            color_scheme="dark" if dark else "light",
            java_script_enabled=script,
            locale="en-GB",
            **options,
        )
        context.set_default_timeout(10_000)
        contexts.append(context)
        context.on("page", lambda page: watch(page, faults))
        return context.new_page()

    yield make
    for context in contexts:
        context.close()
    if faults:
        pytest.fail("The browser complained:\n" + "\n".join(faults), pytrace=False)


def watch(page: Page, faults: list[str]) -> None:
    """Collect what a visitor would only see in the console."""
    page.on("pageerror", lambda error: faults.append(f"{page.url}: script error: {error}"))

    def hear(line: ConsoleMessage) -> None:
        if "Content Security Policy" in line.text:
            faults.append(f"{page.url}: {line.text}")

    def see(answer: Response) -> None:
        if answer.status >= 500:
            faults.append(f"{answer.url}: answered {answer.status}")

    page.on("console", hear)
    page.on("response", see)


@pytest.fixture
def page(open_page: OpenPage) -> Page:
    """A phone: 390 x 844, script on, light."""
    return open_page()


def targets(fault: dict[str, Any]) -> str:
    return ", ".join(str(node["target"]) for node in fault["nodes"])


@pytest.fixture
def axe() -> Callable[[Page], None]:
    """Give a function that fails with every fault the axe checker finds on a page."""
    checker = Axe()

    def check(page: Page) -> None:
        found = checker.run(page).response["violations"]
        sentences = [f"{fault['id']} ({fault['impact']}): {fault['help']}: {targets(fault)}" for fault in found]
        assert not sentences, f"{page.url}\n" + "\n".join(sentences)

    return check
