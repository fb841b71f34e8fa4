"""Two people at the same moment, with a connection each: one act is done, the other person is told; nothing is lost."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from django.db import connection
from django.utils import timezone

from assets.errors import Refusal
from assets.models import Event, Role
from maintenance.actions.order_parts import use_part
from maintenance.actions.orders import accept_order, finish_order, raise_work_order, start_order, withdraw_order
from maintenance.actions.performances import record_performance, record_work
from maintenance.models import Occurrence, Part, Performance, WorkOrder
from tests.make import make_person, make_position, make_site
from tests.make_orders import in_stock, make_part, make_started
from tests.make_upkeep import make_order, make_plan, open_item

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]
TIMES = 8


def at_once(*acts: Callable[[], object]) -> list[object]:
    """Do all at the same moment in threads of their own; return each answer, or the refusal."""
    answers: list[object] = [None] * len(acts)
    gate = threading.Barrier(len(acts))

    def run(number: int, act: Callable[[], object]) -> None:
        try:
            gate.wait(timeout=10)
            answers[number] = act()
        except Refusal as refusal:
            answers[number] = refusal
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n, act)) for n, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert not any(thread.is_alive() for thread in threads), "somebody waits for ever"
    return answers


def refusals(answers: list[object]) -> list[Refusal]:
    return [answer for answer in answers if isinstance(answer, Refusal)]


def test_one_due_item_done_by_two_is_done_once_and_the_other_is_told() -> None:
    site = make_site()
    ruth, ines = make_person(site=site, role=Role.SUPERVISOR), make_person(site=site)
    for n in range(TIMES):
        item = open_item(make_plan(make_position(site=site), by=ruth, title=f"Routine {n}"))
        rows = Occurrence.objects.select_related("plan__site", "plan__position")
        # Both have the page open before either sends it: the first to arrive may end the due item for good.
        pages = [(who, rows.get(pk=item.pk)) for who in (ruth, ines)]
        answers = at_once(
            *(
                lambda who=who, seen=seen, item=item: record_work(
                    occurrence=seen,
                    performed_at=timezone.now(),
                    what="Looked",
                    could_not="",
                    key=f"{item.pk}-{who.pk}",
                    by=who,
                )
                for who, seen in pages
            )
        )
        assert len(refusals(answers)) == 1
        assert "meanwhile" in str(refusals(answers)[0])
        assert Performance.objects.filter(plan=item.plan).count() == 1


def test_one_record_sent_twice_at_once_is_one_record() -> None:
    site = make_site()
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    plan = make_plan(make_position(site=site), by=ruth)
    for n in range(TIMES):
        now = timezone.now()
        answers = at_once(
            *[
                lambda n=n, now=now: record_performance(
                    plan=plan,
                    key=f"same-{n}",
                    performed_at=now,
                    counts=True,
                    because="",
                    asset=None,
                    source_label="check",
                    source_path="",
                    by=ruth,
                )
            ]
            * 2
        )
        assert not refusals(answers)
        assert answers[0] == answers[1]
    assert Performance.objects.count() == TIMES


def test_two_records_of_one_routine_at_once_are_both_in_its_due_days() -> None:
    # Each is worked out with the other in sight: the newest decides the next due day, whoever came second.
    site = make_site()
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    from maintenance.reads.nightly import differences

    for n in range(TIMES):
        plan = make_plan(make_position(site=site), by=ruth)
        now = timezone.now()
        at_once(
            *(
                lambda key=key, plan=plan, now=now: record_performance(
                    plan=plan,
                    key=key,
                    performed_at=now,
                    counts=True,
                    because="",
                    asset=None,
                    source_label="check",
                    source_path="",
                    by=ruth,
                )
                for key in (f"a{n}", f"b{n}")
            )
        )
    assert Performance.objects.count() == 2 * TIMES
    assert not list(differences(site, timezone.now().astimezone(site.zone).date()))


def test_done_work_accepted_by_two_is_accepted_once() -> None:
    site = make_site()
    ines = make_person(site=site)
    both = [make_person(site=site, role=Role.SUPERVISOR) for _ in range(2)]
    position = make_position(site=site)
    for _ in range(TIMES):
        order = make_order(position, by=ines)
        start_order(order=order, by=ines)
        finish_order(order=order, found="Done.", by=ines)
        answers = at_once(
            *(lambda who=who, pk=order.pk: accept_order(order=WorkOrder.objects.get(pk=pk), by=who) for who in both)
        )
        assert len(refusals(answers)) == 1
        assert Event.objects.about(order).filter(verb="order.accepted").count() == 1


def test_started_by_one_and_withdrawn_by_another_is_one_of_the_two() -> None:
    site = make_site()
    ines, ruth = make_person(site=site), make_person(site=site, role=Role.SUPERVISOR)
    position = make_position(site=site)
    for _ in range(TIMES):
        order = make_order(position, by=ines)
        seen = [WorkOrder.objects.get(pk=order.pk) for _ in range(2)]
        answers = at_once(
            lambda one=seen[0]: start_order(order=one, by=ines),
            lambda other=seen[1]: withdraw_order(order=other, because="Not needed.", by=ruth),
        )
        assert len(refusals(answers)) == 1
        order.refresh_from_db()
        assert order.state == ("withdrawn" if isinstance(answers[0], Refusal) else "under way")


def test_orders_raised_at_once_have_numbers_of_their_own() -> None:
    site = make_site()
    ines = make_person(site=site)
    position = make_position(site=site)
    answers = at_once(
        *(
            lambda n=n: raise_work_order(
                site=site, position=position, title=f"Work {n}", reason="Found broken.", by=ines, origin_key=f"k{n % 4}"
            )
            for n in range(8)
        )
    )
    assert not refusals(answers)
    assert sorted(WorkOrder.objects.values_list("number", flat=True)) == [1, 2, 3, 4]


def test_the_last_part_taken_by_two_is_had_by_one_and_the_other_is_told() -> None:
    site = make_site()
    ruth, ines = make_person(site=site, role=Role.SUPERVISOR), make_person(site=site)
    orders = [make_started(make_position(site=site), by=who) for who in (ruth, ines)]
    for _ in range(TIMES):
        part = make_part(site=site, by=ruth, stock="1")
        answers = at_once(
            *(
                lambda who=who, order=order, pk=part.pk: use_part(
                    order=WorkOrder.objects.get(pk=order.pk), part=Part.objects.get(pk=pk), amount="1", by=who
                )
                for who, order in zip((ruth, ines), orders, strict=True)
            )
        )
        told = refusals(answers)
        assert len(told) == 1
        assert "0 pieces in stock, 1 wanted. The last to take some was" in str(told[0])
        assert in_stock(part) == 0
