"""What a link asks of a list: its filters, its page, every row for paper, a file."""

from __future__ import annotations

import pytest
from django.http import Http404
from django.test import RequestFactory

from assets import lists
from assets.lists import asked_of, page_number

SHOW = {"": "All", "on": "On", "off": "Off"}
ROWS = [f"row {number}" for number in range(1, 121)]


def asked(query: str) -> lists.Asked:
    return asked_of(RequestFactory().get(f"/some/list/?{query}"), show=SHOW, find=None)


@pytest.mark.parametrize(
    ("page", "first", "last", "before", "after"),
    [
        ("", 1, 50, "", "?page=2"),
        ("page=2", 51, 100, "?", "?page=3"),
        ("page=3", 101, 120, "?page=2", ""),
        ("page=9", 0, 0, "?page=8", ""),
    ],
)
def test_fifty_rows_stand_on_a_page(page: str, first: int, last: int, before: str, after: str) -> None:
    shown, pager = asked(page).cut(ROWS)
    assert (pager.first, pager.last, pager.total) == (first, last, "120")
    assert (pager.before_url, pager.after_url, pager.every_url) == (before, after, "?page=all")
    assert shown == (ROWS[first - 1 : last] if first else [])


def test_for_paper_every_row_of_the_filter_stands_on_one_page(monkeypatch: pytest.MonkeyPatch) -> None:
    shown, pager = asked("show=on&page=all").cut(ROWS)
    assert shown == ROWS and pager.pages_url == "?show=on" and not (pager.every_url or pager.after_url)
    monkeypatch.setattr(lists, "EVERY", 100)
    shown, pager = asked("page=all").cut(ROWS)
    assert (len(shown), pager.last, pager.total) == (100, 100, "120")  # the page says that these are not all


def test_a_filter_keeps_the_others_and_leaves_the_page() -> None:
    one = asked("show=on&find=pump%20%26%20co&page=2")
    assert [(link.label, link.url, link.current) for link in one.links("show")] == [
        ("All", "?find=pump+%26+co", False),
        ("On", "?show=on&find=pump+%26+co", True),
        ("Off", "?show=off&find=pump+%26+co", False),
    ]
    assert [link.label for link in one.links("show", only={"off", ""})] == ["All", "Off"]
    assert (one.finder("Name").kept, one.finder("Name").all_url) == ({"show": "on"}, "?show=on")
    _, pager = one.cut(ROWS)
    assert pager.only == "On, “pump & co”"
    assert pager.csv_url == "?show=on&find=pump+%26+co&as=csv"
    assert one.cut(ROWS, files=False)[1].csv_url == one.cut([])[1].csv_url == ""


@pytest.mark.parametrize("query", ["show=nonsense", "as=pdf"])
def test_what_no_list_knows_is_not_found(query: str) -> None:
    with pytest.raises(Http404):
        asked(query)


@pytest.mark.parametrize(
    ("text", "number"), [("3", 3), ("all", 0), ("0", 1), ("-1", 1), ("x", 1), ("²", 1), ("9" * 9, 1)]
)
def test_a_page_that_is_no_number_is_the_first(text: str, number: int) -> None:
    assert page_number(text) == number
