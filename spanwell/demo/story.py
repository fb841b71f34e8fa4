"""The story of the demo plant, from its first day to this morning."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from spanwell.demo import cast
from spanwell.demo.buffers import stock_buffers
from spanwell.demo.checks import check_instruments
from spanwell.demo.clock import Days, Script, StoryClock, at_the_time_of
from spanwell.demo.plant import FIRST_DAY, Plant, set_up


def write_past(*, now: dt.datetime, address: str) -> None:
    days = Days(now, ZoneInfo(cast.ZONE))
    clock = StoryClock(days.at(FIRST_DAY, "08:00"))
    plant = Plant(days, Script(clock, now), address=address)
    seed = f"Kestrel Hollow {days.today.isoformat()}"
    set_up(plant)
    stock_buffers(plant)
    check_instruments(plant, seed)
    with at_the_time_of(clock):
        plant.script.play()
