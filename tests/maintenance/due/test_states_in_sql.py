"""The word for a stored due item comes from one function; the filters of the list are the same in SQL.

Every way in which the columns of a due item can stand to one another, on every day around them.
"""

from __future__ import annotations

import datetime as dt
from itertools import product

import pytest

from maintenance.compute.schedule import State
from maintenance.models import Occurrence
from maintenance.reads.due_words import state_of
from tests.make import make_position, make_site
from tests.make_upkeep import make_plan

pytestmark = pytest.mark.django_db
BASE = dt.date(2026, 3, 10)
DAYS = [BASE + dt.timedelta(days=n) for n in range(-5, 9)]


def day(number: int | None) -> dt.date | None:
    return None if number is None else BASE + dt.timedelta(days=number)


def every_row() -> list[dict[str, object]]:
    """Own due day 0; earliest, moved due, latest, block, miss, deferral, end and due by date at every place around."""
    rows = []
    ways = product((0, 2), (0, 2), (0, 1), (None, 0, 2), (None, 1, 4), ((None, None), (3, None), (None, 4), (3, 6)))
    for early, due, late, blocked, missed, (deferred, by_date) in ways:
        for ended, ended_on in [("open", None), *product(("done", "missed", "withdrawn"), (-1, 2))]:
            rows.append(
                {
                    "raw": BASE,
                    "due": day(due),
                    "earliest": day(-early),
                    "latest": day(due + late),
                    "blocked_from": day(blocked),
                    "missed_from": day(missed),
                    "deferred_until": day(deferred),
                    "day_due": day(by_date),
                    "ended": ended,
                    "ended_on": day(ended_on),
                }
            )
    return rows


def test_each_row_is_in_the_one_state_that_the_function_says_on_each_day() -> None:
    site = make_site()
    plan = make_plan(make_position(site=site))
    Occurrence.objects.all().delete()
    Occurrence.objects.bulk_create(
        Occurrence(plan=plan, site=site, turn=str(n), **row) for n, row in enumerate(every_row())
    )
    rows = list(Occurrence.objects.all())
    seen = set()
    for now in DAYS:
        said = {state: {row.pk for row in rows if state_of(row, now) is state} for state in State}
        for state in State:
            chosen = set(Occurrence.objects.in_state(state.value, now).values_list("pk", flat=True))
            assert chosen == said[state], (state, now)
            seen |= {state} if chosen else set()
        asked = said[State.OVERDUE] | said[State.LATE_ALLOWED] | said[State.DUE]
        assert set(Occurrence.objects.owed(now).values_list("pk", flat=True)) == asked
    assert seen == set(State)


def test_a_word_that_is_no_state_is_no_filter() -> None:
    with pytest.raises(KeyError):
        Occurrence.objects.in_state("late", BASE)
