"""The story of the demo plant, from its first day a year and a half ago to this morning.

One seed, the name of the works and today's date, gives every figure, so that the same day gives the same plant; only
secrets differ: label codes, password hashes, the contractor's link and code.
"""

from __future__ import annotations

import datetime as dt
import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from zoneinfo import ZoneInfo

from assets.actions.links import IssuedLink
from spanwell.demo import cast
from spanwell.demo.bearing import rest_on_running
from spanwell.demo.buffers import stock_buffers
from spanwell.demo.checks import check_instruments
from spanwell.demo.clock import Days, Script, StoryClock, at_the_time_of
from spanwell.demo.findings import draw_conclusions
from spanwell.demo.isolation import prepare_isolation
from spanwell.demo.lockouts import lock_out
from spanwell.demo.nights import keep_nights
from spanwell.demo.olden import tell_of_before
from spanwell.demo.orders import order_work
from spanwell.demo.plant import FIRST_DAY, Plant, set_up
from spanwell.demo.readings import take_readings
from spanwell.demo.references import certify
from spanwell.demo.rounds import go_round
from spanwell.demo.shelf import stock_shelf
from spanwell.demo.standins import stand_in
from spanwell.demo.tanks import measure_tanks
from spanwell.demo.upkeep import keep_up
from spanwell.demo.walking import walk_the_round
from spanwell.demo.watching import watch

QUARTER = 3
"""Months between two lines of progress."""


def write_past(*, now: dt.datetime, address: str, say: Callable[[str], None] = lambda _: None) -> IssuedLink:
    """Write the plant's past up to `now` (aware) and return the contractor's link with its secrets.

    `address` is where the pages are reached; it stands on labels. `say` is given a sentence at each quarter of a year.
    Raises Refusal when a rule refuses a scene.
    """
    days = Days(now, ZoneInfo(cast.ZONE))
    clock = StoryClock(days.at(FIRST_DAY, "08:00"))
    plant = Plant(days, Script(clock, now), address=address)
    seed = f"Kestrel Hollow {days.today.isoformat()}"
    set_up(plant)
    stock_buffers(plant)
    stock_shelf(plant)
    certify(plant)
    check_instruments(plant, seed)
    go_round(plant)
    draw_conclusions(plant)
    prepare_isolation(plant)
    invited = lock_out(plant)
    keep_up(plant)
    rest_on_running(plant)
    keep_nights(plant)
    order_work(plant)
    tell_of_before(plant)
    take_readings(plant, seed)
    walk_the_round(plant, seed)
    measure_tanks(plant)
    watch(plant)
    stand_in(plant)
    with at_the_time_of(clock), nothing_collected():
        plant.script.play(tell=_progress(days, say))
    assert invited.issued is not None
    return invited.issued


@contextmanager
def nothing_collected() -> Iterator[None]:
    """Let no collection of garbage run meanwhile: it takes a tenth of the time and finds next to nothing."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _progress(days: Days, say: Callable[[str], None]) -> Callable[[dt.datetime], None]:
    """Say each quarter of a year that the story comes to."""
    told: list[tuple[int, int]] = []

    def tell(moment: dt.datetime) -> None:
        day = moment.astimezone(days.zone).date()
        quarter = (day.year, (day.month - 1) // QUARTER)
        if told and quarter != told[-1]:
            say(f"  written up to {day:%B %Y}")
        if not told or quarter != told[-1]:
            told.append(quarter)

    return tell
