"""A browser of a person, without the page of signing in."""

from __future__ import annotations

from typing import Any

from django.test import Client

from assets.models import Person


def browser_of(person: Person) -> Client:
    """Return a client that is signed in as a person."""
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def sent(client: Client, path: str, **typed: Any) -> Any:
    """Open a page and send its form with the key and version that it carries."""
    shown = client.get(path)
    assert shown.status_code == 200, (path, shown.status_code)
    form = shown.context["form"]
    carried = {name: form[name].value() for name in ("key", "version") if name in form.fields}
    kept = {name: value for name, value in carried.items() if value is not None}
    return client.post(path, {**kept, **typed})
