"""What people type about forced values, holds, bypasses and shelved alarms."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms

from assets.compute.units import codes_for
from assets.inputs import KeyedForm, ProofField, TypedMoment, TypedNumber, WholeNumber, YesNo
from assets.models import Position
from assets.permissions import Desk
from maintenance.actions.overrides import OverrideTyped
from maintenance.actions.overrides_time import LookTyped
from maintenance.forms.proven import ProvenForm
from maintenance.models import Override, OverrideKind, OverrideWay, Restoration, WorkOrder


class MomentToCome(TypedMoment):
    """A day and time at the site that is still to come."""

    def _aware(self, naive: dt.datetime, which: str) -> dt.datetime:
        return self.settled(naive, which)


class OverrideForm(KeyedForm):
    """What is forced or defeated, why, until when, and what is done instead."""

    kind = forms.ChoiceField(label="What it is", widget=forms.RadioSelect, choices=OverrideKind.choices)
    what = forms.CharField(
        label="What is forced or defeated", max_length=160, help_text="Like “flow on the HMI” or “low-level trip”"
    )
    value = TypedNumber(label="Value it is forced to", required=False, signed=False)
    unit = forms.ChoiceField(label="Unit", required=False)
    basis = forms.CharField(
        label="What the value rests on", max_length=200, required=False, help_text="A weir, a pump curve, a mean"
    )
    last_good = TypedNumber(label="Last good value", required=False)
    last_good_at = TypedMoment(label="Read when", required=False)
    way = forms.ChoiceField(label="How", choices=OverrideWay.choices, widget=forms.RadioSelect)
    place = forms.CharField(label="Where exactly", max_length=160, required=False, help_text="Terminal, panel, valve")
    reason = forms.CharField(label="Because", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))
    measures = forms.CharField(
        label="What is done instead", max_length=200, help_text="Like “weir measured at 08:00 and 14:00”"
    )
    every_hours = WholeNumber(label="How often, every so many hours", required=False, min_value=1, max_value=168)
    limit_at = MomentToCome(label="Until when at the latest", hint="Like 2026-11-25 18:00")
    order = forms.ModelChoiceField(
        WorkOrder.objects.none(), required=False, empty_label="No work order", label="For which work order"
    )
    on_since = TypedMoment(
        label="Put on already, at", required=False, hint="Like 2026-11-25 06:34; empty where it is not on yet"
    )
    cannot_wait = forms.CharField(label="Why that could not wait for an approval", max_length=200, required=False)

    def __init__(self, *args: Any, desk: Desk, position: Position, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("value", "unit", "basis"):
            self.fields[name].needed_for = "a forced value"  # type: ignore[attr-defined]
        self.fields["cannot_wait"].needed_for = "what was put on unapproved"  # type: ignore[attr-defined]
        codes = codes_for(position.unit) if position.unit else ()
        choices = [("", "no unit"), *((code, code) for code in codes)]
        self.fields["unit"].choices = choices  # type: ignore[attr-defined]
        self.initial.setdefault("unit", position.unit)
        for name in ("value", "last_good"):
            self.fields[name].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]
        orders = WorkOrder.objects.open().filter(position=position).order_by("-number")
        self.fields["order"].queryset = orders  # type: ignore[attr-defined]

    def typed(self) -> OverrideTyped:
        """Return what was typed."""
        names = (
            *("kind", "what", "value", "unit", "basis", "last_good", "last_good_at", "way", "place", "reason"),
            *("measures", "every_hours", "limit_at", "order", "on_since", "cannot_wait"),
        )
        return OverrideTyped(**{name: self.cleaned_data[name] for name in names})


class ApproveForm(ProvenForm):
    """The approval of another person, signed."""

    proof = ProofField()


class RefuseForm(KeyedForm):
    """Why it is refused."""

    because = forms.CharField(max_length=200)


class AtForm(KeyedForm):
    """When it was put on."""

    at = TypedMoment(label="When", required=False, hint="Like 2026-11-25 14:05; empty means now")


class TakeOffForm(AtForm):
    """When it was taken off, and what was seen then."""

    words = forms.CharField(label="What you did and saw", max_length=200, required=False)


class ExtendForm(KeyedForm):
    """More time."""

    to_at = MomentToCome(label="Until when", hint="Like 2026-11-27 18:00")
    reason = forms.CharField(label="Because", max_length=300)


class LookForm(KeyedForm):
    """One look against independent evidence."""

    value = TypedNumber(label="What the independent evidence reads")
    unit = forms.ChoiceField(label="Unit", required=False)
    source = forms.CharField(
        label="Where that value comes from", max_length=160, help_text="A second meter, a tank drop, a bench reading"
    )
    taken_at = TypedMoment(label="Read when", hint="Like 2026-11-25 14:05")
    agrees = YesNo(label="Does it agree with what is forced or held?")
    words = forms.CharField(label="What you did about it", max_length=200, required=False)

    def __init__(self, *args: Any, desk: Desk, override: Override, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = override.unit or override.position.unit
        codes = codes_for(unit) if unit else ()
        self.fields["unit"].choices = [*((code, code) for code in codes), ("", "no unit")]  # type: ignore[attr-defined]
        self.initial.setdefault("unit", unit)
        self.fields["value"].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    def typed(self) -> LookTyped:
        """Return what was typed."""
        typed = self.cleaned_data
        return LookTyped(
            value=typed["value"],
            unit=typed["unit"],
            source=typed["source"],
            taken_at=typed["taken_at"],
            agrees=typed["agrees"] == "yes",
            words=typed["words"],
        )


class RestoredForm(ProvenForm):
    """By what another person saw that the function works again, signed."""

    how = forms.ChoiceField(label="What you saw", widget=forms.RadioSelect, choices=Restoration.choices)
    words = forms.CharField(label="With which values", max_length=200, help_text="Like “moved from 38.0 to 36.4 L/s”")
    proof = ProofField()


class NotRestoredForm(KeyedForm):
    """What does not work yet."""

    words = forms.CharField(label="What you saw", max_length=200)
