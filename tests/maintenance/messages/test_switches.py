"""The mail server a site names: what is understood, and the sentence for what is not."""

from __future__ import annotations

import pytest
from django.core.exceptions import ImproperlyConfigured

from spanwell.settings import mail


@pytest.fixture
def named(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    monkeypatch.setenv("SPANWELL_MAIL_HOST", "mail.works.example")
    monkeypatch.setenv("SPANWELL_MAIL_FROM", "spanwell@works.example")
    return monkeypatch


@pytest.mark.parametrize(("security", "port"), [("", 587), ("starttls", 587), ("TLS", 465), ("none", 25)])
def test_the_usual_port_of_each_security(named: pytest.MonkeyPatch, security: str, port: int) -> None:
    if security:
        named.setenv("SPANWELL_MAIL_SECURITY", security)
    assert mail()["port"] == port


@pytest.mark.parametrize(
    ("switch", "value", "sentence"),
    [
        ("SECURITY", "ssl", "write starttls, tls or none"),
        ("PORT", "70000", "write a number like 587"),
        ("PORT", "smtp", "write a number like 587"),
        ("FROM", "", "write the address that messages come from"),
    ],
)
def test_nonsense_stops_the_start_with_a_sentence(
    named: pytest.MonkeyPatch, switch: str, value: str, sentence: str
) -> None:
    named.setenv(f"SPANWELL_MAIL_{switch}", value)
    with pytest.raises(ImproperlyConfigured, match=sentence):
        mail()


def test_without_a_mail_server_nothing_else_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SPANWELL_MAIL_HOST", raising=False)
    assert mail()["host"] == ""
