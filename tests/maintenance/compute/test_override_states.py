"""Where a forced value stands by its times alone, and how long it may last; bounds are the moment itself inside."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from assets.compute.site_rules import InForce
from maintenance.compute.overrides import Facts, State, longest, needs_approval, next_look, state_of

NOW = dt.datetime(2026, 11, 25, 14, 5, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
RULES = InForce({}, NOW.date())
ON = Facts(begun_at=NOW - HOUR, limit_at=NOW + HOUR, needs_approval=True, approved_at=NOW - HOUR)


@pytest.mark.parametrize(
    ("facts", "state"),
    [
        (replace(ON, begun_at=None, approved_at=None), State.ASKED),
        (replace(ON, begun_at=None, approved_at=None, refused_at=NOW), State.REFUSED),
        (ON, State.IN_FORCE),
        (replace(ON, approved_at=None), State.UNAPPROVED),
        (replace(ON, approved_at=None, needs_approval=False), State.IN_FORCE),
        (replace(ON, limit_at=NOW), State.IN_FORCE),
        (replace(ON, limit_at=NOW - dt.timedelta(seconds=1)), State.OVER),
        (replace(ON, limit_at=NOW - HOUR, approved_at=None), State.OVER),
        (replace(ON, limit_at=NOW - HOUR, removed_at=NOW), State.REMOVED),
        (replace(ON, removed_at=NOW, restored_at=NOW), State.ENDED),
        (replace(ON, approved_at=None, refused_at=NOW), State.UNAPPROVED),
    ],
)
def test_the_word_follows_from_the_times(facts: Facts, state: State) -> None:
    assert state_of(facts, NOW) == state


def test_time_alone_never_ends_one() -> None:
    for years in (0, 1, 100):
        assert state_of(ON, NOW + dt.timedelta(days=365 * years)) in {State.IN_FORCE, State.OVER}


def test_it_is_looked_at_once_a_day_unless_the_site_says_otherwise() -> None:
    assert next_look(ON, RULES) == ON.begun_at + 24 * HOUR  # type: ignore[operator]
    assert next_look(replace(ON, looked_at=NOW), RULES) == NOW + 24 * HOUR
    assert next_look(replace(ON, looked_at=NOW), InForce({"look_hours": "0.5"}, NOW.date())) == NOW + HOUR / 2
    assert next_look(replace(ON, removed_at=NOW), RULES) is None
    assert next_look(replace(ON, begun_at=None), RULES) is None


def test_what_matters_more_lasts_less_and_is_approved() -> None:
    assert [longest(word, RULES) / HOUR for word in ("safety", "compliance", "production", "other")] == [
        12,
        72,
        168,
        168,
    ]
    assert [needs_approval(w, RULES) for w in ("safety", "compliance", "production", "other")] == [True] * 3 + [False]
    only = InForce({"approver_from": "safety"}, NOW.date())
    assert [needs_approval(word, only) for word in ("safety", "compliance")] == [True, False]
