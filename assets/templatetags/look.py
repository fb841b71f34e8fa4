"""How things are written on a page: fields, states, plates, numbers, days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from django import forms, template
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from assets.compute import chart, rounding
from assets.compute.words import day_named
from assets.errors import Reason, plainly
from assets.widgets import parted

register = template.Library()

MATTERS = {"safety": ("Safety", 4), "compliance": ("Compliance", 3), "production": ("Production", 2)}
OTHER = ("Other", 1)
ONE_LINE = 20  # characters that fit beside a margin on a phone


class State(Protocol):
    """A word and its shape; ``ink`` is good, watch, bad, still, standin or empty."""

    @property
    def word(self) -> str: ...
    @property
    def shape(self) -> str: ...
    @property
    def ink(self) -> str: ...


# Numbers


@register.filter
def num(value: object, digits: int | None = None) -> str:
    """Write a number: text as typed, a count in groups, anything else with ``digits`` decimals."""
    if value is None or value == "":
        return ""
    if isinstance(value, str):
        return rounding.as_typed(value)
    exact = _exact(value)
    if digits is None:
        return rounding.grouped(int(exact)) if exact == int(exact) else rounding.as_typed(str(value))
    return rounding.shown(exact, digits)


@register.filter
def signed(value: object, digits: int) -> str:
    """Write a number with its plus or real minus."""
    return "" if value is None else rounding.signed(_exact(value), digits)


def _exact(value: object) -> int | Decimal | Fraction:
    if isinstance(value, int | Decimal | Fraction):
        return value
    if isinstance(value, float):
        return Decimal(repr(value))
    raise TypeError(f"{value!r} is not a number.")


# Days and times


@register.filter
def day(value: dt.date | None) -> str:
    """Write a day with its month named: 25 November 2026."""
    if value is None:
        return ""
    return day_named(_here(value))


@register.filter
def clock(value: dt.datetime | dt.time | None) -> str:
    """Write a time of day, 24 hours: 14:05."""
    if value is None:
        return ""
    here = _here(value) if isinstance(value, dt.datetime) else value
    return f"{here:%H:%M}"


@register.filter
def moment(value: dt.datetime | None) -> str:
    """Write day and time in the site's zone: 25 November 2026, 14:05."""
    return "" if value is None else f"{day(value)}, {clock(value)}"


def _here(value: dt.date) -> dt.date:
    if isinstance(value, dt.datetime) and timezone.is_aware(value):
        return timezone.localtime(value)
    return value


# Words and marks


@register.filter
def nb(value: object) -> SafeString:
    """Keep a tag, serial or lot on one line; of a longer name each word, or it would not fit on a phone."""
    said = str(value)
    parts = said.split() if len(said) > ONE_LINE else [said]
    return format_html_join(" ", '<span class="nb">{}</span>', ((part,) for part in parts))


@register.filter
def dial(phone: str) -> str:
    """Give the digits of a phone number, with its leading plus, for a link that calls."""
    return "".join(sign for sign in phone if sign.isdigit() or sign == "+")


@register.filter
def tally(matters: str) -> SafeString:
    """Say what a tag matters for, with its strokes: four for safety, one for other."""
    word, strokes = MATTERS.get(matters, OTHER)
    return format_html('<span class="tally t{}">{}</span>', strokes, word)


@register.simple_tag
def state(shown: State) -> SafeString:
    """Draw a state: its shape, then its word."""
    ink = f" {shown.ink}" if shown.ink else ""
    return format_html('<span class="is is-{}{}">{}</span>', shown.shape, ink, shown.word)


@register.simple_tag
def plate(tag: str, *, machine: bool = False, url: str = "", big: bool = False, small: str = "") -> SafeString:
    """Draw the engraved plate of a tag; black when it moves water or chemical, or is worked on."""
    looks = f"plate{' machine' if machine else ''}{' big' if big else ''}"
    words = format_html("{}<small>{}</small>", tag, small) if small else tag
    if url:
        return format_html('<a class="{}" href="{}">{}</a>', looks, url, words)
    return format_html('<span class="{}">{}</span>', looks, words)


# Fields


@dataclass(frozen=True, slots=True)
class Choice:
    """One box of a choice and the words beside it."""

    box: SafeString
    label: str


@dataclass(frozen=True, slots=True)
class FieldView:
    """A field as its template draws it."""

    id: str
    name: str
    label: str
    widget: SafeString
    hint: str
    before: str
    unit: str
    errors: tuple[str, ...]
    described: str
    number: bool
    sign: str
    choices: tuple[Choice, ...]
    span: bool


@register.simple_tag
def field(
    bound: BoundField,
    *,
    span: bool = False,
    unit: str = "",
    before: str = "",
    hint: str = "",
    reason: BoundField | None = None,
) -> SafeString:
    """Draw a field of a form by the kind of its widget.

    Reads from the form's field, where they are set: ``hint`` (else its help text), ``unit`` and ``before`` (the
    previous value as text); what is given here wins, for what is only known when the page is drawn. ``reason``: the
    field for the reason of an answer, drawn right under a choice.
    """
    if bound.is_hidden:
        return bound.as_hidden()
    # The browser's own complaint would stop a half-filled draft from being sent, in words that are not ours.
    bound.form.use_required_attribute = False
    view = _view_of(bound, span=span, given={"unit": unit, "before": before, "hint": hint})
    drawn = render_to_string(_template_for(bound), {"f": view}).strip()
    return mark_safe(drawn + (field(reason, span=span) if reason else ""))  # noqa: S308 an escaped template


def _template_for(bound: BoundField) -> str:
    widget = bound.field.widget
    if _is_signed(bound):
        return "_signed_field.html"
    if isinstance(widget, forms.CheckboxSelectMultiple):
        return "_choices.html"
    if isinstance(widget, forms.RadioSelect):
        return "_yesno.html" if _is_yesno(bound) else "_choices.html"
    if isinstance(widget, forms.CheckboxInput):
        return "_tick.html"
    return "_select.html" if isinstance(widget, forms.Select) else "_field.html"


def _is_signed(bound: BoundField) -> bool:
    # Keys for the sign are only drawn where the widget reads them back; else a minus would be lost without a word.
    return bool(getattr(bound.field.widget, "sign_key", False))


def _is_yesno(bound: BoundField) -> bool:
    words = [str(label) for _value, label in getattr(bound.field.widget, "choices", ())]
    return len(words) in (2, 3) and max(map(len, words)) <= 12


def _is_group(bound: BoundField) -> bool:
    return isinstance(bound.field.widget, forms.RadioSelect | forms.CheckboxSelectMultiple)


def _view_of(bound: BoundField, *, span: bool, given: dict[str, str]) -> FieldView:
    said = {name: given[name] or str(getattr(bound.field, name, "") or "") for name in given}
    hint = _hint_of(bound, said["hint"] or str(bound.help_text))
    errors = _errors_of(bound)
    present = {"hint": hint, "before": said["before"], "says": errors, "unit": said["unit"]}
    described = " ".join(f"{bound.auto_id}_{part}" for part, there in present.items() if there)
    key, rest = parted(str(bound.value() or "")) if _is_signed(bound) else ("", "")
    attrs = _attrs_of(bound, described=described, unit=said["unit"])
    return FieldView(
        id=str(bound.auto_id),
        name=bound.html_name,
        label=str(bound.label),
        widget=_drawn(bound, attrs=attrs, rest=rest),
        hint=hint,
        before=said["before"],
        unit=said["unit"],
        errors=errors,
        described=described,
        number=attrs.get("inputmode") in ("decimal", "numeric"),
        sign=key,
        choices=_choices_of(bound) if _is_group(bound) else (),
        span=span,
    )


def _hint_of(bound: BoundField, hint: str) -> str:
    parts = [hint.removesuffix(".")] if hint else []
    if _is_signed(bound):
        parts.insert(0, "Choose + or \u2212, then the number")
    if needed_for := getattr(bound.field, "needed_for", ""):
        parts.append(f"Needed for {needed_for}; else it may be left empty")
    elif not bound.field.required and not isinstance(bound.field.widget, forms.CheckboxInput):
        parts.append("May be left empty")
    return hint if parts == [hint.removesuffix(".")] else ". ".join(parts) + "." if parts else ""


def _errors_of(bound: BoundField) -> tuple[str, ...]:
    """Say what is wrong at a field; where nothing was written, say that, unless the form has its own words for it."""
    chosen = _is_group(bound) or isinstance(bound.field.widget, forms.Select)
    empty = "Choose one; nothing is chosen for you." if chosen else "Nothing is written here yet; it is needed."
    found = bound.form.errors.get(bound.name)
    errors = found.as_data() if found else []
    return tuple(sentence for error in errors for sentence in _said_of(error, bound.field, empty))


def _said_of(error: ValidationError, field_: forms.Field, empty: str) -> list[str]:
    """Give the sentences of a fault in our words where the framework's own stand there."""
    code = str(error.code or "")
    if not code or not _is_stock(field_, code):
        return list(error.messages)
    plain = empty if code == "required" else plainly(code, error.params)
    return [plain] if plain else list(error.messages)


def _is_stock(field_: forms.Field, code: str) -> bool:
    own = field_.error_messages.get(code)
    stock = (vars(kind).get("default_error_messages", {}).get(code) for kind in type(field_).__mro__)
    return own is None or any(one is not None and str(one) == str(own) for one in stock)


def _attrs_of(bound: BoundField, *, described: str, unit: str) -> dict[str, str | bool]:
    widget = bound.field.widget
    attrs: dict[str, str | bool] = {"inputmode": str(widget.attrs["inputmode"])} if "inputmode" in widget.attrs else {}
    if unit or _is_signed(bound):
        attrs.setdefault("inputmode", "decimal")
    if isinstance(widget, forms.TextInput) and "autocomplete" not in widget.attrs:
        attrs["autocomplete"] = "off"
    if bound.field.required and not _is_group(bound):
        attrs["aria-required"] = "true"
    if described:
        attrs["aria-describedby"] = described
    if bound.errors:
        attrs["aria-invalid"] = "true"
    return attrs


def _drawn(bound: BoundField, *, attrs: dict[str, str | bool], rest: str) -> SafeString:
    if _is_group(bound):
        return SafeString("")
    if not _is_signed(bound):
        return bound.as_widget(attrs=attrs)
    label = f"{bound.label}, without its sign"
    return SafeString(
        bound.field.widget.render(
            bound.html_name,
            rest,
            attrs={**bound.field.widget.attrs, "id": str(bound.auto_id), "aria-label": label, **attrs},
            renderer=bound.form.renderer,
        )
    )


def _choices_of(bound: BoundField) -> tuple[Choice, ...]:
    return tuple(Choice(box=SafeString(sub.tag()), label=str(sub.choice_label)) for sub in bound.subwidgets)


# Refusals


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence of a refusal and the id of the field it leads to ('' = the whole act)."""

    sentence: str
    target: str = ""


@register.simple_tag
def refused(
    form: forms.BaseForm | None = None,
    *,
    title: str,
    reasons: Iterable[Reason] = (),
    written: bool = False,
    kept: bool | None = None,
) -> SafeString:
    """Draw the notice of a refusal from the faults of a form and the reasons of an action; nothing when there are none.

    title: what was not done. written: the refusal itself stands in the history. kept: what was typed is still on the
    page; it is, wherever there is a form.
    """
    said = [*_said_by_form(form), *(_said_by_action(reason, form) for reason in reasons)]
    if not said:
        return SafeString("")
    still_there = form is not None if kept is None else kept
    context = {"title": title, "reasons": said, "kept": still_there, "written": written}
    return mark_safe(render_to_string("_notice.html", context).strip())  # noqa: S308 an escaped template


def _said_by_form(form: forms.BaseForm | None) -> list[Said]:
    """Give the faults in the order of the fields, after those of the whole act."""
    if form is None or not form.is_bound:
        return []
    whole = [Said(str(error)) for error in form.non_field_errors()]
    return whole + [_said_at(bound, sentence) for bound in form for sentence in _errors_of(bound)]


def _said_at(bound: BoundField, sentence: str) -> Said:
    if bound.is_hidden:
        return Said(sentence)
    label = str(bound.label)
    named = (
        sentence
        if sentence.startswith(label.removesuffix("?"))
        else f"{label}{' ' if label.endswith('?') else ': '}{sentence}"
    )
    return Said(named, str(bound.auto_id))


def _said_by_action(reason: Reason, form: forms.BaseForm | None) -> Said:
    known = form is not None and reason.field in form.fields
    return Said(reason.sentence, str(form[reason.field].auto_id) if form is not None and known else "")


# Charts


@register.simple_tag
def line_chart(picture: chart.Picture) -> SafeString:
    """Draw a chart with its key and, folded under it, the same as a table."""
    return mark_safe(render_to_string("_chart.html", {"p": picture}).strip())  # noqa: S308 an escaped template
