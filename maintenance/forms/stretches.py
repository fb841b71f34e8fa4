"""What people type about pauses, declared fulfilment, what must be so first, and deferrals."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.compute.units import UNITS
from assets.inputs import KeyedForm, ProofField, TypedDay, TypedNumber
from assets.models import Position
from assets.permissions import Desk
from maintenance.actions.stretches import NeedTyped
from maintenance.forms.proven import ProvenForm
from maintenance.models import NeedKind, Plan


class PauseForm(KeyedForm):
    """From when nothing is owed, and why."""

    from_day = TypedDay(label="From which day")
    because = forms.CharField(max_length=160, help_text="Like “out of season” or “drained”")


class ResumeForm(KeyedForm):
    """From when it is owed again."""

    to_day = TypedDay(label="Owed again from")


class FulfilsForm(KeyedForm):
    """For which other routine its work counts as well."""

    fulfils = forms.ModelChoiceField(label="It also fulfils", queryset=Plan.objects.none(), empty_label="Choose")
    from_day = TypedDay(label="From which day")

    def __init__(self, *args: Any, plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = Plan.objects.at(plan.site).standing().exclude(pk=plan.pk).select_related("position", "asset")
        same = others.filter(position=plan.position) if plan.position_id else others.filter(asset=plan.asset)
        self.fields["fulfils"].queryset = same  # type: ignore[attr-defined]


class UntilForm(KeyedForm):
    """From when it no longer counts."""

    to_day = TypedDay(label="From which day it no longer counts")


class NeedForm(KeyedForm):
    """What must be so first."""

    kind = forms.ChoiceField(label="What must be so first", widget=forms.RadioSelect, choices=NeedKind.choices)
    words = forms.CharField(label="In words", max_length=160, help_text="Like “storage above 12 h of supply”")
    routine = forms.ModelChoiceField(
        label="Which routine", queryset=Plan.objects.none(), required=False, empty_label="None"
    )
    position = forms.ModelChoiceField(
        label="Read at", queryset=Position.objects.none(), required=False, empty_label="Nowhere"
    )
    reads = forms.CharField(label="Which reading", max_length=60, required=False)
    unit = forms.ChoiceField(label="Unit of the reading", required=False)
    low = TypedNumber(label="Lowest good value", required=False)
    high = TypedNumber(label="Highest good value", required=False)

    def __init__(self, *args: Any, desk: Desk, plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plans = Plan.objects.at(desk.site).standing().exclude(pk=plan.pk).select_related("position", "asset")
        self.fields["routine"].queryset = plans  # type: ignore[attr-defined]
        tags = Position.objects.at(desk.site).standing().in_walking_order()
        self.fields["position"].queryset = tags  # type: ignore[attr-defined]
        self.fields["unit"].choices = [("", "none"), *((u.code, u.code) for u in UNITS)]  # type: ignore[attr-defined]
        for name in ("low", "high"):
            self.fields[name].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]

    def typed(self) -> NeedTyped:
        """Return what was typed."""
        names = ("kind", "words", "routine", "position", "reads", "unit", "low", "high")
        return NeedTyped(**{name: self.cleaned_data[name] for name in names})


class DeferralForm(KeyedForm):
    """Until when, why, and what that risks."""

    to_day = TypedDay(label="Put off to")
    because = forms.CharField(label="Because", max_length=200, help_text="Like “packing set arrives on 30 November”")
    risk = forms.CharField(
        label="What it risks, and what is done about it",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Like “more drip; the floor drain copes; P-62 is ready”",
    )


class ApproveDeferralForm(ProvenForm):
    """The approval of another person, signed."""

    proof = ProofField()


class RefuseDeferralForm(KeyedForm):
    """Why it is refused."""

    because = forms.CharField(max_length=200)
