"""How long a routine check keeps a person's hands busy on a phone, method by method; nothing here is a test.

    .venv/bin/python tests/benchmarks/hands.py                        every method, two or three minutes
    .venv/bin/python tests/benchmarks/hands.py --only ph --only feed-pump --steps

A headless Chromium, 390 x 844, writes and signs one good set of each method, from the page that begins it to the signed
record, with what is folded away left folded. Touches, keys and scrolls are counted, and hand time is estimated from
them by the keystroke-level model. Waiting for a probe to settle, walking, reading the instrument, mistakes, gloves and
the answers of the site are not in it; so the seconds compare forms, they do not promise a time.

Operators, desk: Card, Moran and Newell, The keystroke-level model, Communications of the ACM 23 (1980), and The
Psychology of Human-Computer Interaction (1983), as reprinted in course notes; measured at desks with keyboard and
mouse. Operators, touch: see TOUCH.
"""

from __future__ import annotations

import argparse
import math
import os
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import place
from tests.benchmarks.measuring import say, verdict
from tests.benchmarks.routine import Task, tasks

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

HEIGHT, KEYBOARD = 844, 300
"""Pixels of the screen, and of it under the phone's keyboard while a box is written in (from memory)."""
SWEEP = 0.7
"""Part of what is in sight that one flick moves; own judgement."""
ANSWERED = re.compile(r"/checks/\d+/$|/sign/$")
BUDGETS = {"ph": 120.0, "feed-pump": 60.0}
"""Seconds of a person's hands that the page of a method may take at most: own aims. The others have none yet."""


@dataclass(frozen=True)
class Operators:
    """Seconds of one act each. `press` is all of a touch or a click, with the way to it; `home` between two devices."""

    mental: float
    key: float
    press: float
    home: float
    flick: float


DESK = Operators(mental=1.35, key=0.28, press=1.10 + 0.20, home=0.40, flick=1.10)
"""M 1.35; K 0.28, average non-secretary typist; P 1.10 and 0.20 for the button; H 0.40. A scroll is taken as a P."""
TOUCH = Operators(mental=1.35, key=0.33, press=0.57, home=0.0, flick=0.9)
"""M as at a desk. Touch 0.567 s, index finger on a tablet, and sliding slower than 0.84 s: Applied Ergonomics 2016,
doi 10.1016/j.apergo.2016.06.004, abstract. Key: 36 words a minute on phones, Palin and others 2019, from memory."""


@dataclass
class Counted:
    """What hands did."""

    fields: int = 0
    minds: int = 0
    taps: int = 0
    keys: int = 0
    scrolls: int = 0
    homes: int = 0
    steps: list[str] = field(default_factory=list)
    empty: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def seconds(self, by: Operators) -> float:
        """The estimate."""
        acts = self.minds * by.mental + self.taps * by.press + self.keys * by.key
        return acts + self.scrolls * by.flick + self.homes * by.home


def main() -> None:
    """Make every check that was asked for and say what it took."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", action="append", help="the code of a method; may be given more than once")
    parser.add_argument("--steps", action="store_true", help="say every act too")
    parser.add_argument("--folder", help="where to make the folder that is thrown away")
    asked = parser.parse_args()
    folder = place.prepare(asked.folder)
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the browser's driver keeps an event loop in this thread
    from tests.benchmarks.wire import Server

    server = None
    try:
        wanted = [one for one in tasks_of(folder / "spanwell.sqlite3") if not asked.only or one.code in asked.only]
        server = Server(folder)
        made = list(made_in_a_browser(wanted, f"http://{server.host}:{server.port}"))
        for task, one in made:
            one.faults += other_than_a_pass(task)
    finally:
        if server is not None:
            server.stop()
        place.throw_away(folder)
    tell(made, steps=asked.steps)


def tell(made: list[tuple[Task, Counted]], *, steps: bool) -> None:
    """Print the table, then what stood in the way and what a routine check could do without."""
    head = f"{'method':<24}{'fields':>7}{'taps':>6}{'keys':>6}{'scrolls':>8}"
    say(f"{head}{'desk s':>8}{'touch s':>8}{'budget':>8}{'ratio':>7}")
    for task, one in made:
        desk, touch, budget = one.seconds(DESK), one.seconds(TOUCH), BUDGETS.get(task.code)
        aim = f"{budget:>8.0f}{touch / budget:>7.2f}" if budget else f"{'none':>8}{'':>7}"
        say(f"{task.code:<24}{one.fields:>7}{one.taps:>6}{one.keys:>6}{one.scrolls:>8}{desk:>8.0f}{touch:>8.0f}{aim}")
    say()
    for task, one in made:
        budget = BUDGETS.get(task.code)
        lines = [f"aim {budget:.0f} s, by touch: {verdict(one.seconds(TOUCH), budget)}"] if budget else []
        lines += [f"FAULT: {fault}" for fault in one.faults]
        lines += [f"in sight and left empty: {', '.join(one.empty)}"] if one.empty else []
        lines += [f"written, and a valid pass without: {', '.join(task.needless)}"] if task.needless else []
        lines += one.steps if steps else []
        if lines:
            say(task.name)
        for line in lines:
            say(f"  {line}")


def tasks_of(database: Path) -> list[Task]:
    """Set up one check of every method, none of them begun."""
    place.use(database)
    return tasks()


def other_than_a_pass(task: Task) -> list[str]:
    """What was signed and is no valid pass: then it was not a routine check that was counted."""
    from calibration.models import Outcome

    rows = Outcome.objects.filter(set__check_of__method=task.code).exclude(valid=True, verdict="pass")
    return [f"signed as {row.verdict}: {row.because}" for row in rows]


def made_in_a_browser(wanted: list[Task], address: str) -> Iterator[tuple[Task, Counted]]:
    """Make each check on a phone of its own."""
    from playwright.sync_api import sync_playwright

    from tests.journeys.conftest import FLAGS, find_chromium

    path = find_chromium()
    if path is None:
        raise SystemExit("No Chromium on this machine; name one in SPANWELL_CHROMIUM.")
    sandbox = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=[*FLAGS, *sandbox])
        for task in wanted:
            context = browser.new_context(
                base_url=address, viewport={"width": 390, "height": HEIGHT}, has_touch=True, is_mobile=True
            )
            context.set_default_timeout(10_000)
            name, _, value = task.cookie.partition("=")
            context.add_cookies([{"name": name, "value": value, "url": address}])
            yield task, Hands(context.new_page(), task).make()
            context.close()
        browser.close()


class Hands:
    """A person at a phone; every act is counted."""

    def __init__(self, page: Page, task: Task) -> None:
        self.page, self.task = page, task
        self.counted = Counted()
        self.writing = False

    def make(self) -> Counted:
        """Begin, write every field in the order of the page, sign."""
        self.page.goto(self.task.begin)
        self._decide("begin")
        self._tap(self.page.locator("form button.do").first, "begin")
        self.page.wait_for_url("**/checks/draft/**")
        for name in self._names():
            self._fill(name)
        self.counted.empty = self._left_empty()
        self._decide("sign")
        self.page.wait_for_timeout(1500)  # the page keeps what is typed; hands are slower than this anyway
        self._tap(self.page.locator("button.do[formaction]").first, "sign")
        self.page.wait_for_url(ANSWERED)
        if "/draft/" in self.page.url:
            said = self.page.locator(".wrong, .catch, .notice").all_inner_texts()
            self.counted.faults.append("not signed: " + " | ".join(" ".join(one.split()) for one in said if one)[:600])
        return self.counted

    def _names(self) -> list[str]:
        """The names of the form in the order of the page, each once."""
        names = self.page.evaluate(
            "() => [...document.querySelectorAll('form[data-work] [name]')].map((one) => one.name)"
        )
        return list(dict.fromkeys(str(name) for name in names))

    def _controls(self, name: str) -> Locator:
        return self.page.locator(f"form[data-work] [name='{name}']")

    def _fill(self, name: str) -> None:
        text = {**self.task.typed, "proof": self.task.pin}.get(name, "")
        if not text:
            return
        control = self._controls(name).first
        kind = control.evaluate("(one) => one.type")
        if kind.startswith("select") and control.input_value() == text:
            return  # the unit that stands first, or the standard used last
        self._unfold(control)
        self.counted.fields += 1
        self._decide(name)
        if kind == "radio":
            self._tap(self.page.locator(f"label:has(> input[name='{name}'][value='{text}'])"), name)
        elif kind.startswith("select"):
            self._tap(control, name)
            self.counted.taps += 1  # in the phone's own list
            control.select_option(text)
        else:
            self._write(control, name, text)

    def _write(self, control: Locator, name: str, text: str) -> None:
        signs = self._controls(f"{name}_sign")
        mark = {"-": "minus", "+": "plus"}.get(text[0], "")
        if signs.count() and mark:
            self._tap(self.page.locator(f"label:has(> input[name='{name}_sign'][value='{mark}'])"), f"{name} {mark}")
            text = text[1:]
        self._tap(control, name)
        self.writing = True
        self.counted.homes += 2
        self.counted.keys += len(text)
        self.page.keyboard.type(text)
        if control.input_value() != text:
            control.fill(text)  # a browser without a screen now and then drops the keys right after a touch
        if control.input_value() != text:
            self.counted.faults.append(f"{name} holds {control.input_value()!r} where {text!r} was typed")

    def _unfold(self, control: Locator) -> None:
        """Open what the field lies in, the outermost first."""
        shut = control.locator("xpath=ancestor::details[not(@open)]")
        while shut.count():
            summary = shut.first.locator("> summary")
            self._decide("unfold")
            self._tap(summary, f"unfold {summary.inner_text()}")

    def _decide(self, what: str) -> None:
        self.counted.minds += 1
        self.counted.steps.append(f"M {what}")

    def _tap(self, target: Locator, what: str) -> None:
        """Scroll until it is in sight, then touch it."""
        sight = HEIGHT - (KEYBOARD if self.writing else 0)
        box = target.bounding_box()
        if box is None:
            self.counted.faults.append(f"{what} cannot be touched")
            return
        past = max(box["y"] + min(box["height"], sight) - sight, -box["y"], 0)
        if past > 0:
            flicks = math.ceil(past / (SWEEP * sight))
            self.counted.scrolls += flicks
            self.counted.steps.append(f"scroll {flicks} for {what}")
            self.page.evaluate("(by) => window.scrollBy({top: by, behavior: 'instant'})", box["y"] - sight * 0.3)
        self.counted.taps += 1
        self.counted.steps.append(f"tap {what}")
        self.writing = False
        target.tap()

    def _left_empty(self) -> list[str]:
        """The fields in sight, of what the method asks, in which nothing was written."""
        seen: list[Any] = self.page.evaluate(
            """() => [...document.querySelectorAll('form[data-work] .fill')].filter((one) => one.checkVisibility()
                && one.querySelector('input:not([type=hidden]), select') && !one.closest('.catch, .sign')
                && ![...one.querySelectorAll('input, select')].some((e) => e.type === 'radio' ? e.checked : e.value))
                .map((one) => (one.closest('fieldset.point')?.querySelector('h3')?.textContent ?? '') + ' '
                + one.querySelector('label, legend').textContent)"""
        )
        return [" ".join(str(one).split()) for one in seen]


if __name__ == "__main__":
    main()
