"""What the mail server takes, refuses or leaves unanswered, and what people are shown of it."""

from __future__ import annotations

import pytest

from assets.actions import PersonFacts, change_person
from assets.models import Event, Role, Site
from assets.reads.records import check_records
from maintenance import tasks
from maintenance.models import Message, MessageTry
from maintenance.reads.messages import post_line
from tests.assets.signed_in import browser_of, sent
from tests.conftest import Clock
from tests.maintenance.messages.people import reachable
from tests.maintenance.messages.post_office import Mood, PostOffice
from tests.make import PASSWORD, PIN, make_position, make_site
from tests.make_upkeep import make_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(morning: Clock, office: PostOffice) -> Site:
    """A site with one message to send."""
    made = make_site(name="Kestrel Hollow Wörks")
    ruth = reachable(site=made, role=Role.SUPERVISOR, name="Ruth Penhall")
    make_order(make_position(site=made, tag="P-41"), by=ruth)
    assert tasks.write_messages() == "1 written"
    return made


def test_a_letter_goes_out_once_with_subject_text_and_address(site: Site, office: PostOffice) -> None:
    assert tasks.send_messages() == "1 sent; 0 not sent"
    assert tasks.send_messages() == "0 sent; 0 not sent"
    letter = office.letters[0]
    assert len(office.letters) == 1
    assert office.to == ["ruth@works.example"]
    assert letter["Subject"].strip() == "Kestrel Hollow Wörks: what is yours, Wednesday 25 November 2026"
    assert "To plan: work order 1, P-41: Replace the packing" in letter.get_content()
    assert check_records() == []


@pytest.mark.parametrize("mood", ["refuses the address", "refuses the letter", "shut"])
def test_what_is_refused_is_kept_shown_and_tried_again(
    site: Site, office: PostOffice, morning: Clock, mood: Mood
) -> None:
    office.mood = mood
    for _ in range(3):
        assert tasks.send_messages() == "0 sent; 1 not sent"
        assert tasks.send_messages() == "0 sent; 0 not sent"  # not at once again
        morning.forward(minutes=20)
    line = post_line(site, morning.now).says
    assert line.startswith("1 message could not be sent yet and will be tried again. The mail server's last word: SMTP")
    ruth = Message.objects.get().person
    assert line.replace("'", "&#x27;") in browser_of(ruth).get("/review/").content.decode()
    office.mood = "takes all"
    assert tasks.send_messages() == "1 sent; 0 not sent"
    assert len(office.letters) == 1
    assert post_line(site, morning.now).says == ""


def test_a_server_that_is_not_there_is_waited_for_until_the_day_is_over(
    site: Site, settings: object, morning: Clock
) -> None:
    settings.EMAIL_PORT = 9  # type: ignore[attr-defined]  # discard: nobody listens there
    tasks.send_messages()
    assert "ConnectionRefusedError" in MessageTry.objects.get().trouble
    morning.forward(days=1)
    assert tasks.send_messages() == "0 sent; 0 not sent"
    assert "Given up in the last 14 days: the morning message of 25 November to Ruth Penhall (not sent in time)." in (
        post_line(site, morning.now).says
    )


def test_a_server_that_does_not_open_is_asked_once_a_round_and_all_that_wait_are_counted(
    site: Site, office: PostOffice, morning: Clock
) -> None:
    for n in range(3):
        reachable(site=site, role=Role.SUPERVISOR, name=f"Person{n} Holm")
    morning.forward(days=1)
    assert tasks.write_messages() == "4 written"
    office.mood = "shut"
    assert tasks.send_messages() == "0 sent; 1 not sent"
    morning.forward(minutes=21)
    assert post_line(site, morning.now).says.startswith("4 messages could not be sent yet and will be tried again.")
    office.mood = "takes all"
    assert tasks.send_messages() == "4 sent; 0 not sent"


def test_a_letter_without_an_answer_is_repeated_once_and_then_named(
    site: Site, office: PostOffice, morning: Clock
) -> None:
    office.mood = "falls silent after the letter"
    for _ in range(4):
        tasks.send_messages()
        morning.forward(minutes=20)
    assert len(office.letters) == 2
    assert len({letter["Message-ID"] for letter in office.letters}) == 1
    assert "to Ruth Penhall (not known whether it went out)" in post_line(site, morning.now).says


def test_the_own_page_shows_what_was_sent_and_switches_it_off(site: Site, office: PostOffice, morning: Clock) -> None:
    ruth = Message.objects.get().person
    tasks.send_messages()
    client = browser_of(ruth)
    page = client.get("/me/messages/").content.decode()
    assert "ruth@works.example" in page
    assert "what is yours, Wednesday 25 November 2026" in page
    assert "Sent." in page
    assert "/me/messages/" in client.get("/me/").content.decode()
    answer = sent(client, "/me/messages/", digest="no", escalation="yes")
    assert answer.status_code == 302
    morning.forward(days=1)
    assert tasks.write_messages() == "0 written"
    bad = sent(client, "/me/messages/", digest="no")
    assert bad.status_code == 422
    assert "Choose whether it is sent to you." in bad.content.decode()


def test_a_person_says_where_their_own_messages_go(site: Site, morning: Clock) -> None:
    ruth = Message.objects.get().person
    client = browser_of(ruth)

    def send(email: str, proof: str) -> tuple[int, str]:
        form = client.get("/me/messages/").context["address"]
        carried = {f"address-{name}": form[name].value() for name in ("key", "version")}
        typed = {"do": "address", "address-email": email, "address-proof": proof}
        answer = client.post("/me/messages/", {**carried, **typed})
        return answer.status_code, answer.content.decode()

    status, page = send("ruth at works", PASSWORD)
    assert status == 422 and "This is no e-mail address. Write it like name@example.org" in page
    assert 'value="ruth at works"' in page
    for proof, why in [("", "Type your present password first."), (PIN, "present password first"), ("x", "4 tries")]:
        status, page = send("ruth.penhall@works.example", proof)
        assert status == 422 and why in page
    ruth.refresh_from_db()
    assert ruth.email == "ruth@works.example"
    assert send("ruth.penhall@works.example", PASSWORD)[0] == 302
    assert Event.objects.get(verb="email.set").by == ruth
    morning.forward(days=1)
    assert tasks.write_messages() == "1 written"
    assert Message.objects.order_by("-pk")[0].address == "ruth.penhall@works.example"
    assert check_records() == []


def test_an_address_changed_meanwhile_by_who_keeps_people_is_not_overwritten(site: Site) -> None:
    ruth = Message.objects.get().person
    client = browser_of(ruth)
    form = client.get("/me/messages/").context["address"]
    change_person(
        site=site, person=ruth, facts=PersonFacts("Ruth Penhall", "ruth-1", email="new@works.example"), by=ruth
    )
    carried = {f"address-{name}": form[name].value() for name in ("key", "version")}
    typed = {"do": "address", "address-email": "old@works.example", "address-proof": PASSWORD}
    answer = client.post("/me/messages/", {**carried, **typed})
    assert answer.status_code == 422 and "changed by somebody else" in answer.content.decode()
    ruth.refresh_from_db()
    assert ruth.email == "new@works.example"
