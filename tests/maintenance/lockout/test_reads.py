"""What other pages say of locks, and that no page asks the database more often for more locks."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext

from assets.models import Role
from assets.permissions import Desk
from maintenance.actions.isolation_procedures import write_procedure
from maintenance.actions.routines import Interval, Work, register_routine
from maintenance.models import Occurrence
from maintenance.reads.locks import locks_on_position, locks_page, tag_locks, today_locks
from maintenance.reads.locks_review import review_locks
from tests.maintenance.lockout.browsers import browser_of
from tests.make import make_position
from tests.make_locks import Pump, end_membership, make_lock, make_neighbour, make_point, make_text

pytestmark = pytest.mark.django_db


def desk_of(pump: Pump) -> Desk:
    return Desk(pump.ruth, pump.site, Role.SUPERVISOR)


def grow(pump: Pump, count: int, start: int) -> None:
    """More machines under lockout, each with its own point and lock, and as many lost in the registers."""
    for n in range(start, start + count):
        position = make_position(site=pump.site, tag=f"P-{n}", does="moves")
        point = make_point(site=pump.site, by=pump.ruth, name=f"X-{n}", positions=[position])
        line = make_text(pump.points).lines[0]
        text = make_text(pump.points, lines=[type(line)(**{**_columns(line), "point": point})])
        version = write_procedure(position=position, text=text, by=pump.ruth)
        from assets.proofs import demo_proof
        from maintenance.actions.isolation_procedures import approve_procedure

        noor = pump.version.written_by
        approve_procedure(version=version, by=noor, proof=demo_proof(noor))
        other = Pump(**{**_columns(pump), "position": position, "version": version, "points": {f"X-{n}": point}})
        other.locks[str(n)] = make_lock(site=pump.site, number=str(n), of=pump.ana, by=pump.ruth)
        other.begin(box=None)
        other.prepare()
        other.hang(str(n), point)


def _columns(row: object) -> dict[str, object]:
    from dataclasses import fields

    return {f.name: getattr(row, f.name) for f in fields(row) if f.init}  # type: ignore[arg-type]


LISTS = ("/locks/", "/locks/?show=ended", "/locks/points/", "/locks/register/", "/locks/boxes/")


def queries(read) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        read()
    return len(caught)


def test_lists_ask_as_often_for_two_as_for_twenty(verified: Pump) -> None:
    desk = desk_of(verified)
    ruth = browser_of(verified.ruth)
    reads = {
        "list": lambda: locks_page(desk),
        "today": lambda: today_locks(desk),
        "review": lambda: review_locks(desk),
        "tag": lambda: tag_locks(desk, verified.position),
        **{path: (lambda p=path: ruth.get(p)) for path in LISTS},
    }
    grow(verified, 1, 200)
    few = {name: queries(read) for name, read in reads.items()}
    grow(verified, 18, 300)
    assert {name: queries(read) for name, read in reads.items()} == few
    assert len(locks_page(desk).locked) == 20


def test_one_lockout_asks_as_often_however_many_locks_are_on_it(verified: Pump) -> None:
    ruth = browser_of(verified.ruth)
    few = queries(lambda: ruth.get("/locks/1/"))
    for n in range(60, 78):
        verified.locks[str(n)] = make_lock(site=verified.site, number=str(n), of=verified.ben, by=verified.ruth)
        verified.hang(str(n), verified.box)
    assert queries(lambda: ruth.get("/locks/1/")) == few


def test_a_tag_says_that_it_must_not_be_started_while_anyones_lock_is_on(verified: Pump) -> None:
    panel = tag_locks(desk_of(verified), verified.position)
    text = render_to_string("maintenance/locks/_tag_panel.html", {"panel": panel})
    assert "P-2 must not be started" in text and "breaker B-2" in text
    second = make_neighbour(verified)
    shared = tag_locks(desk_of(verified), second.position)
    assert [f.lock for f in shared.anyone] == ["41"]
    verified.end()
    free = tag_locks(desk_of(verified), verified.position)
    text = render_to_string("maintenance/locks/_tag_panel.html", {"panel": free})
    assert "No lock is recorded" in text and "does not prove" in text
    assert "NOT in service" in text


def test_today_names_ones_own_locks(verified: Pump) -> None:
    ana = Desk(verified.ana, verified.site, Role.OPERATOR)
    panel = today_locks(ana)
    assert [h.lock for _, h in panel.own] == ["41", "42"]
    assert "Your own" in render_to_string("maintenance/locks/_today_panel.html", {"panel": panel})


def test_review_raises_lapsed_owners_questions_and_procedures_to_approve(verified: Pump) -> None:
    """L12: the lock stays, the alarm is raised."""
    from assets.actions import withdraw_qualification

    assert review_locks(desk_of(verified)).waiting == 0
    withdraw_qualification(qualification=verified.ben.qualifications.get(), by=verified.ruth)
    end_membership(verified.kim)
    verified.swap()
    write_procedure(position=verified.position, text=make_text(verified.points), by=verified.ruth)
    panel = review_locks(desk_of(verified))
    assert {(one.hung.lock, one.why) for one in panel.lapsed} == {
        ("43", "the lockout training of Ben is not in force"),
        ("K-1", "K has no role here any more"),
    }
    assert [row.lockout.number for row in panel.questions] == [1]
    assert [version.revision for version in panel.to_approve] == [2]
    text = render_to_string("maintenance/locks/_review_panel.html", {"panel": panel})
    assert "K has no role here any more" in text and "revision 2" in text
    assert verified.application("K-1").removed_at is None


def test_pages_of_work_get_the_locks_of_a_position(verified: Pump) -> None:
    assert [h.lock for h in locks_on_position(verified.position)] == ["41", "42", "43", "K-1"]


def test_a_lock_blocks_what_is_due_and_frees_it_again(pump: Pump, clock) -> None:
    """L15: held with its reason, neither fulfilled nor skipped; back by itself when the last lock is off."""
    register_routine(
        site=pump.site,
        target=pump.position,
        work=Work(kind="inspect", title="Vibration", minutes=20),
        interval=Interval(mode="floating", every=30, unit="day", source="common practice"),
        by=pump.ruth,
        activated_on=dt.date(2026, 11, 20),
    )
    assert [item.blocked_from for item in Occurrence.objects.open()] == [None]
    pump.begin()
    pump.prepare()
    pump.hang("41", pump.points["B-2"])
    pump.hang("42", pump.points["V-21"])
    blocked = Occurrence.objects.open().get()
    assert blocked.blocked_from is not None and "lock" in blocked.because.casefold()
    pump.take("41")
    assert Occurrence.objects.open().get().blocked_from is not None, "lock 42 is still on"
    pump.take("42")
    free = Occurrence.objects.open().get()
    assert (free.blocked_from, free.performance) == (None, None)
