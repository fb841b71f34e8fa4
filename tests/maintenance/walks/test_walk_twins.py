"""Two machines read the wrong way round, counters of starts, kinds of work, and what a second answer keeps."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from assets.models import CounterBreak, Person, Position, Reading, Role, Site
from maintenance.actions.routines import Interval
from maintenance.actions.walks import begin_walk, take_second
from maintenance.models import StopAnswer, Walk, WalkEntry, WorkOrder
from maintenance.reads.due_words import by_use
from tests.assets.signed_in import browser_of, sent
from tests.conftest import Clock
from tests.maintenance.due.running import open_item
from tests.make import make_person, make_position, make_site
from tests.make_upkeep import make_done, make_plan
from tests.make_walks import line_of, make_line, make_point, make_round, read_before, stop_of

pytestmark = pytest.mark.django_db

HEAD = "P-61 shows the hours of P-62?"


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def ines(site: Site) -> Person:
    return make_person(site=site, name="Ines Calder")


@pytest.fixture
def pumps(site: Site, ruth: Person) -> tuple[Position, Position]:
    """Two pumps, whose counters are far apart."""
    one, other = (make_position(site=site, does="moves", tag=tag, matters_for="other") for tag in ("P-61", "P-62"))
    read_before(one, "18378.4", "18402.6", by=ruth, what="Run hours", unit="h")
    read_before(other, "9204.0", "9210.1", by=ruth, what="Run hours", unit="h")
    return one, other


def walk_of(pumps: tuple[Position, Position], *, by: Person, apart: bool) -> Walk:
    """Both pumps at one check point, or at two; only the line of the first one names its twin."""
    made = make_round(site=by.memberships.get().site, by=by)
    first = make_point(made, by=by, position=pumps[0], name="Pump 1")
    second = make_point(made, by=by, position=pumps[1], name="Pump 2") if apart else first
    make_line(first, by=by, kind="counter", what="Run hours", unit="h", position=pumps[0], twin=pumps[1])
    make_line(second, by=by, kind="counter", what="Run hours", unit="h", position=pumps[1])
    return begin_walk(round=made, by=by)


def lines_of(walk: Walk) -> dict[str, int]:
    """Key of the line of each pump."""
    lines = walk.round.points.values_list("lines__position__tag", "lines__pk")
    return dict(lines)


def post(client: Client, number: int, **typed: Any) -> Any:
    person = str(client.session["_auth_user_id"])
    return sent(client, f"/walk/1/{number}/", person=person, **typed)


def standing() -> dict[str, str]:
    """What counts for each pump by now, of this walk."""
    rows = Reading.objects.standing().filter(source__startswith="walk")
    return {row.position.tag: row.entered for row in rows.select_related("position")}


# ----------------------------------------------------------------------------------------------- on one check point


def test_two_numbers_in_each_other_s_box_are_put_right_together(
    pumps: tuple[Position, Position], ruth: Person, ines: Person
) -> None:
    walk = walk_of(pumps, by=ruth, apart=False)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    client, typed = browser_of(ines), {f"v{one}": "9216.1", f"v{other}": "18408.6"}
    asked = post(client, 1, **typed)
    said = asked.content.decode()
    assert asked.status_code == 422
    assert HEAD in said
    assert "The other way round both fit: P-61 18408.6 h, P-62 9216.1 h." in said
    # One question at a time: that it fell, or ran too long, is asked only if the number stands.
    assert "It shows less than before" not in said
    assert "Longer than there was time" not in said
    assert not Reading.objects.filter(source__startswith="walk").exists()
    assert post(client, 1, **typed, **{f"a{one}-exchanged": "round"}).status_code == 302
    assert standing() == {"P-61": "18408.6", "P-62": "9216.1"}
    entries = {entry.line_id: entry for entry in WalkEntry.objects.all()}
    assert (entries[one].first_typed, entries[other].first_typed) == ("9216.1", "18408.6")
    assert f"{HEAD} Exchanged: put both right." in client.get("/walk/1/").content.decode()


def test_a_number_that_stands_all_the_same_is_asked_why_it_fell(
    pumps: tuple[Position, Position], ruth: Person, ines: Person
) -> None:
    walk = walk_of(pumps, by=ruth, apart=False)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    typed = {f"v{one}": "9216.1", f"v{other}": "9212.0", f"a{one}-exchanged": "stands"}
    said = post(browser_of(ines), 1, **typed).content.decode()
    assert "It shows less than before" in said
    typed |= {f"a{one}-fell": "replaced", f"o{one}": "18404.0", f"n{one}": "9212.0"}
    assert post(browser_of(ines), 1, **typed).status_code == 302
    assert standing() == {"P-61": "9216.1", "P-62": "9212.0"}


def test_where_only_one_is_wrong_it_is_typed_anew(pumps: tuple[Position, Position], ruth: Person, ines: Person) -> None:
    walk = walk_of(pumps, by=ruth, apart=False)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    client, typed = browser_of(ines), {f"v{one}": "9216.1", f"v{other}": "9216.1"}
    said = post(client, 1, **typed).content.decode()
    assert "It is that of P-62: I write this one anew" in said
    assert "put both right" not in said
    typed |= {f"a{one}-exchanged": "other", f"f{one}": "9216.1"}
    assert "write what it really shows" in post(client, 1, **typed).content.decode()
    assert post(client, 1, **{**typed, f"v{one}": "18408.6"}).status_code == 302
    assert standing() == {"P-61": "18408.6", "P-62": "9216.1"}


def test_an_answer_that_is_none_is_asked_again(pumps: tuple[Position, Position], ruth: Person, ines: Person) -> None:
    walk = walk_of(pumps, by=ruth, apart=False)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    typed = {f"v{one}": "9216.1", f"v{other}": "9216.1", f"a{one}-exchanged": "round"}
    answer = post(browser_of(ines), 1, **typed)
    assert (answer.status_code, HEAD in answer.content.decode()) == (422, True)


# -------------------------------------------------------------------------------------------- at two check points


def test_the_number_written_at_the_earlier_check_point_is_corrected_with_it(
    pumps: tuple[Position, Position], ruth: Person, ines: Person, clock: Clock
) -> None:
    walk = walk_of(pumps, by=ruth, apart=True)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    client = browser_of(ines)
    first = post(client, 1, **{f"v{one}": "9216.1"})
    assert HEAD in first.content.decode()
    assert (
        post(
            client,
            1,
            **{f"v{one}": "9216.1", f"a{one}-exchanged": "stands", f"a{one}-fell": "replaced"}
            | {f"o{one}": "18402.6", f"n{one}": "9216.0"},
        ).status_code
        == 302
    )
    # It was said to be another counter, so nothing is put right by exchanging the two.
    clock.forward(minutes=4)
    assert "put both right" not in post(client, 2, **{f"v{other}": "18408.6"}).content.decode()


def test_what_a_phone_kept_is_asked_when_it_arrives_and_at_the_next_check_point_both_are_put_right(
    pumps: tuple[Position, Position], ruth: Person, ines: Person, clock: Clock
) -> None:
    walk = walk_of(pumps, by=ruth, apart=True)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    clock.forward(minutes=10)
    client = browser_of(ines)
    assert post(client, 1, waited="300", **{f"v{one}": "9216.1"}).status_code == 302
    assert f"{HEAD} not answered." in client.get("/walk/1/").content.decode()
    typed = {f"v{other}": "18408.6"}
    assert "put both right" in post(client, 2, **typed).content.decode()
    was = Reading.objects.get(entered="9216.1")
    assert post(client, 2, **typed, **{f"a{other}-exchanged": "round"}).status_code == 302
    assert standing() == {"P-61": "18408.6", "P-62": "9216.1"}
    right = Reading.objects.get(replaces=was)
    assert (right.entered, right.taken_at, right.position) == ("18408.6", was.taken_at, pumps[0])
    said = client.get("/walk/1/").content.decode()
    assert "corrected to 18408.6 h" in said
    assert "First typed: 18408.6" in said


def test_a_late_pair_is_put_right_by_nobody(
    pumps: tuple[Position, Position], ruth: Person, ines: Person, clock: Clock
) -> None:
    walk = walk_of(pumps, by=ruth, apart=False)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    clock.forward(minutes=10)
    client = browser_of(ines)
    assert post(client, 1, waited="300", **{f"v{one}": "9216.1", f"v{other}": "18408.6"}).status_code == 302
    assert standing() == {"P-61": "9216.1", "P-62": "18408.6"}
    assert f"{HEAD} not answered." in client.get("/walk/1/").content.decode()


# -------------------------------------------------------------------------------------------------- a second answer


def test_a_second_answer_that_is_taken_keeps_its_questions_its_counter_and_its_order(
    pumps: tuple[Position, Position], ruth: Person, ines: Person
) -> None:
    walk = walk_of(pumps, by=ruth, apart=False)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    two = browser_of(ruth)
    post(browser_of(ines), 1, **{f"v{one}": "18408.6", f"v{other}": "9212.0"})
    typed = {f"v{one}": "0.4", f"a{one}-fell": "replaced", f"o{one}": "18404.0", f"n{one}": "0"}
    typed |= {f"v{other}": "9260.0", f"a{other}-too-long": "stands", f"w{other}": "on", f"t{other}": "improvement"}
    told = post(two, 1, **typed)
    second = StopAnswer.objects.get(beside__isnull=False)
    assert f"second={second.pk}" in told.url
    shown = two.get(told.url).content.decode()
    assert "Longer than there was time: Still 9260.0 h." in shown
    assert "It shows less than before: Another counter was put in." in shown
    assert not WorkOrder.objects.exists()
    taken = take_second(second=second, by=ines)
    entries = {entry.line_id: entry for entry in taken.entries.all()}
    assert entries[other].asked == second.entries.get(line=other).asked != ""
    assert CounterBreak.objects.get().reading == entries[one].reading
    assert CounterBreak.objects.get().old_last == "18404.0"
    assert WorkOrder.objects.get().type == "improvement"
    after = two.get("/walk/1/").content.decode()
    assert "Longer than there was time: Still 9260.0 h." in after


def test_a_second_answer_that_was_exchanged_puts_both_right_when_it_is_taken(
    pumps: tuple[Position, Position], ruth: Person, ines: Person, clock: Clock
) -> None:
    walk = walk_of(pumps, by=ruth, apart=True)
    one, other = (lines_of(walk)[tag] for tag in ("P-61", "P-62"))
    client = browser_of(ines)
    post(client, 1, waited="10", **{f"v{one}": "9216.1"})
    clock.forward(minutes=5)
    post(client, 2, waited="10", **{f"v{other}": "18408.6"})
    post(browser_of(ruth), 2, **{f"v{other}": "18408.6", f"a{other}-exchanged": "round"})
    assert standing() == {"P-61": "9216.1", "P-62": "18408.6"}
    take_second(second=StopAnswer.objects.get(beside__isnull=False), by=ruth)
    assert standing()["P-61"] == "18408.6"


# ------------------------------------------------------------------------------------------------ starts, kinds of work


def test_starts_are_asked_on_a_walk_with_a_sane_limit_and_their_rollover(
    site: Site, ruth: Person, ines: Person
) -> None:
    pump = make_position(site=site, does="moves", tag="P-7")
    read_before(pump, "9700", "9760", by=ruth, what="Starts", unit="starts")
    made = make_round(site=site, by=ruth)
    make_line(make_point(made, by=ruth, position=pump), by=ruth, kind="counter", what="Starts", unit="starts")
    walk = begin_walk(round=made, by=ines)
    line, client = line_of(stop_of(walk)).pk, browser_of(ines)
    assert "At most 481 starts more than yesterday" in client.get("/walk/1/1/").content.decode()
    assert "Starts are counted whole" in post(client, 1, **{f"v{line}": "9800.5"}).content.decode()
    assert "is 490 starts in 24 h" in post(client, 1, **{f"v{line}": "10250"}).content.decode()
    rolled = {f"v{line}": "20", f"a{line}-fell": "rolled over", f"m{line}": "10000"}
    assert post(client, 1, **rolled).status_code == 302
    assert CounterBreak.objects.get().modulus == "10000"


def test_starts_read_on_the_walk_bring_a_routine_by_starts_due(
    site: Site, ruth: Person, ines: Person, clock: Clock
) -> None:
    pump = make_position(site=site, does="moves", tag="P-9")
    read_before(pump, "9700", "9760", by=ruth, what="Starts", unit="starts", hours=1)
    by_starts = Interval(mode="usage", source="maker", reads="Starts", reads_unit="starts", use_every="300")
    plan = make_plan(pump, by=ruth, interval=by_starts, title="Look at the contactor")
    make_done(plan, timezone.now(), by=ines)
    assert by_use(open_item(plan)).startswith("At 10060 starts; 9760 starts now")
    made = make_round(site=site, by=ruth)
    make_line(make_point(made, by=ruth, position=pump), by=ruth, kind="counter", what="Starts", unit="starts")
    begin_walk(round=made, by=ines)
    line, client = line_of(stop_of(Walk.objects.get())).pk, browser_of(ines)
    clock.forward(hours=15)
    # 240 to the turn at 10,000 and 60 after it are 300: due at 10,060 of the count that goes on
    rolled = {f"v{line}": "60", f"a{line}-fell": "rolled over", f"m{line}": "10000", f"a{line}-tenfold": "stands"}
    assert post(client, 1, **rolled).status_code == 302
    item = open_item(plan)
    assert item.due == clock().astimezone(site.zone).date()
    assert "10060 starts now" in by_use(item)


@pytest.mark.parametrize(("matters", "kind"), [("safety", "corrective immediate"), ("other", "corrective deferred")])
def test_an_order_of_the_walk_asks_its_kind_with_what_is_usual_chosen(
    site: Site, ruth: Person, ines: Person, matters: str, kind: str
) -> None:
    place = make_position(site=site, does="moves", tag="P-8", matters_for=matters)
    made = make_round(site=site, by=ruth)
    make_line(make_point(made, by=ruth, position=place), by=ruth)
    walk = begin_walk(round=made, by=ines)
    look, client = line_of(stop_of(walk)).pk, browser_of(ines)
    assert f'<option value="{kind}" selected>' in client.get("/walk/1/1/").content.decode()
    wrong = {f"v{look}": "bad", f"d{look}": "drips", f"w{look}": "on", f"t{look}": "urgent"}
    refused = post(client, 1, **wrong)
    assert (refused.status_code, WorkOrder.objects.count()) == (422, 0)
    assert "drips" in refused.content.decode()
    assert post(client, 1, **{**wrong, f"t{look}": kind}).status_code == 302
    assert WorkOrder.objects.get().type == kind
