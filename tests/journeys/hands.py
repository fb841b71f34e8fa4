"""What a person does at a page: reads, writes into boxes by their labels, presses what is written on a button."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal

from playwright.sync_api import Locator, Page, expect

from assets.models import Person
from tests.make import PASSWORD, PIN

Role = Literal["link", "button"]
MINUS = "-\N{MINUS SIGN}"


class Hands:
    """A person at a browser."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def sign_in(self, person: Person) -> None:
        """Come in by name and password, and see who is written on the cover."""
        self.page.goto("/sign-in/")
        self.write({"Your sign-in name": person.sign_in or "", "Your password": PASSWORD})
        self.press("Sign in")
        self.sees(person.name)

    def open(self, path: str) -> None:
        """Open an address, as a bookmark or a printed code does."""
        answer = self.page.goto(path)
        assert answer is not None
        assert answer.status == 200, f"{path} answered {answer.status}"

    def follow(self, words: str, *, within: Locator | None = None) -> None:
        """Follow a link by its words, and come to the end of the page behind it."""
        (within or self.page).get_by_role("link", name=words, exact=True).first.click()
        self.page.wait_for_load_state("domcontentloaded")

    def press(self, words: str, *, within: Locator | None = None) -> None:
        """Press a button by its words, and come to the end of the page that answers."""
        (within or self.page).get_by_role("button", name=words, exact=True).click()
        self.page.wait_for_load_state("domcontentloaded")

    def sees(self, *words: str) -> None:
        """The page shows all of this, to whoever looks at it: what is hidden or folded away does not count."""
        for text in words:
            expect(self.page.locator("body")).to_contain_text(text, use_inner_text=True)

    def group(self, legend: str) -> Locator:
        """A group of boxes under one heading."""
        return self.page.get_by_role("group", name=legend, exact=True)

    def unfold(self, words: str) -> None:
        """Open what is folded away."""
        self.page.locator("summary", has_text=words).click()

    def write(self, boxes: Mapping[str, str], *, within: Locator | None = None) -> None:
        """Write into boxes, each found by its label; a number with a sign by its two keys."""
        place = within or self.page
        for label, text in boxes.items():
            if text[:1] in MINUS and text:
                both = place.get_by_role("group", name=label)
                both.locator("label", has_text="minus").click()
                both.get_by_role("textbox").fill(text[1:])
            else:
                place.get_by_label(re.compile(rf"^{re.escape(label)}")).first.fill(text)

    def choose(self, label: str, option: str, *, within: Locator | None = None) -> None:
        """Choose from a list, or one of the answers to a question."""
        place = within or self.page
        boxes, a_list = place.get_by_role("group", name=label), place.get_by_label(label)
        boxes.or_(a_list).first.wait_for(state="attached")
        if boxes.count():
            boxes.first.locator("label", has_text=option).first.click()
        else:
            a_list.first.select_option(label=option)

    def sign(self, words: str) -> None:
        """Sign with the PIN and press."""
        self.write({"Your PIN or password": PIN})
        self.press(words)

    def sees_no(self, role: Role, words: str) -> None:
        """The page has no link or button of these words."""
        expect(self.page.get_by_role(role, name=words)).to_have_count(0)

    def value(self, label: str, *, within: Locator | None = None) -> str:
        """What stands in a box."""
        return (within or self.page).get_by_label(label).first.input_value()
