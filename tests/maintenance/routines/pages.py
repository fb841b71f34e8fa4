"""The pages of routines as a signed-in person asks for them and fills them in."""

from __future__ import annotations

import secrets

from django.test import Client
from django.urls import reverse

from assets.models import Person, Position
from tests.calibration.browser import boxes_of


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def sent(person: Person, name: str, *args: object, key: str = "", **typed: object):
    url = reverse(f"maintenance:{name}", args=args)
    return client_of(person).post(url, {"key": key or secrets.token_urlsafe(16), **typed})


def page(person: Person, name: str, *args: object) -> str:
    answer = client_of(person).get(reverse(f"maintenance:{name}", args=args))
    assert answer.status_code == 200
    return answer.content.decode()


def routine(tag: Position, **other: object) -> dict[str, object]:
    """What a person types for a monthly routine of their own."""
    typed = {"position": tag.pk, "kind": "upkeep", "title": "Grease", "follows": "position"}
    typed |= {"mode": "floating", "every": "1", "unit": "month", "source": "common practice", **other}
    return {name: value for name, value in typed.items() if value is not None}


def boxes(said: str) -> dict[str, str]:
    """What a browser would send of the form of a page as it stands, the sign of a number apart."""
    found = boxes_of(said)
    return {name: text.lstrip("-+") if f"{name}_sign" in found else text for name, text in found.items()}
