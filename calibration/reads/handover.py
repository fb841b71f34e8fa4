"""What checks and standards tell at a change of shift."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from assets.compute.words import day_named, moment_named
from assets.models import Person, Site
from calibration.models import Check, Lot
from calibration.reads.checks import rows_of, with_sets
from calibration.reads.clocks import Clock, clocks_at
from calibration.reads.sheet import FAILING
from maintenance.compute.handover import CARRIED, HAPPENED, Told

MOST = 40


def tell_checks(site: Site, by: Person, since: dt.datetime, until: dt.datetime) -> Iterator[Told]:
    """Monitors that are out, checks signed in the shift, failed ones by their name, and standards that came in."""
    for clock in clocks_at(site, until):
        yield _of_clock(clock)
    checks = with_sets(Check.objects.at(site).filter(recorded_at__range=(since, until)))[:MOST]
    failed = set(
        Check.objects.filter(pk__in=[one.pk for one in checks], sets__outcome__verdict__in=list(FAILING)).values_list(
            "number", flat=True
        )
    )
    for row in rows_of(checks):
        yield Told(
            part=HAPPENED,
            kind="Failed check" if row.number in failed else "Check",
            title=f"{row.method}: {', '.join(f'{one.word} {one.state.word.lower()}' for one in row.sets)}"[:200],
            text=row.by,
            at=row.at,
            tag=row.tag,
            code=row.code,
            matters_for=row.matters,
            path=row.url,
        )
    for lot in Lot.objects.filter(site=site, recorded_at__range=(since, until)).select_related("kind")[:MOST]:
        yield Told(part=HAPPENED, kind="Came in", title=f"{lot.kind}, lot {lot.number}"[:200], at=lot.recorded_at)


def _of_clock(clock: Clock) -> Told:
    zone, place = clock.position.site.zone, clock.position
    due = clock.next_grab
    grab = f"Next grab sample by {moment_named(due.astimezone(zone))}. " if due is not None else ""
    return Told(
        part=CARRIED,
        kind=clock.shown.word,
        key=f"clock {place.pk}",
        tag=place.tag,
        code=place.label_code,
        matters_for=place.matters_for,
        title=f"Out since {moment_named(clock.since.astimezone(zone))}, back by the end of {day_named(clock.last_day)}"[
            :200
        ],
        text=f"{grab}{clock.said.capitalize()}; {clock.because}."[:400],
        path=clock.url,
    )
