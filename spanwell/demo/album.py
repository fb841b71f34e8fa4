"""Five pages of the demo plant as people see them, each at the width of the device it is for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PHONE, DESK = (390, 844), (1120, 1180)

# What is read at the flocculator inlet this morning: two buffers at about 12 degC, the display a little high.
TYPED = {
    "process_shown": "6.52",
    "process_temperature": "9.4",
    "hold_on_at": "08:20",
    "point1_temperature": "12.4",
    "point1_shown": "4.07",
    "point1_seconds": "48",
    "point2_temperature": "12.6",
    "point2_shown": "7.11",
    "point2_seconds": "41",
}
CHOSEN = {"hold": "on", "point1_steady": "yes", "point2_steady": "yes"}
BUFFERS = {"point1_lot": "4.01", "point2_lot": "7.00"}
MILLIVOLTS = {"point1_mv": ("plus", "151.2"), "point2_mv": ("minus", "19.3")}


@dataclass(frozen=True, slots=True)
class Album:
    """Takes the pictures of one running demo into a folder."""

    browser: Browser
    address: str
    folder: Path

    def take(self, *, link: str, password: str) -> Iterator[Path]:
        """Take all five, one after the other; yields the path of each."""
        ines = self.signed_in("ines", password, PHONE)
        yield self.result(ines)
        yield self.check(ines)
        ruth = self.signed_in("ruth", password, DESK)
        ruth.goto("/upkeep/")
        yield self.shot(ruth, "due-list")
        yield self.tag(ruth)
        yield self.contractor(link)

    def page(self, size: tuple[int, int]) -> Page:
        """Open a page of its own context: signed in as nobody."""
        width, height = size
        phone = size == PHONE
        context = self.browser.new_context(
            base_url=self.address,
            viewport={"width": width, "height": height},
            device_scale_factor=2 if phone else 1,
            is_mobile=phone,
            has_touch=phone,
            locale="en-GB",
            color_scheme="light",
        )
        context.set_default_timeout(20_000)
        return context.new_page()

    def signed_in(self, who: str, password: str, size: tuple[int, int]) -> Page:
        """Sign in by the form."""
        page = self.page(size)
        page.goto("/sign-in/")
        page.fill("input[name=sign_in]", who)
        page.fill("input[name=password]", password)
        page.click("button[type=submit]")
        page.wait_for_url(f"{self.address}/")
        return page

    def shot(self, page: Page, name: str, *, top: str = "") -> Path:
        """Keep what the window shows, with the element `top` at its upper edge."""
        page.evaluate("document.fonts.ready")
        if top:
            page.locator(top).first.evaluate("element => element.scrollIntoView({block: 'start'})")
        place = self.folder / f"{name}.png"
        page.screenshot(path=place)
        return place

    def check(self, page: Page) -> Path:
        """A check under way: typed, worked out, not signed."""
        page.goto("/checks/")
        page.get_by_role("link", name="Begin a check at AIT-210").click()
        page.locator("main form button.do").first.click()
        for name, label in BUFFERS.items():
            bottle = page.locator(f"select[name={name}] option").filter(has_text=label).first
            page.select_option(f"select[name={name}]", bottle.get_attribute("value"))
        for name, text in TYPED.items():
            page.fill(f"input[name={name}]", text)
        for name, value in CHOSEN.items():
            page.check(f"input[name={name}][value={value}]", force=True)
        for name, (sign, text) in MILLIVOLTS.items():
            page.check(f"input[name={name}_sign][value={sign}]", force=True)
            page.fill(f"input[name={name}]", text)
        page.get_by_role("button", name="Work it out").first.click()
        return self.shot(page, "ph-check", top="fieldset.point >> nth=1")

    def result(self, page: Page) -> Path:
        """The check that failed this morning."""
        page.goto("/checks/")
        page.locator("a.go[href^='/checks/']").filter(has_not_text="Begin").first.click()
        return self.shot(page, "ph-result", top="ol.stages")

    def tag(self, page: Page) -> Path:
        """The page of the tag whose probe failed."""
        page.goto("/plant/")
        page.get_by_role("link", name="AIT-410").first.click()
        page.wait_for_url("**/tag/*/")
        return self.shot(page, "tag")

    def contractor(self, link: str) -> Path:
        """The contractor's job, by the link."""
        page = self.page(PHONE)
        page.goto(link)
        page.wait_for_url("**/job/")
        return self.shot(page, "contractor")
