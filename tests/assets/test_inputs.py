"""What people type: moments around both clock changes, numbers with bounds, days."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from assets.inputs import KeyedForm, ProofField, TypedDay, TypedMoment, TypedNumber, WholeNumber

DENVER = ZoneInfo("America/Denver")


@pytest.fixture(autouse=True)
def late_in_the_year(clock):
    # Both changes of 2026 lie behind: clocks go forward on 8 March and back on 1 November in America/Denver
    # (IANA time zone database).
    clock.set(2026, 12, 1)


def moment(typed: str) -> dt.datetime:
    return TypedMoment(zone=DENVER).clean(typed)


def test_a_moment_is_read_in_the_zone_of_the_site() -> None:
    assert moment("2026-11-25 14:05") == dt.datetime(2026, 11, 25, 21, 5, tzinfo=dt.UTC)
    assert moment("2026-06-01T08:00") == dt.datetime(2026, 6, 1, 14, 0, tzinfo=dt.UTC)


def test_the_hour_that_comes_twice_is_asked_about() -> None:
    with pytest.raises(ValidationError, match="came twice.*first.*second"):
        moment("2026-11-01 01:30")
    assert moment("2026-11-01 01:30 first") == dt.datetime(2026, 11, 1, 7, 30, tzinfo=dt.UTC)
    assert moment("2026-11-01 01:30 Second") == dt.datetime(2026, 11, 1, 8, 30, tzinfo=dt.UTC)
    assert moment("2026-11-01 00:59") == dt.datetime(2026, 11, 1, 6, 59, tzinfo=dt.UTC)
    assert moment("2026-11-01 02:00") == dt.datetime(2026, 11, 1, 9, 0, tzinfo=dt.UTC)


@pytest.mark.parametrize("typed", ["2026-03-08 02:30", "2026-03-08 02:00", "2026-03-08 02:59 first"])
def test_an_hour_that_never_was_is_refused(typed: str) -> None:
    with pytest.raises(ValidationError, match="did not exist"):
        moment(typed)


def test_the_minutes_around_the_gap_are_taken() -> None:
    assert moment("2026-03-08 01:59") == dt.datetime(2026, 3, 8, 8, 59, tzinfo=dt.UTC)
    assert moment("2026-03-08 03:00") == dt.datetime(2026, 3, 8, 9, 0, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    "typed", ["03/04/2026 10:00", "2026-11-31 10:00", "2026-11-25", "yesterday", "2026-11-25 25:00"]
)
def test_no_moment_is_refused_with_the_way_to_write_it(typed: str) -> None:
    with pytest.raises(ValidationError, match="like 2026-11-25 14:05"):
        moment(typed)


def test_a_moment_to_come_is_refused() -> None:
    with pytest.raises(ValidationError, match="has not come yet"):
        moment("2026-12-24 18:00")


@pytest.mark.parametrize("zone", [DENVER, ZoneInfo("Asia/Tokyo")])
@pytest.mark.parametrize("typed", ["0001-01-01 00:00", "9999-12-31 23:59", "0206-11-25 10:00"])
def test_a_year_that_cannot_be_meant_is_refused(zone: ZoneInfo, typed: str) -> None:
    # The ends of Python's calendar: in UTC the first lies before it in the east, the second after it in the west.
    with pytest.raises(ValidationError, match=f"The year {typed[:4]} cannot be meant.*1900 to 2199"):
        TypedMoment(zone=zone).clean(typed)


def test_an_empty_moment_is_none_where_it_may_be() -> None:
    assert TypedMoment(zone=DENVER, required=False).clean("") is None


class Pressed(forms.Form):
    shown = TypedNumber(label="Shown", unit="pH", low="0", high="14")
    day = TypedDay()


def errors(**typed: str) -> dict:
    return Pressed({"shown": "7.00", "day": "2026-11-25", **typed}).errors


def test_a_number_comes_back_as_typed() -> None:
    form = Pressed({"shown": " 7,10 ", "day": "2026-11-25"})
    assert form.is_valid()
    assert form.cleaned_data == {"shown": "7,10", "day": dt.date(2026, 11, 25)}


def test_a_number_outside_what_can_be_meant_names_field_value_and_bounds() -> None:
    [sentence] = errors(shown="70.3")["shown"]
    assert "Shown: 70.3 pH is outside 0 to 14" in sentence
    assert not errors(shown="14") and not errors(shown="0") and not errors(shown="\u22120")


def test_doubtful_thousands_are_asked_about_in_a_form_too() -> None:
    assert "can mean two numbers" in errors(shown="7,103")["shown"][0]


@pytest.mark.parametrize("typed", ["25.11.2026", "11/25/2026", "2026-13-01"])
def test_a_day_is_written_one_way(typed: str) -> None:
    assert errors(day=typed)["day"] == ["Write the day like 2026-11-25."]


@pytest.mark.parametrize("typed", ["0001-01-01", "9999-12-31", "0206-11-25"])
def test_a_day_in_a_year_that_cannot_be_meant_is_refused(typed: str) -> None:
    assert errors(day=typed)["day"] == [
        f"The year {typed[:4]} cannot be meant; look at it, and write one from 1900 to 2199."
    ]
    assert not errors(day="1900-01-01") and not errors(day="2199-12-31")


class Named(KeyedForm):
    name = forms.CharField()
    proof = ProofField(required=False)


class AlsoNamed(Named):
    pass


def key_of(form: type[KeyedForm] = Named, **typed: str) -> str:
    sent = QueryDict(mutable=True)
    sent.update({"key": "k1", "name": "Intake", "csrfmiddlewaretoken": "a", **typed})
    opened = form(sent)
    assert opened.is_valid()
    return str(opened.cleaned_data["key"])


def test_the_same_words_sent_twice_are_one_act() -> None:
    assert key_of() == key_of(csrfmiddlewaretoken="b")
    assert len(key_of()) <= 40


def test_other_words_typed_into_a_page_brought_back_are_another_act() -> None:
    # Browsers bring a page back whole, hidden fields too: https://html.spec.whatwg.org/multipage/browsing-the-web.html
    assert len({key_of(), key_of(name="Filters"), key_of(key="k2"), key_of(AlsoNamed), key_of(more="x")}) == 5


def test_a_secret_leaves_no_trace_in_the_key() -> None:
    assert key_of(proof="4718") == key_of(proof="0000") == key_of()


def test_a_page_without_its_key_stays_without_one() -> None:
    assert key_of(key="") == ""


class Named(KeyedForm):
    """A name, a count and lines."""

    name = forms.CharField(max_length=24)
    walk_order = WholeNumber(required=False, min_value=0)
    lines = forms.CharField(required=False, widget=forms.Textarea)


# Categories Cc, Cf and Zl of the Unicode Character Database: null's neighbour, direction marks, zero width, line end.
@pytest.mark.parametrize("sign", ["\x07", "\t", "\u202e", "\u200f", "\u200b", "\ufeff", "\u00ad", "\u2028"])
def test_a_sign_that_nobody_sees_is_refused_in_a_name_with_its_place(sign: str) -> None:
    form = Named({"key": "k", "name": f"AIT{sign}-310"})
    assert not form.is_valid()
    (sentence,) = form.errors["name"]
    assert f"U+{ord(sign):04X}" in sentence
    assert "after “AIT”" in sentence


def test_letters_of_any_script_and_lines_of_a_long_text_are_taken() -> None:
    form = Named({"key": "k", "name": "Жанна Ñú 李", "lines": "first\r\nsecond\tthird"})
    assert form.is_valid(), form.errors
    assert not Named({"key": "k", "name": "Ana", "lines": "first\u202esecond"}).is_valid()


@pytest.mark.parametrize("typed", ["\uff11\uff12", "\u0661", "1_0", "1.5", "ten", "1e3", "9" * 30])
def test_only_the_digits_0_to_9_make_a_whole_number(typed: str) -> None:
    form = Named({"key": "k", "name": "Ana", "walk_order": typed})
    assert not form.is_valid()
    assert form.errors["walk_order"] == ["Write a whole number, like 10 or 20."]


def test_a_whole_number_is_read() -> None:
    form = Named({"key": "k", "name": "Ana", "walk_order": " 20 "})
    assert form.is_valid()
    assert form.cleaned_data["walk_order"] == 20


@pytest.mark.parametrize("sent", [{}, {"version": ""}])
def test_a_form_that_showed_a_version_is_not_taken_without_it(sent: dict[str, str]) -> None:
    form = Named({"key": "k", "name": "Ana", **sent}, initial={"version": 3})
    assert not form.is_valid()
    assert "which version of the record" in str(form.non_field_errors())
    assert Named({"key": "k", "name": "Ana", "version": "3"}, initial={"version": 3}).is_valid()
    assert Named({"key": "k", "name": "Ana"}).is_valid()
