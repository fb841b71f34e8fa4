"""A bench to check at, and its people signed in."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from assets.models import Person
from tests.conftest import Clock
from tests.make_checks import Bench

Enter = Callable[[Person], Client]


@pytest.fixture
def bench(clock: Clock) -> Bench:
    return Bench()


@pytest.fixture
def enter() -> Enter:
    """Return a function that gives a browser in which a person is signed in."""

    def signed_in(person: Person) -> Client:
        browser = Client()
        browser.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return browser

    return signed_in


@pytest.fixture
def operator(bench: Bench, enter: Enter) -> Client:
    return enter(bench.operator)
