"""Two phones on one walk at the same moment, each with a connection of its own, on both databases."""

from __future__ import annotations

import pytest

from assets.models import Person, Reading, Role, Site
from maintenance.actions.walks import begin_walk, end_walk, take_second
from maintenance.compute.walk import Answered
from maintenance.models import Performance, Round, StopAnswer, Walk
from tests.maintenance.orders.test_two_at_once import at_once, refusals
from tests.make import make_person, make_position, make_site
from tests.make_upkeep import make_plan
from tests.make_walks import make_gauge, make_line, make_point, make_round, make_small_round, stop_of, write

pytestmark = [pytest.mark.django_db(transaction=True)]
TIMES = 4


@pytest.fixture
def people(transactional_db: None) -> tuple[Site, Person, Person]:
    site = make_site()
    return site, make_person(site=site, role=Role.SUPERVISOR), make_person(site=site)


def pressure(site: Site, by: Person, points: int) -> Round:
    """A round that asks one pressure at each check point."""
    made = make_round(site=site, by=by)
    for number in range(points):
        gauge = make_gauge(site=site, by=by, tag=f"PI-{number}")
        point = make_point(made, by=by, position=gauge)
        make_line(point, by=by, kind="reading", what="Discharge pressure", unit="kPa")
    return made


def test_one_check_point_written_by_two_at_once_counts_once_and_the_other_is_kept(
    people: tuple[Site, Person, Person],
) -> None:
    site, ruth, ines = people
    walk = begin_walk(round=pressure(site, ruth, TIMES), by=ines)
    for number in range(1, TIMES + 1):
        answers = at_once(
            *(
                lambda who=who, typed=typed, number=number: write(stop_of(walk, number), by=who, typed=typed)
                for who, typed in ((ruth, "688"), (ines, "690"))
            )
        )
        assert not refusals(answers)
        rows = StopAnswer.objects.filter(stop__walk=walk, stop__number=number)
        first, second = rows.get(beside__isnull=True), rows.get(beside__isnull=False)
        assert second.beside == first
        assert {row.entries.get().typed for row in rows} == {"688", "690"}
    assert Reading.objects.count() == TIMES
    assert StopAnswer.objects.counting().count() == TIMES


def test_one_answer_that_arrives_twice_at_once_is_one_answer(people: tuple[Site, Person, Person]) -> None:
    site, ruth, ines = people
    walk = begin_walk(round=pressure(site, ruth, TIMES), by=ines)
    for number in range(1, TIMES + 1):
        answers = at_once(
            *(
                lambda waited=waited, number=number: write(
                    stop_of(walk, number), by=ines, typed="688", key=f"key {number}", waited=waited
                )
                for waited in (0, 2, 4)
            )
        )
        assert not refusals(answers)
        assert answers[0] == answers[1] == answers[2]
    assert Reading.objects.count() == StopAnswer.objects.count() == TIMES


def test_a_second_answer_taken_by_two_at_once_is_taken_once(people: tuple[Site, Person, Person]) -> None:
    site, ruth, ines = people
    walk = begin_walk(round=pressure(site, ruth, 1), by=ines)
    write(stop_of(walk), by=ines, typed="688")
    asked = (Answered(key="same", head="The same number", sentence="…", answer="Read, and it is so"),)
    second = write(stop_of(walk), by=ruth, typed="690", asked=asked)
    answers = at_once(
        *(
            lambda who=who: take_second(
                second=StopAnswer.objects.select_related("stop__walk__site").get(pk=second.pk), by=who
            )
            for who in (ruth, ines)
        )
    )
    assert len(refusals(answers)) == 1
    assert "counts already" in str(refusals(answers)[0])
    taken = StopAnswer.objects.counting().get()
    assert taken.entries.get().asked == second.entries.get().asked != ""


def test_one_round_begun_and_ended_by_two_at_once_is_one_walk(people: tuple[Site, Person, Person]) -> None:
    site, ruth, ines = people
    plan = make_plan(make_position(site=site), by=ruth)
    made = make_small_round(site=site, by=ruth)
    Round.objects.filter(pk=made.pk).update(plan=plan)
    rounds = [Round.objects.select_related("site", "plan").get(pk=made.pk) for _ in range(2)]
    begun = at_once(
        *(lambda who=who, row=row: begin_walk(round=row, by=who) for who, row in zip((ruth, ines), rounds, strict=True))
    )
    assert not refusals(begun)
    assert begun[0] == begun[1]
    walks = [Walk.objects.select_related("site", "round__plan__site").get() for _ in range(2)]
    ended = at_once(
        *(lambda who=who, row=row: end_walk(walk=row, by=who) for who, row in zip((ruth, ines), walks, strict=True))
    )
    assert len(refusals(ended)) == 1
    assert "ended already" in str(refusals(ended)[0])
    assert Performance.objects.filter(plan=plan).count() == 1
