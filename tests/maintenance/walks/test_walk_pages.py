"""The pages of the walk: what stands beside the box, what is asked about a number, what two people are told."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assets.models import CounterBreak, Person, Position, Reading, Role, Site
from maintenance.actions.walks import begin_walk
from maintenance.models import Round, StopAnswer, Walk, WalkEntry, WorkOrder
from tests.assets.signed_in import browser_of, sent
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site
from tests.make_upkeep import make_plan
from tests.make_walks import (
    line_of,
    make_gauge,
    make_line,
    make_point,
    make_round,
    make_small_round,
    make_walk,
    read_before,
    stop_of,
    write,
)

pytestmark = pytest.mark.django_db


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
def gauge(site: Site, ruth: Person) -> Position:
    return make_gauge(site=site, by=ruth)


@pytest.fixture
def pump(site: Site) -> Position:
    return make_position(site=site, does="moves", tag="P-61")


@pytest.fixture
def walk(site: Site, ruth: Person, ines: Person, gauge: Position, pump: Position) -> Walk:
    """A check point that asks a pressure and run hours, and one that asks a look."""
    made = make_round(site=site, by=ruth, name="Morning walk")
    point = make_point(made, by=ruth, position=pump, name="High-lift pump 1")
    make_line(point, by=ruth, kind="reading", what="Discharge pressure", unit="kPa", position=gauge)
    make_line(point, by=ruth, kind="counter", what="Run hours", unit="h")
    make_line(make_point(made, by=ruth), by=ruth)
    read_before(gauge, *(["690", "686", "688"] * 4), by=ines, what="Discharge pressure", unit="kPa")
    read_before(pump, "18378.4", "18402.6", by=ines, what="Run hours", unit="h")
    return begin_walk(round=made, by=ines)


@pytest.fixture
def names(walk: Walk) -> dict[str, str]:
    """The numbers of the two lines."""
    stop = stop_of(walk)
    return {"kpa": str(line_of(stop, "Discharge pressure").pk), "h": str(line_of(stop, "Run hours").pk)}


def post(client: Client, walk: Walk, number: int = 1, **typed: Any) -> Any:
    """Send a check point as its page does."""
    return sent(client, f"/walk/{walk.number}/{number}/", person=str(_person(client)), **typed)


def _person(client: Client) -> str:
    return str(client.session["_auth_user_id"])


def fields(names: dict[str, str], kpa: str = "688", hours: str = "18426.1", **more: str) -> dict[str, str]:
    """What is typed at the pump."""
    renamed = {name.replace("KPA", names["kpa"]).replace("HRS", names["h"]): text for name, text in more.items()}
    return {f"v{names['kpa']}": kpa, f"v{names['h']}": hours, **renamed}


def test_last_numbers_limits_and_the_usual_stand_beside_the_box_and_never_in_it(
    walk: Walk, ines: Person, names: dict[str, str]
) -> None:
    text = browser_of(ines).get("/walk/1/1/").content.decode()
    for said in ("Limits 560 to 720 kPa", "Usual 674 to 702 kPa", "Yesterday 07:05:", "688 kPa", "Ines Calder"):
        assert said in text, said
    assert "At most 24.1 h more than yesterday 07:05" in text
    assert f'name="v{names["kpa"]}" maxlength="24" value=""' in text


def test_a_plain_walk_goes_on_to_the_next_check_point(walk: Walk, ines: Person, names: dict[str, str]) -> None:
    client = browser_of(ines)
    assert post(client, walk, **fields(names)).url == "/walk/1/2/"
    look = line_of(stop_of(walk, 2)).pk
    assert post(client, walk, 2, **{f"v{look}": "good"}).url == "/walk/1/"
    assert [reading.entered for reading in Reading.objects.filter(source="walk 1, check point 1")] == ["18426.1", "688"]
    text = client.get("/walk/1/").content.decode()
    assert "Nothing was odd." in text
    assert "2 done" in text


def test_over_its_limit_asks_at_once_what_was_done_and_offers_a_work_order(
    walk: Walk, ines: Person, names: dict[str, str]
) -> None:
    client, k = browser_of(ines), names["kpa"]
    asked = post(client, walk, **fields(names, kpa="742"))
    text = asked.content.decode()
    assert asked.status_code == 422
    assert "Above the operating limit, 720 kPa" in text
    assert "742 kPa is 22 over. Yesterday 07:05 it was 688 kPa. Look again: is it steady?" in text
    assert 'value="742"' in text
    assert f'name="f{k}" value="742"' in text
    assert not StopAnswer.objects.exists()
    still = {"aKPA-limit-high": "stands"}
    silent = post(client, walk, **fields(names, kpa="742", **still))
    assert "Say what you did about it" in silent.content.decode()
    done = post(client, walk, **fields(names, kpa="742", dKPA="closed the recirculation", wKPA="on", **still))
    assert done.status_code == 302
    entry = WalkEntry.objects.get(typed="742")
    assert (entry.words, "Still 742 kPa" in entry.asked) == ("closed the recirculation", True)
    assert WorkOrder.objects.get().position == entry.line.position


def test_a_misread_number_is_typed_anew_and_both_are_kept(walk: Walk, ines: Person, names: dict[str, str]) -> None:
    client = browser_of(ines)
    slip = {"aKPA-limit-high": "slip", "fKPA": "742"}
    same = post(client, walk, **fields(names, kpa="742", **slip))
    assert "write what it really shows" in same.content.decode()
    assert post(client, walk, **fields(names, kpa="700", **slip)).status_code == 302
    assert WalkEntry.objects.get(typed="700").first_typed == "742"


def test_a_limit_that_is_just_met_is_no_question(walk: Walk, ines: Person, names: dict[str, str]) -> None:
    assert post(browser_of(ines), walk, **fields(names, kpa="720.0", **{"aKPA-far": "stands"})).status_code == 302


@pytest.mark.parametrize(
    ("kpa", "hours", "says"),
    [
        ("68.8", "18426.1", "Did you mean 688?"),
        ("688", "18460.0", "but only 24 h went by"),
        ("688", "1842.6", "It shows less than before"),
        ("688", "184261", "Has the point slipped?"),
        ("688", "", "Write what it shows, or say why it could not be read."),
        ("many", "18426.1", "is not a number"),
    ],
)
def test_a_doubtful_number_is_asked_about_and_stays_in_its_box(
    walk: Walk, ines: Person, names: dict[str, str], kpa: str, hours: str, says: str
) -> None:
    answer = post(browser_of(ines), walk, **fields(names, kpa=kpa, hours=hours))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert says in text
    assert f'name="v{names["kpa"]}" maxlength="24" value="{kpa}"' in text
    assert not Reading.objects.filter(source__startswith="walk").exists()


def test_a_counter_that_was_exchanged_asks_its_two_numbers(walk: Walk, ines: Person, names: dict[str, str]) -> None:
    client, said = browser_of(ines), {"aHRS-fell": "replaced"}
    asked = post(client, walk, **fields(names, hours="0.4", **said))
    assert {f"o{names['h']}", f"n{names['h']}"} <= set(asked.context["form"].errors)
    assert "Write this number too." in asked.content.decode()
    wrong = post(client, walk, **fields(names, hours="0.4", oHRS="18000", nHRS="0", **said))
    assert "Neither can have fallen" in wrong.content.decode()
    assert post(client, walk, **fields(names, hours="0.4", oHRS="18410.2", nHRS="0", **said)).status_code == 302
    assert CounterBreak.objects.get().old_last == "18410.2"


def test_the_same_number_for_a_week_is_asked_about(site: Site, ruth: Person, ines: Person) -> None:
    level = make_position(site=site, tag="LI-501", quantity="Level", unit="m")
    made = make_round(site=site, by=ruth)
    make_line(make_point(made, by=ruth, position=level), by=ruth, kind="reading", what="Level", unit="m")
    read_before(level, *["3.20"] * 8, by=ines, what="Level", unit="m")
    walk = begin_walk(round=made, by=ines)
    line = line_of(stop_of(walk)).pk
    client = browser_of(ines)
    text = post(client, walk, **{f"v{line}": "3.20"}).content.decode()
    assert "The same number for 8 days" in text
    assert post(client, walk, **{f"v{line}": "3.20", f"a{line}-same": "still"}).status_code == 302
    assert "It does not move" in WalkEntry.objects.get().asked


def test_what_lay_on_the_phone_is_taken_with_its_questions_unanswered_and_shown_as_odd(
    walk: Walk, ines: Person, names: dict[str, str], clock: Clock
) -> None:
    clock.forward(minutes=30)
    client = browser_of(ines)
    assert post(client, walk, waited="1380", **fields(names, hours="18460.0")).status_code == 302
    text = client.get("/walk/1/").content.decode()
    assert "Longer than there was time: not answered." in text
    assert "Written 07:12 by Ines Calder, arrived 07:35." in text


def test_the_same_answer_sent_again_later_counts_once(walk: Walk, ines: Person, names: dict[str, str]) -> None:
    client = browser_of(ines)
    shown = client.get("/walk/1/1/").context["form"]
    typed = {"key": shown["key"].value(), "person": str(ines.pk), **fields(names)}
    answers = [client.post("/walk/1/1/", {**typed, "waited": waited}) for waited in ("", "40", "90")]
    assert {answer.url for answer in answers} == {"/walk/1/2/"}
    assert StopAnswer.objects.count() == 1


def test_who_is_signed_in_by_now_does_not_send_what_another_person_wrote(
    walk: Walk, ines: Person, ruth: Person, names: dict[str, str]
) -> None:
    answer = sent(browser_of(ruth), "/walk/1/1/", person=str(ines.pk), **fields(names))
    assert answer.status_code == 422
    assert "written by somebody else who was signed in on this phone" in answer.content.decode()
    assert not StopAnswer.objects.exists()


def test_not_running_counts_as_done_and_what_was_typed_is_kept_too(
    walk: Walk, ines: Person, names: dict[str, str]
) -> None:
    client = browser_of(ines)
    nothing = post(client, walk, outcome="skip", **fields(names, kpa=""))
    assert "Choose whether it is not running, or could not be done." in nothing.content.decode()
    silent = post(client, walk, outcome="skip", how="could not", **fields(names, kpa=""))
    assert "Say why it could not be done" in silent.content.decode()
    assert post(client, walk, outcome="skip", how="not running", **fields(names, kpa="")).url == "/walk/1/2/"
    assert [entry.typed for entry in StopAnswer.objects.get().entries.all()] == ["18426.1"]
    assert "1 skipped with a reason" in client.get("/walk/1/2/").content.decode()


def test_two_phones_at_one_check_point_the_second_is_told_and_can_let_its_own_count(
    walk: Walk, ines: Person, ruth: Person, names: dict[str, str]
) -> None:
    one, two = browser_of(ines), browser_of(ruth)
    shown = two.get("/walk/1/1/").context["form"]
    assert post(one, walk, **fields(names)).status_code == 302
    told = two.post(
        "/walk/1/1/",
        {"key": shown["key"].value(), "person": str(ruth.pk), **fields(names, kpa="701")},
        follow=True,
    )
    text = told.content.decode()
    assert "Ines Calder wrote this check point first" in text
    assert "701 kPa" in text
    first, second = StopAnswer.objects.order_by("id")
    two.post(f"/walk/second/{second.pk}/take/", {"key": "k" * 20, "shown": str(first.pk)})
    assert StopAnswer.objects.counting().get().written_by == ruth
    assert Reading.objects.filter(entered="701").exists()
    late = two.post(f"/walk/second/{second.pk}/take/", {"key": "l" * 20, "shown": str(first.pk)}, follow=True)
    assert "This counts already." in late.content.decode()


def test_a_walk_is_begun_and_ended_from_its_pages_and_the_day_names_it(site: Site, ruth: Person, ines: Person) -> None:
    client = browser_of(ines)
    make_position(site=site)
    assert "/walk/" not in client.get("/").content.decode(), "no round, no walk"
    make_point(make_round(site=site, by=ruth, name="Evening walk"), by=ruth, name="UV")
    today = client.get("/").content.decode()
    assert "Next: Evening walk, 1 check point, from 06:30." in today
    assert '<a href="/walk/">Walk</a>' in today
    begun = client.post(f"/walk/rounds/{Round.objects.get().pk}/begin/", {"key": "a" * 20})
    assert begun.url == "/walk/1/1/"
    ended = client.post("/walk/1/end/", {"key": "b" * 20, "person": str(ines.pk)}, follow=True)
    assert "1 of 1 check point left undone: UV." in ended.content.decode()
    assert "Walked today" in client.get("/walk/").content.decode()
    again = client.post("/walk/1/end/", {"key": "c" * 20, "person": str(ines.pk)})
    assert (again.status_code, "ended already" in again.content.decode()) == (422, True)


def _queries(client: Client, path: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert client.get(path).status_code == 200
    return len(seen)


@pytest.mark.parametrize("path", ["/walk/", "/walk/{n}/", "/walk/{n}/1/", "/walk/rounds/{r}/", "/"])
def test_few_and_many_check_points_take_the_same_number_of_queries(
    site: Site, ruth: Person, ines: Person, path: str
) -> None:
    client = browser_of(ruth)
    client.get("/")
    counts = []
    for points in (2, 12):
        gauge = make_gauge(site=site, by=ruth, tag=f"PI-{points}")
        made = make_small_round(site=site, by=ruth, points=points)
        for point in made.points.all():
            for n in range(points):
                make_line(point, by=ruth, kind="reading", what=f"Pressure {n}", unit="kPa", position=gauge)
        walk = begin_walk(round=made, by=ines)
        write(stop_of(walk, 1), by=ines)
        write(stop_of(walk, 2), by=ines)
        counts.append(_queries(client, path.format(n=walk.number, r=made.pk)))
    assert counts[0] == counts[1]


def test_the_walks_come_as_files_with_their_text_kept_text(site: Site, ruth: Person, ines: Person) -> None:
    made = make_small_round(site=site, by=ruth, points=1)
    walk = begin_walk(round=made, by=ines)
    client = browser_of(ines)
    lines = client.get(f"/walk/walks.csv?round={made.pk}").content.decode().splitlines()
    assert lines[1].startswith(f"{walk.number},{made.name},2026-11-25 07:05,Ines Calder,,,1,1,0,")
    assert client.get("/walk/walks.xlsx").content[:2] == b"PK"


def test_the_worker_is_a_script_that_any_phone_may_ask_for(client: Client) -> None:
    answer = client.get("/walk/worker.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert b"addEventListener" in answer.content


def test_rounds_are_kept_on_pages_with_a_sentence_at_the_field(site: Site, ruth: Person) -> None:
    client = browser_of(ruth)
    wrong = sent(client, "/walk/rounds/new/", name="Evening", days=["1", "5"], asked_from="half six")
    assert "is no time of day; write it like 06:30" in wrong.content.decode()
    made = sent(client, "/walk/rounds/new/", name="Evening", days=["1", "5"], asked_from="6:30")
    found = Round.objects.get()
    assert (made.url, found.days, found.asked_from) == (f"/walk/rounds/{found.pk}/", "15", "06:30")
    assert "Monday and Friday, from 06:30" in client.get(made.url).content.decode()
    sent(client, f"{made.url}points/new/", name="UV", caution="Do not look into the light.")
    point = found.points.get()
    unit = sent(client, f"/walk/points/{point.pk}/lines/new/", kind="reading", what="Dose", face="display")
    assert "Choose the unit in which it is read." in unit.content.decode()
    tag = make_position(site=site, tag="UVI-390", quantity="UV dose", unit="mJ/cm²")
    facts = {"kind": "reading", "what": "UV dose", "face": "HMI", "unit": "mJ/cm²", "position": str(tag.pk)}
    assert sent(client, f"/walk/points/{point.pk}/lines/new/", **facts).status_code == 302
    text = client.get(made.url).content.decode()
    assert "Do not look into the light." in text
    assert "read at HMI" in text
    assert sent(client, f"/walk/points/{point.pk}/place/", to="1").status_code == 302


def test_a_walk_of_another_day_is_no_walk_of_today(site: Site, ines: Person, clock: Clock) -> None:
    walk = make_walk(site=site, by=ines)
    clock.forward(days=1)
    text = browser_of(ines).get("/walk/").content.decode()
    assert f"Go on with walk {walk.number}" in text
    assert timezone.now() - walk.begun_at == dt.timedelta(days=1)


def test_a_due_item_that_a_round_fulfils_begins_at_the_walk(site: Site, ruth: Person, ines: Person) -> None:
    place = make_position(site=site, tag="STR-05", does="moves")
    walked, by_hand = (make_plan(target=place, by=ruth, kind="inspect", title=title) for title in ("Look", "Feel"))
    make_round(site=site, by=ruth, plan=walked)
    leads = {plan: browser_of(ines).get(f"/do/{plan.occurrences.get().pk}/")["Location"] for plan in (walked, by_hand)}
    assert leads[walked] == "/walk/"
    assert leads[by_hand].startswith("/upkeep/")
