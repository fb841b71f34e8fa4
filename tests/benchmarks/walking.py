"""How long a reading of the walk keeps a person's hands busy on a phone; nothing here is a test.

    .venv/bin/python tests/benchmarks/walking.py

A headless Chromium, 390 x 844, walks a round of twelve check points: ten with one reading, one with three numbers and a
look, one with a look. Touches, keys and scrolls are counted and hand time is estimated from them as in hands.py, with
the same operators. Walking, reading the gauge, mistakes, gloves and the answers of the site are not in it; the site's
own answers are timed apart.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import place
from tests.benchmarks.hands import DESK, HEIGHT, KEYBOARD, SWEEP, TOUCH, Counted
from tests.benchmarks.measuring import say, verdict

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

    from maintenance.models import Walk

AIM = 5.0
"""Seconds of a person's hands a reading may take."""
POINTS = 12


def main() -> None:
    """Walk once and say what it took."""
    folder = place.prepare(None)
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the browser's driver keeps an event loop in this thread
    from tests.benchmarks.wire import Server

    server = None
    try:
        walk, cookie = _begun(folder)
        server = Server(folder)
        counted, waited = _walked(walk, cookie, f"http://{server.host}:{server.port}")
    finally:
        if server is not None:
            server.stop()
        place.throw_away(folder)
    tell(counted, waited)


def _begun(folder: Path) -> tuple[Walk, str]:
    place.use(folder / "spanwell.sqlite3")
    from assets.models import Role
    from maintenance.actions.walks import begin_walk
    from tests.assets.signed_in import browser_of
    from tests.make import make_person, make_position, make_site
    from tests.make_walks import make_gauge, make_line, make_point, make_round, read_before

    site = make_site()
    ruth, ines = make_person(site=site, role=Role.SUPERVISOR), make_person(site=site)
    made = make_round(site=site, by=ruth)
    for number in range(1, POINTS + 1):
        gauge = make_gauge(site=site, by=ruth, tag=f"PI-{number}")
        point = make_point(made, by=ruth, position=gauge)
        if number != POINTS:
            make_line(point, by=ruth, kind="reading", what="Discharge pressure", unit="kPa")
            read_before(gauge, *(["690", "686", "688"] * 4), by=ines, what="Discharge pressure", unit="kPa")
        if number == POINTS - 1:
            pump = make_position(site=site, does="moves")
            for what, unit, values in (("Run hours", "h", ("78.4", "102.6")), ("Totalizer", "m³", ("9000", "9900"))):
                make_line(point, by=ruth, kind="counter", what=what, unit=unit, position=pump)
                read_before(pump, *values, by=ines, what=what, unit=unit)
        if number >= POINTS - 1:
            make_line(point, by=ruth)
    walk = begin_walk(round=made, by=ines)
    session = browser_of(ines).cookies["sessionid"]
    return walk, session.value


def _walked(walk: Walk, session: str, address: str) -> tuple[list[Counted], list[float]]:
    from playwright.sync_api import sync_playwright

    from tests.journeys.conftest import FLAGS, find_chromium

    path = find_chromium()
    if path is None:
        raise SystemExit("No Chromium on this machine; name one in SPANWELL_CHROMIUM.")
    sandbox = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=[*FLAGS, *sandbox])
        context = browser.new_context(
            base_url=address, viewport={"width": 390, "height": HEIGHT}, has_touch=True, is_mobile=True
        )
        context.set_default_timeout(20_000)
        context.add_cookies([{"name": "sessionid", "value": session, "url": address}])
        page = context.new_page()
        page.goto(f"/walk/{walk.number}/1/")
        found = [Hands(page).write(number) for number in range(1, POINTS + 1)]
        browser.close()
    return [counted for counted, _ in found], [seconds for _, seconds in found]


class Hands:
    """A person at one check point; every act is counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.counted = Counted()
        self.writing = False

    def write(self, number: int) -> tuple[Counted, float]:
        """Write every number and choose every look, save, and wait for the next check point."""
        boxes = self.page.locator("form.walk [data-line] > .write input")
        for n in range(boxes.count()):
            label = boxes.nth(n).evaluate("(box) => box.labels[0].textContent")
            text = next(value for name, value in NUMBERS.items() if name in label)
            self.counted.fields += 1
            self.counted.minds += 1
            if n == 0:
                self._tap(boxes.nth(n))
            else:
                self.counted.keys += 1  # the key that leads to the next box
                self.page.keyboard.press("Enter")
            self.writing = True
            self.counted.keys += len(text)
            self.page.keyboard.type(text)
            if boxes.nth(n).input_value() != text:
                boxes.nth(n).fill(text)  # a browser without a screen now and then drops the keys after a touch
        for n in range(self.page.locator("[data-look]").count()):
            self.counted.minds += 1
            self._tap(self.page.locator("[data-look]").nth(n).locator("label.choose").first)
        save = self.page.locator("form.walk button.do")
        self._tap(save)
        begun = time.perf_counter()
        self.page.wait_for_url(f"**/walk/*/{number + 1}/" if number < POINTS else "**/walk/1/")
        return self.counted, time.perf_counter() - begun

    def _tap(self, target: Locator) -> None:
        sight = HEIGHT - (KEYBOARD if self.writing else 0)
        box = target.bounding_box()
        if box is not None and not target.evaluate("(one) => one.closest('.stay') !== null"):
            past = max(box["y"] + box["height"] - sight, -box["y"], 0)
            self.counted.scrolls += -(-past // (SWEEP * sight)) > 0
        self.counted.taps += 1
        self.writing = False
        target.tap()


NUMBERS = {"Discharge pressure": "687", "Run hours": "126.1", "Totalizer": "10812"}


def tell(counted: list[Counted], waited: list[float]) -> None:
    """Print what each sort of check point took."""
    say(f"{'check point':<28}{'numbers':>8}{'taps':>6}{'keys':>6}{'scrolls':>8}{'desk s':>8}{'touch s':>8}")
    for name, one in (("one reading", counted[0]), ("three numbers and a look", counted[-2]), ("a look", counted[-1])):
        touch = f"{one.seconds(DESK):>8.1f}{one.seconds(TOUCH):>8.1f}"
        say(f"{name:<28}{one.fields:>8}{one.taps:>6}{one.keys:>6}{one.scrolls:>8}{touch}")
    readings = sum(one.fields for one in counted)
    hands = sum(one.seconds(TOUCH) for one in counted[:-1])
    say()
    each = hands / readings
    say(f"a reading, by touch: {each:.1f} s, n = {readings}; aim {AIM:.0f} s: {verdict(each, AIM)}")
    middle = sorted(waited)[len(waited) // 2]
    say(f"from Save to the next check point on this machine: {1000 * middle:.0f} ms, the middle of {len(waited)}")


if __name__ == "__main__":
    main()
