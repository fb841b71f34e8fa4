"""A person's browser without a screen: cookies, forms as they stand on the page, what they are filled with, answers."""

from __future__ import annotations

import http.client
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from html.parser import HTMLParser
from http.cookiejar import CookieJar
from typing import Any

PATIENCE_S = 30
NO_ANSWER = (OSError, http.client.HTTPException)
"""What a client sees of a server that was killed: a refused or broken connection, half an answer."""


class _StayHere(urllib.request.HTTPRedirectHandler):
    """An answer that leads on is an answer; nobody follows it unasked."""

    def redirect_request(self, *_: Any) -> None:
        return None


@dataclass(frozen=True)
class Answer:
    """What came back: `leads_to` is the page a kept form goes on to."""

    status: int
    leads_to: str
    page: str

    @property
    def kept(self) -> bool:
        """Whether the site says that it has kept what was sent."""
        return self.status == http.client.FOUND


@dataclass
class Form:
    """One form as it stands on a page, by its method and address; `fields` are sent."""

    action: str
    fields: dict[str, str] = field(default_factory=dict)

    def filled(self, **typed: str) -> Form:
        """The form with some fields typed."""
        unknown = typed.keys() - self.fields.keys()
        assert not unknown, f"the page has no field {sorted(unknown)}; it has {sorted(self.fields)}"
        return Form(self.action, self.fields | typed)


class _Forms(HTMLParser):
    """Reads every posting form of a page, each field with the value it would be sent with."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.open: Form | None = None
        self.choosing = self.writing = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form" and given.get("method", "").lower() == "post":
            self.open = Form(given.get("action", ""))
            self.forms.append(self.open)
        elif self.open is not None and given.get("name"):
            self._field(self.open.fields, tag, given)
        elif self.open is not None and tag == "option" and self.choosing and "selected" in given:
            self.open.fields[self.choosing] = given.get("value", "")

    def _field(self, fields: dict[str, str], tag: str, given: dict[str, str]) -> None:
        name = given["name"]
        if tag == "input" and given.get("type") in {"radio", "checkbox"}:
            fields.setdefault(name, "")
            if "checked" in given:
                fields[name] = given.get("value", "on")
        elif tag == "input":
            fields[name] = given.get("value", "")
        elif tag in {"textarea", "select"}:
            fields[name] = ""
            self.writing, self.choosing = (name, "") if tag == "textarea" else ("", name)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open = None
        elif tag == "select":
            self.choosing = ""
        elif tag == "textarea":
            self.writing = ""

    def handle_data(self, data: str) -> None:
        if self.writing and self.open is not None:
            self.open.fields[self.writing] += data


def forms_of(page: str) -> list[Form]:
    """Return the posting forms of a page."""
    reader = _Forms()
    reader.feed(page)
    return reader.forms


class Browser:
    """One device: its cookies, and where the site is now (it moves when it is started again)."""

    def __init__(self, where: Callable[[], str]) -> None:
        self.where = where
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()), _StayHere())

    def towards(self, where: Callable[[], str]) -> Browser:
        """The same device, with its cookies, speaking to another process of the same site."""
        other = Browser(where)
        other.opener = self.opener
        return other

    def signed_in(self, name: str, password: str) -> Browser:
        """Sign in by the form of the sign-in page."""
        form = self.form("/sign-in/", "password")
        answer = self.send(form.filled(sign_in=name, password=password))
        assert answer.kept, f"{name} could not sign in: {answer.status}\n{answer.page[:2000]}"
        return self

    def get(self, path: str) -> Answer:
        """Look at a page."""
        return self._answer(path, None)

    def form(self, path: str, with_field: str) -> Form:
        """Open a page and return its form that has this field."""
        answer = self.get(path)
        assert answer.status == http.client.OK, f"{path}: {answer.status}\n{answer.page[:2000]}"
        (form,) = [form for form in forms_of(answer.page) if with_field in form.fields]
        return Form(urllib.parse.urljoin(path, form.action), form.fields)

    def send(self, form: Form) -> Answer:
        """Send a form; raises one of NO_ANSWER when the site is gone."""
        return self._answer(form.action, urllib.parse.urlencode(form.fields).encode())

    def _answer(self, path: str, data: bytes | None) -> Answer:
        try:
            came = self.opener.open(self.where() + path, data, timeout=PATIENCE_S)
        except urllib.error.HTTPError as other:
            came = other
        with came:
            return Answer(came.status, came.headers.get("Location", ""), came.read().decode())
