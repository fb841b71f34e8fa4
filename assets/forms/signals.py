"""What depends on a signal, limits on it, and readings."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.actions import LimitFacts, ReadingFacts
from assets.compute.units import codes_for
from assets.forms.plant import unit_choices
from assets.inputs import KeyedForm, TypedDay, TypedMoment, TypedNumber
from assets.models import Face, Position, Side, Use
from assets.permissions import Desk


class UseForm(KeyedForm):
    """What one position's signal does to a tag, a report or a figure."""

    use = forms.ChoiceField(label="What the signal does", widget=forms.RadioSelect, choices=Use.choices)
    target = forms.ModelChoiceField(
        Position.objects.none(),
        required=False,
        empty_label="No tag",
        label="To which tag",
        help_text="Or in words below",
    )
    text = forms.CharField(
        label="Or to what, in words", max_length=120, required=False, help_text="Like “daily report” or “log removal”"
    )

    def __init__(self, *args: Any, desk: Desk, position: Position, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = Position.objects.at(desk.site).standing().exclude(pk=position.pk)
        self.fields["target"].queryset = others.in_walking_order()  # type: ignore[attr-defined]


class LimitForm(KeyedForm):
    """One limit from a day on."""

    name = forms.CharField(max_length=60, help_text="Like “permit” or “alarm”")
    side = forms.ChoiceField(
        label="Which side", widget=forms.RadioSelect, choices=[(Side.HIGH, "not above"), (Side.LOW, "not below")]
    )
    value = TypedNumber(label="Limit")
    unit = forms.ChoiceField(label="Unit")
    source = forms.CharField(
        label="Where it comes from", max_length=160, help_text="The permit or rule and its clause, or “common practice”"
    )
    from_day = TypedDay(label="From which day")

    def __init__(self, *args: Any, desk: Desk, position: Position, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        codes = [(code, code) for code in codes_for(position.unit)] if position.unit else unit_choices()
        self.fields["unit"].choices = codes  # type: ignore[attr-defined]
        self.fields["value"].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    def facts(self) -> LimitFacts:
        """Return what was typed."""
        names = ("name", "side", "value", "unit", "source", "from_day")
        return LimitFacts(**{name: self.cleaned_data[name] for name in names})


class LimitEndForm(KeyedForm):
    """From when a limit no longer counts, and why."""

    source = forms.CharField(label="Why it ends", max_length=160, help_text="The new permit, the rule that fell away")
    from_day = TypedDay(label="From which day it no longer counts")


FACES = [
    (Face.DISPLAY, "the display on the spot"),
    (Face.HMI, "the screen of the HMI"),
    (Face.REPORT, "a printed report"),
    (Face.GRAB, "a grab sample, measured at the bench"),
]


class ReadingForm(KeyedForm):
    """One number as read. The last value stands above the box, never in it."""

    what = forms.CharField(label="What was read", max_length=60, help_text="Like “Run hours” or “Pressure”")
    entered = TypedNumber(label="Reading")
    unit = forms.ChoiceField(label="Unit")
    face = forms.ChoiceField(label="Read at", widget=forms.RadioSelect, choices=FACES)
    taken_at = TypedMoment(label="When", required=False, hint="Like 2026-11-25 14:05; empty means now")
    source = forms.CharField(label="Note", max_length=120, required=False)

    field_order = ("entered", "unit", "face", "taken_at", "what", "source")

    def __init__(self, *args: Any, desk: Desk, unit: str, last: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        codes = [(code, code) for code in codes_for(unit)] if unit else unit_choices()
        self.fields["unit"].choices = codes  # type: ignore[attr-defined]
        number = self.fields["entered"]
        number.decimal_mark, number.before = desk.site.decimal_mark, last  # type: ignore[attr-defined]

    def facts(self) -> ReadingFacts:
        """Return what was typed."""
        names = ("what", "entered", "unit", "face", "taken_at", "source")
        return ReadingFacts(**{name: self.cleaned_data[name] for name in names})
