"""When a morning has come by the clock on the wall, and what is done with a message after each history of tries."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.compute.messages import CUT_SHORT_AFTER, Next, Tried, morning_has_come, next_of

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)
LATER = NOW + timedelta(hours=9)
DENVER = ZoneInfo("America/Denver")


def ago(minutes: float) -> datetime:
    return NOW - timedelta(minutes=minutes)


SENT = Tried(begun_at=ago(60), ended_at=ago(60), sent=True)
REFUSED = Tried(begun_at=ago(60), ended_at=ago(60), sent=False)
REFUSED_JUST_NOW = Tried(begun_at=ago(2), ended_at=ago(1), sent=False)
CUT_SHORT = Tried(begun_at=ago(60))
UNDER_WAY = Tried(begun_at=ago(1))
NO_ANSWER = Tried(begun_at=ago(60), ended_at=ago(59), sent=None)


@pytest.mark.parametrize(
    ("tries", "expected"),
    [
        ([], Next.SEND),
        ([SENT], Next.SENT),
        ([UNDER_WAY], Next.WAIT),
        ([CUT_SHORT], Next.SEND),
        ([CUT_SHORT, SENT], Next.SENT),
        ([CUT_SHORT, UNDER_WAY], Next.WAIT),
        ([CUT_SHORT, CUT_SHORT], Next.NOT_KNOWN),
        ([NO_ANSWER], Next.SEND),
        ([NO_ANSWER, CUT_SHORT], Next.NOT_KNOWN),
        ([REFUSED_JUST_NOW], Next.WAIT),
        ([REFUSED] * 40, Next.SEND),
        ([REFUSED, CUT_SHORT], Next.SEND),
        ([REFUSED, CUT_SHORT, REFUSED], Next.SEND),
    ],
)
def test_what_is_done_after_these_tries(tries: list[Tried], expected: Next) -> None:
    assert next_of(tries, NOW, LATER) is expected


def test_a_message_is_not_sent_after_its_end_and_one_that_went_out_stays_sent() -> None:
    assert next_of([], NOW, NOW) is Next.SEND
    assert next_of([], NOW, ago(1)) is Next.TOO_LATE
    assert next_of([REFUSED], NOW, ago(1)) is Next.TOO_LATE
    assert next_of([SENT], NOW, ago(1)) is Next.SENT
    assert next_of([CUT_SHORT, CUT_SHORT], NOW, ago(1)) is Next.NOT_KNOWN


@given(st.lists(st.sampled_from([True, False, None]), max_size=12))
def test_whatever_happens_to_tries_a_person_gets_at_most_two_copies(fates: list[bool | None]) -> None:
    # Each try ends as its fate says; None: the worker is killed, with the letter gone out or not.
    tries: list[Tried] = []
    now = NOW
    for fate in fates:
        if next_of(tries, now, NOW + timedelta(days=30)) is not Next.SEND:
            break
        tries.append(Tried(begun_at=now, ended_at=None if fate is None else now, sent=fate))
        now += CUT_SHORT_AFTER
    perhaps_gone_out = [one for one in tries if one.sent is not False]
    assert len(perhaps_gone_out) <= 2


@pytest.mark.parametrize(
    ("utc", "at", "come"),
    [
        ((2026, 11, 25, 12, 59), time(6, 0), False),
        ((2026, 11, 25, 13, 0), time(6, 0), True),
        ((2026, 11, 26, 6, 59), time(6, 0), True),  # 23:59 there: late is still that day's
        # 8 March 2026: 02:00 to 03:00 does not exist; 09:00 UTC is 03:00 there.
        ((2026, 3, 8, 8, 59), time(2, 30), False),
        ((2026, 3, 8, 9, 0), time(2, 30), True),
        # 1 November 2026: 01:00 to 02:00 comes twice, from 07:00 and from 08:00 UTC.
        ((2026, 11, 1, 7, 29), time(1, 30), False),
        ((2026, 11, 1, 7, 30), time(1, 30), True),
        ((2026, 11, 1, 8, 30), time(1, 30), True),
    ],
)
def test_the_time_is_the_clock_on_the_wall(utc: tuple[int, ...], at: time, come: bool) -> None:
    here = datetime(*utc, tzinfo=UTC).astimezone(DENVER)  # type: ignore[misc, arg-type]
    assert morning_has_come(here, at) is come
