"""Browsers of plant people and of a contractor, who send the forms the pages carry."""

from __future__ import annotations

import html
import re
from typing import Any

from django.http import HttpResponse
from django.test import Client

from assets.models import Person
from maintenance.actions.lockout.links import invite
from maintenance.compute.lockout_off import field_of, questions_of
from tests.make import PIN
from tests.make_locks import Pump, stamp_of


def browser_of(person: Person) -> Client:
    """A signed-in browser."""
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def words(response: HttpResponse) -> str:
    """What a page says, without its tags."""
    text = re.sub(r"<(script|style).*?</\1>", " ", response.content.decode(), flags=re.DOTALL)
    spaced = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())
    return re.sub(r" ([.,:;])", r"\1", spaced)


def send(client: Client, path: str, **typed: Any) -> HttpResponse:
    """Open a page with one form, and send it with its key."""
    shown = client.get(path)
    assert shown.status_code == 200, (path, shown.status_code)
    return client.post(path, {"key": shown.context["form"]["key"].value(), **typed})


def seen_at(pump: Pump, number: str, place: str) -> dict[str, str]:
    """What is read at a lock and at the plate of its place."""
    plate = pump.box.plate_code if place == "box" else pump.points[place].plate_code
    return {"stamp": stamp_of(number)[-3:], "plate": plate}


class Phone:
    """K's phone: in by the link, each lock act with the code."""

    def __init__(self, pump: Pump) -> None:
        self.pump = pump
        self.client = Client()
        issued = invite(lockout=pump.lockout, person=pump.kim, by=pump.ruth)
        self.token, self.code = issued.token, issued.code

    def enter(self) -> HttpResponse:
        """Open the link."""
        return self.client.get(f"/j/{self.token}/", follow=True)

    def page(self) -> HttpResponse:
        """Look at the job."""
        return self.client.get("/job/")

    def send(self, which: str, path: str, **typed: Any) -> HttpResponse:
        """Send one of the forms of the job page, with its key."""
        form = self.page().context["forms"][which]
        return self.client.post(path, {"key": form["key"].value(), **typed}, follow=True)

    def put_on(self, **other: str) -> HttpResponse:
        """K-1 on the box."""
        typed = {
            "lock": str(self.pump.locks["K-1"].pk),
            **seen_at(self.pump, "K-1", "box"),
            "proof": self.code,
            **other,
        }
        return self.send("on", "/job/on/", **typed)

    def take_off(self, *, answers: dict[str, str], number: str = "K-1", **other: str) -> HttpResponse:
        """K-1 off the box, with answers by question."""
        asked = questions_of(self.pump.story())
        fields = {field_of(n): answers[topic] for n, topic in enumerate(asked, 1) if topic in answers}
        typed = {**seen_at(self.pump, "K-1", "box"), "proof": self.code, **fields, **other}
        return self.send("off", f"/job/off/{self.pump.application(number).pk}/", **typed)


def take_off_page(pump: Pump, number: str, place: str, *, by: Person, answers: dict[str, str]) -> HttpResponse:
    """A lock of the plant off its point, from its page."""
    client = browser_of(by)
    asked = questions_of(pump.story())
    fields = {field_of(n): answers[topic] for n, topic in enumerate(asked, 1) if topic in answers}
    path = f"/locks/{pump.lockout.number}/off/{pump.application(number).pk}/"
    return send(client, path, **seen_at(pump, number, place), **fields, proof=PIN)
