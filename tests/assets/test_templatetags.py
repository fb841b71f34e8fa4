"""What the tags draw, read back as HTML; days against the IANA time zones, inks against WCAG's contrast formula."""

from __future__ import annotations

import calendar
import datetime as dt
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django import forms
from django.template import Context, Template
from django.utils import timezone

import spanwell
from assets.compute.chart_time import Limit, Result, TimeFigures, time_picture
from assets.errors import Reason
from assets.templatetags import look
from assets.widgets import NumberText, SignedText

SHELL = Path(spanwell.__file__).parent


class Elements(HTMLParser):
    """Every start tag with its attributes, and the words between."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []
        self.words = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        self.words += data

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attrs for name, attrs in self.found if name == tag]

    @property
    def ids(self) -> list[str]:
        return [attrs["id"] for _tag, attrs in self.found if "id" in attrs]


class Reading(forms.Form):
    """One field of each kind."""

    shown = forms.CharField(label="Display shows", widget=NumberText())
    volts = forms.CharField(label="Electrode shows", widget=SignedText())
    lot = forms.ChoiceField(label="Buffer lot", choices=[("a", "Lot A"), ("b", "Lot B")], help_text="To 31 March 2027")
    steady = forms.ChoiceField(label="Steady?", choices=[("yes", "Yes"), ("no", "No")], widget=forms.RadioSelect)
    what = forms.ChoiceField(
        label="What was it",
        choices=[("cups", "The cups were swapped"), ("sign", "A sign was wrong")],
        widget=forms.RadioSelect,
    )
    cleaned = forms.BooleanField(label="Cleaned before", required=False)
    note = forms.CharField(label="Note", widget=forms.Textarea, required=False)


def make_form(data: dict[str, str] | None = None) -> Reading:
    form = Reading(data)
    shown = form.fields["shown"]
    shown.unit, shown.hint, shown.before = "pH", "0.00 to 14.00", "Last time: pH 7.08"  # type: ignore[attr-defined]
    form.fields["volts"].unit = "mV"  # type: ignore[attr-defined]
    return form


def drawn(form: forms.Form, name: str) -> Elements:
    return Elements(Template("{% load look %}{% field bound %}").render(Context({"bound": form[name]})))


@pytest.mark.parametrize("data", [None, {"shown": "x"}])
@pytest.mark.parametrize("name", list(Reading.base_fields))
def test_every_field_has_a_name_and_everything_that_describes_it_exists(name: str, data: dict[str, str] | None) -> None:
    # WAI-ARIA 1.2, aria-describedby: a list of ids that exist; HTML, label: `for` names the id of its control.
    field = drawn(make_form(data), name)
    assert len(field.ids) == len(set(field.ids))
    for label in field.all("label"):
        assert "for" not in label or label["for"] in field.ids
    for _tag, attrs in field.found:
        assert set(attrs.get("aria-describedby", "").split()) <= set(field.ids)
    assert make_form().fields[name].label in field.words


@pytest.mark.parametrize("name", list(Reading.base_fields))
def test_no_field_brings_anything_inline_or_a_browser_check(name: str) -> None:
    for _tag, attrs in drawn(make_form({}), name).found:
        assert not {attr for attr in attrs if attr.startswith("on") or attr in ("style", "required")}


def test_a_reading_is_never_filled_in_and_an_answer_never_chosen() -> None:
    form = make_form()
    for name in Reading.base_fields:
        for attrs in drawn(form, name).all("input"):
            assert "checked" not in attrs
            assert attrs.get("type") in ("radio", "checkbox") or not attrs.get("value")


def test_range_unit_and_the_value_before_stand_as_words_beside_the_field() -> None:
    field = drawn(make_form(), "shown")
    (control,) = field.all("input")
    assert control["inputmode"] == "decimal"
    assert control["type"] == "text"
    assert {"id_shown_hint", "id_shown_before", "id_shown_unit"} == set(control["aria-describedby"].split())
    assert [words in field.words for words in ("0.00 to 14.00", "pH", "Last time: pH 7.08")] == [True] * 3


def test_what_was_typed_comes_back_with_what_was_wrong() -> None:
    form = make_form({"shown": "7,1O"})
    form.add_error("shown", "“7,1O” is not a number; write it like 7.01 or 7,01.")
    field = drawn(form, "shown")
    (control,) = field.all("input")
    assert control["value"] == "7,1O"
    assert control["aria-invalid"] == "true"
    assert "id_shown_says" in control["aria-describedby"].split()
    assert "is not a number" in field.words


@pytest.mark.parametrize(
    ("posted", "whole", "key", "rest"),
    [
        ({"volts_sign": "minus", "volts": "8.6"}, "-8.6", "minus", "8.6"),
        ({"volts_sign": "plus", "volts": "163,1"}, "+163,1", "plus", "163,1"),
        ({"volts": "-8.6"}, "-8.6", "minus", "8.6"),
        ({"volts": "8.6"}, "8.6", "", "8.6"),
        ({"volts_sign": "minus", "volts": "+8.6"}, "-+8.6", "minus", "+8.6"),
        ({"volts_sign": "minus", "volts": ""}, "", "", ""),
    ],
)
def test_a_sign_key_and_a_number_make_one_text_and_come_back_apart(
    posted: dict[str, str], whole: str, key: str, rest: str
) -> None:
    form = make_form(posted)
    assert (form["volts"].data or "") == whole
    keys = {
        attrs["value"]: "checked" in attrs for attrs in drawn(form, "volts").all("input") if attrs["type"] == "radio"
    }
    assert keys == {"plus": key == "plus", "minus": key == "minus"}
    assert [attrs.get("value", "") for attrs in drawn(form, "volts").all("input") if attrs["type"] == "text"] == [rest]


def test_a_signed_field_whose_widget_reads_no_key_has_no_keys() -> None:
    form = make_form()
    form.fields["shown"].signed = True  # type: ignore[attr-defined]
    assert [attrs["type"] for attrs in drawn(form, "shown").all("input")] == ["text"]


def test_an_answer_is_followed_by_the_field_for_its_reason() -> None:
    form = make_form()
    both = Elements(str(look.field(form["steady"], reason=form["note"])))
    assert both.ids.index("id_steady") < both.ids.index("id_note")


def test_a_label_cannot_carry_markup() -> None:
    form = make_form()
    form.fields["shown"].label = "<script>alert(1)</script>"
    assert not drawn(form, "shown").all("script")


def refusal(form: forms.Form | None = None, reasons: tuple[Reason, ...] = ()) -> Elements:
    page = Template('{% load look %}{% refused form title="Not saved" reasons=reasons written=True %}')
    return Elements(page.render(Context({"form": form, "reasons": reasons})))


def test_nothing_wrong_draws_no_notice() -> None:
    assert refusal(make_form()).found == []


def test_each_reason_leads_to_its_field_in_the_order_of_the_fields() -> None:
    form = make_form({"note": "kept"})
    page = "".join(str(look.field(form[name])) for name in Reading.base_fields)
    links = [attrs["href"] for attrs in refusal(form).all("a")]
    assert links == ["#id_shown", "#id_volts", "#id_lot", "#id_steady", "#id_what"]
    assert {link[1:] for link in links} <= set(Elements(page).ids)


def test_what_is_missing_is_said_in_plain_words() -> None:
    notice = refusal(make_form({}))
    assert "Display shows: Nothing is written here yet; it is needed." in notice.words
    assert "Steady? Choose one; nothing is chosen for you." in notice.words
    assert "This field is required" not in notice.words


def test_a_reason_of_an_action_stands_as_its_sentence() -> None:
    notice = refusal(make_form(), (Reason("The lot is out of date.", "lot"), Reason("Somebody else signed first.")))
    assert [attrs["href"] for attrs in notice.all("a")] == ["#id_lot"]
    assert "Somebody else signed first." in notice.words
    assert "Nothing was changed." in notice.words
    assert "written in the history" in notice.words


@dataclass(frozen=True)
class Shown:
    word: str
    shape: str
    ink: str


def test_a_state_is_its_word_and_its_shape() -> None:
    assert str(look.state(Shown("Overdue 4 days", "overdue", "bad"))) == (
        '<span class="is is-overdue bad">Overdue 4 days</span>'
    )
    assert str(look.state(Shown("Raised", "raised", ""))) == '<span class="is is-raised">Raised</span>'


def test_a_plate_keeps_its_tag_and_leads_where_it_is_told() -> None:
    assert str(look.plate("AIT-410")) == '<span class="plate">AIT-410</span>'
    (link,) = Elements(str(look.plate("P-72", machine=True, url="/tag/7K/", big=True, small="Booster pump 2"))).all("a")
    assert link == {"class": "plate machine big", "href": "/tag/7K/"}


@pytest.mark.parametrize(
    ("matters", "strokes", "word"),
    [("safety", 4, "Safety"), ("compliance", 3, "Compliance"), ("production", 2, "Production"), ("other", 1, "Other")],
)
def test_more_strokes_are_more_serious(matters: str, strokes: int, word: str) -> None:
    assert str(look.tally(matters)) == f'<span class="tally t{strokes}">{word}</span>'


@pytest.mark.parametrize(
    ("value", "digits", "expected"),
    [
        ("-8.60", None, "\u22128.60"),
        ("7,10", None, "7,10"),
        (12345, None, "12\u202f345"),
        (Fraction(-1, 8), 2, "\u22120.13"),
        (Decimal("7.0290"), 3, "7.029"),
        (2.675, 2, "2.68"),
        (0, 2, "0.00"),
        (None, 2, ""),
    ],
)
def test_numbers_are_written_as_typed_or_rounded_to_be_shown(value: object, digits: int | None, expected: str) -> None:
    assert look.num(value, digits) == expected


def test_a_date_is_no_number() -> None:
    with pytest.raises(TypeError, match="is not a number"):
        look.num(dt.date(2026, 11, 25), 2)


@pytest.mark.parametrize(
    ("utc", "expected"),
    [
        # IANA time zone database, America/Denver: UTC-7 in winter, UTC-6 from 8 March to 1 November 2026.
        (dt.datetime(2026, 11, 25, 21, 5, tzinfo=dt.UTC), "25 November 2026, 14:05"),
        (dt.datetime(2026, 7, 1, 5, 30, tzinfo=dt.UTC), "30 June 2026, 23:30"),
        (dt.datetime(2026, 3, 1, 6, 59, tzinfo=dt.UTC), "28 February 2026, 23:59"),
    ],
)
def test_a_moment_is_told_in_the_zone_of_the_site(utc: dt.datetime, expected: str) -> None:
    with timezone.override(ZoneInfo("America/Denver")):
        assert look.moment(utc) == expected
        assert look.day(utc) == expected.partition(",")[0]
        assert look.clock(utc) == expected[-5:]


@pytest.mark.parametrize("month", range(1, 13))
def test_days_name_the_month_in_english_whatever_the_language(month: int) -> None:
    assert look.day(dt.date(2026, month, 9)) == f"9 {calendar.month_name[month]} 2026"


def test_nothing_is_written_for_a_day_that_is_not_known() -> None:
    assert (look.day(None), look.moment(None), look.clock(None)) == ("", "", "")


def test_a_phone_number_is_dialled_by_its_digits() -> None:
    assert look.dial("+1 (555) 0110-4") == "+155501104"


def test_a_chart_has_a_name_a_description_and_the_same_as_a_table() -> None:
    results = tuple(
        Result(at=dt.date(2026, month, 9), value=month / 100, shown=f"+0.0{month}", when=f"9 {month}")
        for month in (1, 2, 3)
    )
    figures = TimeFigures(
        name="err", caption="Error", figure="Error", results=results, limits=(Limit(value=0.1, name="+0.10 limit"),)
    )
    chart = Elements(str(look.line_chart(time_picture(figures))))
    outer = chart.all("svg")[0]
    assert "viewbox" not in outer
    assert set(outer["aria-labelledby"].split()) <= set(chart.ids)
    assert len(chart.all("tr")) == 1 + len(results)
    assert all(result.shown in chart.words for result in results)
    assert "+0.10 limit" in chart.words


INLINE = re.compile(r"""\sstyle\s*=|<style|\son[a-z]+\s*=\s*["']|<script(?![^>]*\ssrc=)|javascript:""", re.IGNORECASE)


@pytest.mark.parametrize("path", sorted(SHELL.glob("templates/**/*.html")), ids=lambda path: path.name)
def test_no_page_of_the_shell_holds_a_style_or_a_script_of_its_own(path: Path) -> None:
    assert INLINE.search(path.read_text(encoding="utf-8")) is None


def test_every_shape_that_is_spoken_of_is_drawn() -> None:
    drawn_shapes = set(re.findall(r"^\.is-([a-z]+) \{", (SHELL / "static/css/states.css").read_text(), re.MULTILINE))
    text = "".join(path.read_text(encoding="utf-8") for path in SHELL.glob("templates/**/*.html"))
    assert set(re.findall(r"\bis-([a-z]+)\b", text)) <= drawn_shapes


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2, definition of terms."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def themes() -> list[dict[str, str]]:
    tokens = (SHELL / "static/css/tokens.css").read_text(encoding="utf-8").partition("@media print")[0]
    light, dark = tokens.split("@media (prefers-color-scheme: dark)")
    first = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", light))
    return [first, {**first, **dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", dark))}]


@pytest.mark.parametrize("theme", themes(), ids=["light", "dark"])
@pytest.mark.parametrize("ink", ["ink", "ink-2", "act", "good", "watch", "bad", "still", "stand-in"])
def test_every_ink_is_read_seven_to_one(theme: dict[str, str], ink: str) -> None:
    # WCAG 2.2, success criterion 1.4.6: 7:1 for text.
    assert contrast(theme[ink], theme["sheet"]) >= 7
    assert contrast(theme[ink], theme["wash"]) >= 7


def test_a_tag_stays_on_one_line_and_a_long_name_breaks_between_its_words() -> None:
    assert look.nb("AIT-410") == '<span class="nb">AIT-410</span>'
    assert look.nb("7.00 pH, lot B-11") == '<span class="nb">7.00 pH, lot B-11</span>'
    assert look.nb("Reference thermometer RT-<55") == (
        '<span class="nb">Reference</span> <span class="nb">thermometer</span> <span class="nb">RT-&lt;55</span>'
    )
