"""What a page holds in its boxes, and what stands at a field."""

from __future__ import annotations

from collections.abc import Mapping
from html.parser import HTMLParser

SIGNS = {"minus": "-", "plus": "+"}
VOID = {"input", "br", "link", "meta", "img", "hr", "use", "path", "line", "rect", "circle"}


class _Boxes(HTMLParser):
    """Collects what a browser would post of every form of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.found: dict[str, str] = {}
        self.select = ""
        self.area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        name = given.get("name", "")
        if tag == "input" and name:
            if given.get("type") in {"radio", "checkbox"}:
                if "checked" in given:
                    self.found[name] = given.get("value", "on")
            else:
                self.found[name] = given.get("value", "")
        if tag == "select":
            self.select = name
            self.found.setdefault(name, "")
        if tag == "option" and "selected" in given and self.select:
            self.found[self.select] = given.get("value", "")
        if tag == "textarea":
            self.area = name
            self.found[name] = ""

    def handle_data(self, data: str) -> None:
        if self.area:
            self.found[self.area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self.select = ""
        if tag == "textarea":
            self.area = ""


def boxes_of(html: str) -> dict[str, str]:
    """Return every field of a page with what stands in it; a chosen sign is joined to its number."""
    reader = _Boxes()
    reader.feed(html)
    found = reader.found
    for name in [name for name, value in found.items() if name.endswith("_sign") and value in SIGNS]:
        number = name.removesuffix("_sign")
        found[number] = SIGNS[found[name]] + found.get(number, "")
    return found


class Boxes:
    """The fields that were typed."""

    def __init__(self, typed: Mapping[str, str]) -> None:
        self.typed = typed

    def missing_from(self, there: Mapping[str, str]) -> list[str]:
        """Return what was typed and no longer stands in its box."""
        return [
            f"{name}: {text!r} became {there.get(name)!r}"
            for name, text in self.typed.items()
            if there.get(name, "") != text
        ]


class _At(HTMLParser):
    """Collects the text inside one element by its id."""

    def __init__(self, wanted: set[str]) -> None:
        super().__init__()
        self.wanted = wanted
        self.depth = 0
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in VOID:
            return
        if self.depth or dict(attrs).get("id") in self.wanted:
            self.depth += 1

    def handle_endtag(self, tag: str) -> None:
        if self.depth and tag not in VOID:
            self.depth -= 1

    def handle_data(self, data: str) -> None:
        if self.depth:
            self.text += data


def text_at(html: str, field: str, *, errors: bool = False) -> str:
    """Return the sentences at a field: doubts and questions, or with `errors` what the form refuses."""
    reader = _At({f"id_{field}_says"} if errors else {f"at-{field}", f"id_{field}_says"})
    reader.feed(html)
    return reader.text
