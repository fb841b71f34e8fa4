"""The due list at 100 to 100,000 open due items, beside a bare view of the same 50 rows."""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.benchmarks import bare, place
from tests.benchmarks.measuring import ratios, say, spread, take_turns, timed, verdict

PATH = "/upkeep/"
AIM = 2.0
TAGS, BLOCKED = 120, 5
OWED, FAILED = 0.6, 0.1  # shares: owed today or longer; last done without success
KINDS = ("calibrate", "verify", "inspect", "upkeep")


def fill(open_items: int) -> str:
    """Fill an empty database with one plant and so many open due items; return a supervisor's cookie.

    The rows are put in at once and without history: what a list costs depends on its rows, not on how they came.
    """
    from assets.models import Role, Site
    from maintenance.models import Occurrence, Performance, Plan
    from tests.make import make_area, make_person, make_position, make_site, make_use

    site: Site = make_site()
    person = make_person(site=site, role=Role.SUPERVISOR)
    areas = [make_area(site=site, walk_order=n) for n in range(8)]
    pump = make_position(site=site, area=areas[0], does="moves")
    tags = [make_position(site=site, area=areas[n % len(areas)]) for n in range(TAGS)]
    for tag in tags:
        make_use(position=tag, target=pump, by=person)
    now = dt.datetime.now(dt.UTC)
    today = now.astimezone(site.zone).date()
    plans = Plan.objects.bulk_create(
        Plan(
            site=site,
            position=tags[n % TAGS],
            kind=KINDS[n % 4],
            title=f"Routine {n}",
            activated_on=today - dt.timedelta(days=400),
            computed_on=today,
        )
        for n in range(open_items)
    )
    Performance.objects.bulk_create(_performances(plans, person, now), batch_size=2000)
    Occurrence.objects.bulk_create((_occurrence(n, plan, today) for n, plan in enumerate(plans)), batch_size=2000)
    return place.session_of(person)


def _performances(plans, person, now):  # type: ignore[no-untyped-def]
    from maintenance.models import Performance

    for n, plan in enumerate(plans):
        for days, counts in ((40, True), (3, False)) if n % 100 < 100 * FAILED else ((40, True),):
            at = now - dt.timedelta(days=days)
            yield Performance(
                plan=plan,
                key=f"{plan.pk}-{days}",
                performed_at=at,
                performed_on=at.date(),
                counts=counts,
                because="" if counts else "failed, not restored",
                source_label="made for measuring",
                recorded_at=at,
                recorded_by=person,
            )


def _occurrence(n, plan, today):  # type: ignore[no-untyped-def]
    from maintenance.models import Occurrence

    owed, blocked = n % 100 < 100 * OWED, 100 - BLOCKED <= n < 100
    due = today + dt.timedelta(days=-3 if blocked else -(n % 60) if owed else 1 + n % 300)
    return Occurrence(
        plan=plan,
        site_id=plan.site_id,
        turn="1",
        raw=due,
        due=due,
        earliest=due - dt.timedelta(days=7),
        latest=due + dt.timedelta(days=7),
        blocked_from=today if blocked else None,
        because="K-1 is on P-2" if blocked else "",
    )


def compare(folder: Path, sizes: list[int], *, rounds: int, calls: int) -> Callable[[], object]:
    """Measure, say what came of it, and return the largest page's work for a profile."""
    ask = place.asking()
    databases, cookies = {}, {}
    for size in sizes:
        databases[size] = place.copied(folder / "spanwell.sqlite3", folder / f"due-{size}.sqlite3")
        cookies[size] = fill(size)
        page = ask(PATH, cookies[size])
        say(f"  {size:>7,} open due items: page of {len(page):,} bytes with {page.count(b'<tr '):,} table rows")
    bare.fill(len(page))

    def case(size: int, path: str) -> Callable[[], float]:
        def run() -> float:
            place.use(databases[size])
            work = partial(ask, path, cookies[size])
            work()
            return timed(work, calls)

        return run

    shown = {"page": PATH, "bare, template": "/bare/template/", "bare, by hand": "/bare/hand/"}
    cases = {f"{name} at {size:,}": case(size, path) for size in sizes for name, path in shown.items()}
    times = take_turns(cases, rounds=rounds)
    for name, taken in times.items():
        say(f"  {name:<28} {spread(taken, ' ms', 1000)}")
    say(f"  Ratios of the same round, n = {rounds} rounds of {calls} calls:")
    for size in sizes:
        for beside in ("template", "by hand"):
            found = ratios(times[f"page at {size:,}"], times[f"bare, {beside} at {size:,}"])
            aim = verdict(statistics.median(found), AIM) if beside == "template" else "lower bound, no aim"
            say(f"    page / bare {beside} at {size:>7,}: {spread(found)}; aim at most {AIM:g}: {aim}")
    for size in sizes[1:]:
        found = ratios(times[f"page at {size:,}"], times[f"page at {sizes[0]:,}"])
        say(f"    page at {size:,} / page at {sizes[0]:,}: {spread(found)}; aim: flat")
    place.use(databases[sizes[-1]])
    return partial(ask, PATH, cookies[sizes[-1]])
