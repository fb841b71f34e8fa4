"""At night: compare every stored due item with the facts, write down what was found, and carry the days forward.

The comparison repairs nothing. Carrying forward gives a routine the turns that time alone brings; a routine whose
items differ from its facts is left as it is, so that the fault stays to be seen.
"""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from assets import history
from assets.models import NightReport, Person, Site
from maintenance.actions.due import rewrite_all, still_good
from maintenance.models import Plan
from maintenance.reads.due_facts import due_items, known_of, stored_items
from maintenance.reads.nightly import KIND, TOGETHER, compared, differences

NIGHT = dt.time(2, 0)
LINES = 200  # differences written out in a report; more than that is one fault, not many


def at_night(site: Site) -> NightReport | None:
    """Do the night's work of one site if its night has begun and it is not done yet; return the report it wrote."""
    here = timezone.now().astimezone(site.zone)
    carry_forward(site=site, today=here.date())
    done = NightReport.objects.filter(site=site, kind=KIND, site_day=here.date()).exists()
    if here.time() < NIGHT or done:
        return None
    return compare_due_items(site=site, today=here.date())


def compare_due_items(*, site: Site, today: dt.date, by: Person | None = None) -> NightReport:
    """Compare every stored due item of a site with one worked out anew, and write what differs into a report.

    `by` None: the night did it.
    """
    found = [str(difference) for difference in differences(site, today)]
    with history.act(site=site, by=by) as act:
        left_out = [f"and {len(found) - LINES} more"] if len(found) > LINES else []
        report = act.add(
            NightReport(
                site=site,
                kind=KIND,
                site_day=today,
                differences=len(found),
                text="\n".join(found[:LINES] + left_out),
                recorded_at=act.at,
            )
        )
        act.write("due.compared", subject=site, facts={"day": today, "differences": len(found)})
    return report


def carry_forward(*, site: Site, today: dt.date) -> int:
    """Give each routine the turns that have come by time alone since its due items were worked out; say how many."""
    carried = 0
    due = Plan.objects.at(site).standing().exclude(computed_on__gte=today).select_related("site").order_by("pk")
    last = 0
    while plans := list(due.filter(pk__gt=last)[:TOGETHER]):
        carried += _carry(site, plans, today)
        last = plans[-1].pk
    return carried


def _carry(site: Site, plans: list[Plan], today: dt.date) -> int:
    """Work out what time has brought before the write lock is taken, then rewrite what moved."""
    known, stored = known_of(plans), stored_items(plans)
    moved: list[Plan] = []
    same: list[Plan] = []
    for plan in plans:
        if any(compared(plan, due_items(known[plan.pk], plan.computed_on or today), stored[plan.pk])):
            continue
        (same if due_items(known[plan.pk], today) == stored[plan.pk] else moved).append(plan)
    with history.act(site=site, by=None) as act:
        still_good(same, today)
        rewrite_all(act, moved)
        if moved:
            act.write("due.carried_forward", subject=site, facts={"day": today, "routines": [p.pk for p in moved]})
    return len(moved)
