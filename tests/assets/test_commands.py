"""The command line: starting a site without a default password, and with every refusal in a sentence."""

from __future__ import annotations

import io
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from assets.models import Person, Role, Site
from assets.permissions import role_of

pytestmark = pytest.mark.django_db
GOOD, OTHER = "river-stone-93-x", "meadow-lamp-27-y"
GIVEN = {
    "name": "Fern Works",
    "time_zone": "America/Denver",
    "supervisor": "Ruth Penhall",
    "supervisor_sign_in": "Ruth",
    "administrator": "Ada Merrow",
    "administrator_sign_in": "ada",
}


@pytest.fixture(autouse=True)
def no_terminal(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{GOOD}\n{OTHER}\n"))


def start(**given) -> str:
    out = StringIO()
    call_command("start_site", stdout=out, **{**GIVEN, **given})
    return out.getvalue()


def check(name: str, password: str) -> bool:
    return Person.objects.get(name=name).check_password(password)


def test_passwords_come_from_the_standard_input() -> None:
    assert "Fern Works is started. Ruth Penhall signs in as Ruth." in start(passwords_from_stdin=True)
    assert check("Ruth Penhall", GOOD) and check("Ada Merrow", OTHER)
    site = Site.objects.get()
    assert (site.ask_name, role_of(Person.objects.get(name="Ada Merrow"), site)) == ("Ruth Penhall", Role.ADMINISTRATOR)


def test_passwords_come_from_the_environment(monkeypatch) -> None:
    monkeypatch.setenv("SPANWELL_SUPERVISOR_PASSWORD", GOOD)
    start(no_administrator=True)
    assert check("Ruth Penhall", GOOD)
    assert Person.objects.get().is_staff


def test_at_a_terminal_it_asks_and_takes_the_password_twice(monkeypatch) -> None:
    answers = iter(["Fern Works", "America/Denver"])
    typed = iter([GOOD, GOOD])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda question: next(answers))
    monkeypatch.setattr("getpass.getpass", lambda question: next(typed))
    start(name=None, time_zone=None, no_administrator=True)
    assert check("Ruth Penhall", GOOD) and Site.objects.get().time_zone == "America/Denver"


def test_two_different_passwords_leave_nothing(monkeypatch) -> None:
    typed = iter([GOOD, OTHER])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("getpass.getpass", lambda question: next(typed))
    with pytest.raises(CommandError, match="not the same"):
        start(no_administrator=True)
    assert not Site.objects.exists()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"name": None}, "--name"),
        ({"supervisor_sign_in": None}, "--supervisor-sign-in"),
        ({}, "No password for Ruth Penhall"),
        ({"time_zone": "Mountain", "passwords_from_stdin": True}, "Nothing was written. “Mountain” is not a time zone"),
        ({"administrator_sign_in": "ruth", "passwords_from_stdin": True}, "has this sign-in name already"),
    ],
)
def test_what_is_missing_or_wrong_is_said_and_nothing_is_written(given, words) -> None:
    with pytest.raises(CommandError, match=words):
        start(**given)
    assert not Site.objects.exists() and not Person.objects.exists()


def test_no_password_is_an_argument() -> None:
    with pytest.raises(TypeError, match="Unknown option"):
        start(password=GOOD)
