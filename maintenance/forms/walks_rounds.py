"""What a supervisor types about rounds, check points, what they ask, and the water balance."""

from __future__ import annotations

import re
from typing import Any

from django import forms

from assets.compute.units import UNITS
from assets.inputs import KeyedForm, TypedDay, TypedNumber
from assets.models import Face, Position
from assets.permissions import Desk
from maintenance.actions.walks_balance import PartTyped
from maintenance.actions.walks_rounds import LineAsked, PointTyped, RoundTyped
from maintenance.compute.walk import DAYS
from maintenance.models import BalancePart, LineKind, Plan, Round

CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
FACES = [(one.value, one.label) for one in Face if one is not Face.COMPUTED]


class TypedClock(forms.CharField):
    """A time of day, written 06:30."""

    widget = forms.TextInput(attrs={"autocomplete": "off", "inputmode": "numeric"})

    def clean(self, value: Any) -> Any:
        """Return the time of day."""
        text: str = super().clean(value)
        if text and CLOCK.fullmatch(text) is None:
            raise forms.ValidationError(f"“{text}” is no time of day; write it like 06:30.")
        return text.zfill(5) if text else text


def _tags(desk: Desk) -> Any:
    return Position.objects.at(desk.site).standing().in_walking_order()


class RoundForm(KeyedForm):
    """A round: its name, when it is asked, the routine that it fulfils."""

    name = forms.CharField(label="Name of the round", max_length=80, help_text="Like “Morning walk”")
    days = forms.MultipleChoiceField(
        label="Asked on", choices=[(str(n), day) for n, day in enumerate(DAYS, 1)], widget=forms.CheckboxSelectMultiple
    )
    asked_from = TypedClock(label="Asked from", max_length=20, help_text="The time of day, like 06:30")
    plan = forms.ModelChoiceField(
        Plan.objects.none(),
        label="Fulfils the routine",
        required=False,
        empty_label="No routine",
        help_text="A routine that inspects; the end of the walk fulfils it",
    )

    def __init__(self, *args: Any, desk: Desk, round: Round | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plans = Plan.objects.at(desk.site).standing().filter(kind="inspect").select_related("position", "asset")
        taken = Round.objects.filter(plan__isnull=False)
        taken = taken.exclude(pk=round.pk) if round is not None else taken
        self.fields["plan"].queryset = plans.exclude(pk__in=taken.values("plan"))  # type: ignore[attr-defined]

    def typed(self) -> RoundTyped:
        """Return what was typed."""
        cleaned = self.cleaned_data
        days = "".join(sorted(cleaned["days"]))
        return RoundTyped(name=cleaned["name"], days=days, asked_from=cleaned["asked_from"], plan=cleaned["plan"])


class CheckPointForm(KeyedForm):
    """A check point: where it is, and what to take care of there."""

    name = forms.CharField(label="Where it is", max_length=60, help_text="Like “High-lift pump 1” or “Filter gallery”")
    position = forms.ModelChoiceField(
        Position.objects.none(), label="Tag", required=False, empty_label="No tag, a place in words"
    )
    caution = forms.CharField(
        label="What to take care of",
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Moving parts, chemicals, gas, heights; the site’s own rules come first",
    )

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["position"].queryset = _tags(desk)  # type: ignore[attr-defined]

    def typed(self) -> PointTyped:
        """Return what was typed."""
        cleaned = self.cleaned_data
        return PointTyped(name=cleaned["name"], position=cleaned["position"], caution=cleaned["caution"])


class LineForm(KeyedForm):
    """One thing asked at a check point."""

    kind = forms.ChoiceField(label="What is asked", choices=LineKind.choices, widget=forms.RadioSelect)
    what = forms.CharField(label="Called", max_length=60, help_text="Like “Discharge pressure” or “Packing drip”")
    position = forms.ModelChoiceField(
        Position.objects.none(), label="Read at the tag", required=False, empty_label="The tag of the check point"
    )
    unit = forms.ChoiceField(label="Unit", required=False, choices=[("", "none, it is a look")])
    face = forms.ChoiceField(label="Read at", choices=FACES, initial=Face.DISPLAY)
    hint = forms.CharField(
        label="What is right", required=False, max_length=160, help_text="Like “about 60 drops a minute”"
    )
    low = TypedNumber(label="At least", required=False, hint="Besides the limits of the tag")
    high = TypedNumber(label="At most", required=False, hint="Besides the limits of the tag")
    modulus = TypedNumber(label="The counter begins anew at", required=False, hint="100000 for five wheels")
    twin = forms.ModelChoiceField(
        Position.objects.none(), label="Shares its running with", required=False, empty_label="No other machine"
    )
    constant = forms.BooleanField(label="Stands still where all is well", required=False)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        tags = _tags(desk)
        self.fields["position"].queryset = tags  # type: ignore[attr-defined]
        self.fields["twin"].queryset = tags.filter(does="moves")  # type: ignore[attr-defined]
        units = [("", "none, it is a look"), *((one.code, one.code) for one in UNITS)]
        self.fields["unit"].choices = units  # type: ignore[attr-defined]
        for name in ("low", "high", "modulus"):
            self.fields[name].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Ask for the unit where a number is read."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        looks = {LineKind.LOOK, LineKind.LAMP, LineKind.DRAWDOWN}
        if cleaned.get("kind") and cleaned["kind"] not in looks and not cleaned.get("unit"):
            self.add_error("unit", "Choose the unit in which it is read.")
        return cleaned

    def typed(self) -> LineAsked:
        """Return what was typed."""
        names = ("kind", "what", "position", "unit", "face", "hint", "low", "high", "modulus", "twin", "constant")
        return LineAsked(**{name: self.cleaned_data[name] for name in names})


class BalanceForm(KeyedForm):
    """A register or a level that counts in the water balance."""

    position = forms.ModelChoiceField(Position.objects.none(), label="Tag", empty_label="Choose the tag")
    what = forms.CharField(
        label="Called on the walk", max_length=60, help_text="As the walk calls it, like “Totalizer” or “Level”"
    )
    face = forms.ChoiceField(label="Read at", choices=FACES, initial=Face.DISPLAY)
    kind = forms.ChoiceField(label="Counts as", choices=BalancePart.Kind.choices, widget=forms.RadioSelect)
    uncertainty = TypedNumber(
        label="Standard uncertainty of a total", unit="%", required=False, hint="From its certificate or its last check"
    )
    area = TypedNumber(
        label="Surface of the store",
        unit="m²",
        required=False,
        hint="Only for storage with straight walls; none where a strapping table is written",
    )
    level_uncertainty = TypedNumber(label="Standard uncertainty of one level", unit="m", required=False)
    area_uncertainty = TypedNumber(label="Standard uncertainty of the surface", unit="m²", required=False)
    from_day = TypedDay(label="From the day")
    why = forms.CharField(label="Why it counts so", max_length=200)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["position"].queryset = _tags(desk).filter(does="measures")  # type: ignore[attr-defined]
        for name in ("uncertainty", "area", "level_uncertainty", "area_uncertainty"):
            self.fields[name].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    def typed(self) -> PartTyped:
        """Return what was typed."""
        names = (
            *("position", "what", "kind", "face", "uncertainty", "area", "level_uncertainty", "area_uncertainty"),
            *("from_day", "why"),
        )
        return PartTyped(**{name: self.cleaned_data[name] for name in names})


class EndPartForm(KeyedForm):
    """The last day on which it counts."""

    to_day = TypedDay(label="Counts up to and with the day")


class PressForm(KeyedForm):
    """One button."""


class PlaceForm(KeyedForm):
    """The place of a check point in the walk."""

    to = forms.IntegerField(label="Place in the walk", min_value=1, max_value=999)
