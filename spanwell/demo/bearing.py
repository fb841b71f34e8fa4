"""What bears on due days beside the calendar: the plant's running, run hours, one item put off with a reason."""

from __future__ import annotations

import datetime as dt

from assets.actions.site_rules import RuleTyped, add_holiday, set_rule, start_running
from maintenance.actions.deferrals import ask_deferral, decide_deferral
from maintenance.actions.performances import record_work
from maintenance.actions.routines import Interval, Work, register_routine
from maintenance.models import Deferral, Occurrence, Plan
from spanwell.demo import cast
from spanwell.demo.plant import FIRST_DAY, Plant

OIL = "Change the bearing oil"
PACKING = "Replace the packing"
# In four days the hour meter asks for the next oil change: it comes by use long before its year is over.
OIL_DONE = (521, 346, 171)
PACKING_DONE = (521, 354, 184)
PACKING_EVERY = 180


def rest_on_running(plant: Plant) -> None:
    """Write the site's rules, that the plant runs, a routine by run hours, and one item put off to a day to come."""
    days, add = plant.days, plant.script.add
    add(days.at(FIRST_DAY, "12:00"), _set_rules, plant)
    add(days.at(OIL_DONE[0] + 1, "12:20"), _put_into_force, plant)
    for done in PACKING_DONE:
        add(days.at(done, "15:50"), _do, plant, PACKING, "four rings in, gland a finger tight", done)
    for done in OIL_DONE:
        add(days.at(done, "13:40"), _do, plant, OIL, "0.6 L out, clear, no metal; 0.6 L in", done)
    add(days.at(6, "14:10"), _ask, plant)
    add(days.at(5, "08:50"), _approve, plant)


def _set_rules(plant: Plant) -> None:
    ruth, why = plant.person(cast.RUTH), "as the works is manned"
    for name, value in (("shift_times", "06:30 18:30"), ("hours_a_week", "96")):
        typed = RuleTyped(name=name, value=value, source="site instruction 3", why=why, from_day=plant.day)
        set_rule(site=plant.site, typed=typed, by=ruth)
    new_year = dt.date(plant.days.today.year + 1, 1, 1)
    add_holiday(site=plant.site, day=new_year, name="New Year", by=ruth)
    start_running(site=plant.site, unit=None, by=plant.person(cast.INES))


def _put_into_force(plant: Plant) -> None:
    pump = plant.tag("P-61")
    oil = Interval(
        mode="first of",
        every=12,
        unit="month",
        reads="Run hours",
        reads_unit="h",
        use_every="2000",
        use_early="100",
        use_late="200",
        source="pump maker's book, 2000 h or a year",
    )
    packing = Interval(
        mode="floating", every=PACKING_EVERY, unit="day", early=14, late=0, source="common practice, twice a year"
    )
    for title, interval, minutes in ((OIL, oil, 60), (PACKING, packing, 120)):
        work = Work(kind="upkeep", title=title, minutes=minutes)
        register_routine(site=plant.site, target=pump, work=work, interval=interval, by=plant.person(cast.RUTH))


def _item(plant: Plant, title: str) -> Occurrence:
    plan = Plan.objects.get(site=plant.site, position__tag="P-61", title=title)
    return Occurrence.objects.open().select_related("plan__site", "plan__position").filter(plan=plan).order_by("due")[0]


def _do(plant: Plant, title: str, said: str, days_back: int) -> None:
    record_work(
        occurrence=_item(plant, title),
        performed_at=plant.clock.now,
        what=said,
        could_not="",
        key=f"p-61-{title}-{plant.days.back(days_back).isoformat()}".lower().replace(" ", "-"),
        by=plant.person(plant.on_shift(days_back)),
    )


def _ask(plant: Plant) -> None:
    ask_deferral(
        occurrence=_item(plant, PACKING),
        to_day=plant.days.back(-12),
        because="the other booster is locked out; both high-lift pumps are needed until it is back",
        risk="the gland may weep more: looked at on each round, drip tray emptied daily",
        by=plant.person(cast.TOMAS),
    )


def _approve(plant: Plant) -> None:
    asked = Deferral.objects.select_related("plan__site").get(site=plant.site, decided_at=None)
    decide_deferral(deferral=asked, approved=True, because="", proof=plant.proof(cast.RUTH), by=plant.person(cast.RUTH))
