"""Every page of the role table with something on it, in both themes: what a checker of accessibility finds, and sizes.

axe-core knows the rules of WCAG 2 that a program can judge. What presses is 48 px high, so that it is found with a
glove (the size of Android's own guideline); a link inside a sentence is as high as its line (WCAG 2.2, 2.5.8 lets it).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page

from tests.contract.roles_table import TABLE, Row
from tests.contract.roles_world import LINK, SIGNED_OUT, World, make_world
from tests.journeys.conftest import OpenPage, targets

CHECKER = Axe().axe_script
# How the names of addresses end that send a file.
FILES = ("-csv", "-xlsx", "-worker", ":export", ":file", ":file-shown")
LEADS_ON = {"do", "assets:label", "maintenance:job-enter"}
# Sent with nothing written into them: what a refusal puts on a page is looked at too.
REFUSED = (
    "assets:position-new",
    "assets:person-new",
    "maintenance:order-new",
    "maintenance:routine-new",
    "maintenance:lockout-on-box",
    "maintenance:job",
    "maintenance:override-new",
    "maintenance:hand-over",
    "calibration:lot-new",
    "calibration:draft",
)
# Only findings come back: what passed is a hundred times as much.
FINDINGS = "async (options) => (await axe.run(document, { resultTypes: ['violations'], ...options })).violations"
CONTRAST = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}  # the one rule that a theme can break

TOO_LOW = """() => {
  const found = [];
  for (const it of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
    const box = it.matches("[type=radio], [type=checkbox]") ? it.closest("label") ?? it : it;
    if (!box.checkVisibility({ visibilityProperty: true }) || it.closest(".skip, .unseen")) continue;
    const inText = getComputedStyle(box).display === "inline"
      && box.parentElement.textContent.trim().length > box.textContent.trim().length;
    const { height, width } = box.getBoundingClientRect();
    const words = (box.textContent || it.name).trim().slice(0, 40);
    if (!inText && width > 0 && height < 47.5) found.push(`${it.tagName} “${words}” is ${Math.round(height)} px high`);
  }
  return found;
}"""
TOO_WIDE = """() => {
  const wide = document.documentElement.scrollWidth;
  if (wide <= 320) return [];
  const edges = [...document.querySelectorAll("main *")].filter((it) => it.getBoundingClientRect().right > 321);
  const first = edges.filter((it) => !it.closest(".plain")).slice(0, 3);
  return [`${wide} px wide at 320: ` + first.map((it) => `${it.tagName}.${it.className}`).join(", ")];
}"""


@pytest.fixture
def world(transactional_db: None) -> World:
    """A site with one of everything."""
    return make_world()


def visitor_of(row: Row) -> str:
    """Who looks at a page: the supervisor, who sees most of it, or whose it is."""
    if row.job:
        return LINK
    return SIGNED_OUT if row.public else "supervisor"


def address(world: World, name: str) -> tuple[str, str]:
    """Who looks at a page, and its path."""
    row = TABLE[name]
    visitor = visitor_of(row)
    return visitor, reverse(name, kwargs=row.names(world, visitor) if row.names else None)


def addresses(world: World) -> Iterator[tuple[str, str]]:
    """Each page once, with who looks at it."""
    pages = (name for name, row in TABLE.items() if row.gets is not None and name not in LEADS_ON)
    yield from (address(world, name) for name in pages if not name.endswith(FILES))
    yield "administrator", reverse("assets:people")
    yield "viewer", reverse("maintenance:lockout", args=[world.pump.lockout.number])
    yield "viewer", reverse("assets:person-new")  # forbidden
    yield "supervisor", "/nowhere/"


def with_checker(open_page: OpenPage) -> Page:
    """A page whose every document finds the checker there: half a megabyte, sent once and not with each address."""
    page = open_page()
    page.add_init_script(CHECKER)
    return page


def come_in(page: Page, world: World, visitor: str, path: str) -> None:
    """Open a page on a phone, by day, as somebody."""
    page.context.clear_cookies()
    cookies = world.cookies[visitor].items()
    page.set_viewport_size({"width": 390, "height": 844})
    page.emulate_media(color_scheme="light")
    page.context.add_cookies([{"name": n, "value": v, "domain": "localhost", "path": "/"} for n, v in cookies])
    page.goto(path)


def findings(page: Page) -> list[str]:
    """What is wrong with the page that is open: light, then dark, then at 320 px."""
    found = [("", fault) for fault in page.evaluate(FINDINGS, {})]
    sizes = page.evaluate(TOO_LOW)
    page.emulate_media(color_scheme="dark")
    found += [("dark, ", fault) for fault in page.evaluate(FINDINGS, CONTRAST)]
    page.set_viewport_size({"width": 320, "height": 800})
    sizes += page.evaluate(TOO_WIDE)
    return [f"{theme}{fault['id']}: {fault['help']}: {targets(fault)}" for theme, fault in found] + sizes


@pytest.mark.once
def test_no_page_has_a_finding(world: World, open_page: OpenPage) -> None:
    page, wrong = with_checker(open_page), []
    for visitor, path in addresses(world):
        come_in(page, world, visitor, path)
        wrong += [f"{path}: {finding}" for finding in findings(page)]
    for visitor, path in (address(world, name) for name in REFUSED):
        come_in(page, world, visitor, path)
        with page.expect_navigation() as sent:
            page.locator("main button.do").click()
        assert sent.value.status == 422, path
        wrong += [f"{path}, refused: {finding}" for finding in findings(page)]
    assert not wrong, "\n".join(wrong)


def test_what_is_wrong_with_a_page_is_found(open_page: OpenPage) -> None:
    """The checks themselves: a page with one fault of each kind put into it."""
    page = with_checker(open_page)
    page.goto("/words/")
    page.evaluate("""() => {
      const put = (tag, css, words) => {
        const it = Object.assign(document.createElement(tag), { textContent: words });
        Object.assign(it.style, css);
        document.querySelector("main").append(it);
      };
      put("p", { color: "#ddd", background: "#fff" }, "Pale in both themes");
      put("button", { height: "20px", minHeight: "0" }, "Low");
      put("p", { width: "500px" }, "Wide");
    }""")
    found = "\n".join(findings(page))
    assert all(words in found for words in ("color-contrast", "dark, color-contrast", "“Low” is 20 px", "wide at 320"))
