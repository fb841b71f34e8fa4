"""What people type about routines and the work on them."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedMoment
from assets.models import Asset, Position
from assets.permissions import Desk
from maintenance.actions.routines import Work
from maintenance.compute.presets import Preset
from maintenance.forms.intervals import IntervalForm, whole
from maintenance.models.routines import Follows, PlanKind


class RoutineForm(IntervalForm):
    """A new routine of a tag or of a carried asset."""

    position = forms.ModelChoiceField(
        label="Tag", queryset=Position.objects.none(), required=False, empty_label="None: it is carried"
    )
    asset = forms.ModelChoiceField(
        label="Carried asset",
        queryset=Asset.objects.none(),
        required=False,
        empty_label="None: it belongs to the tag",
        help_text="A bench meter, a voltage tester: what has no tag.",
    )
    kind = forms.ChoiceField(label="Kind", choices=[("", "Choose"), *PlanKind.choices])
    title = forms.CharField(label="What is done", max_length=120, help_text="Like “Calibrate pH” or “Grease bearings”.")
    minutes = whole("Planned time", high=6_000, low=1, unit="min")
    follows = forms.ChoiceField(
        label="It is owed by",
        choices=Follows.choices,
        widget=forms.RadioSelect,
        help_text="By the asset: whatever is newly fitted owes it before use.",
    )

    field_order = ["position", "asset", "kind", "title", "minutes", "follows", "preset"]

    def __init__(self, *args: Any, desk: Desk, offered: Preset | None = None, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, offered=offered, **kwargs)
        if offered is not None:
            self.initial.update({"kind": offered.kind, "title": offered.title})
        tags = Position.objects.at(desk.site).standing().in_walking_order()
        self.fields["position"].queryset = tags  # type: ignore[attr-defined]
        self.fields["asset"].queryset = Asset.objects.at(desk.site).standing()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """One tag or one asset, not both."""
        typed = super().clean()
        if bool(typed.get("position")) == bool(typed.get("asset")) and not {"position", "asset"} & set(self.errors):
            self.add_error("position", "Choose a tag, or a carried asset, and not both.")
        if typed.get("asset") and typed.get("follows") == Follows.ASSET:
            self.add_error("follows", "A carried asset has no tag where another could be fitted: choose the tag.")
        return typed

    @property
    def target(self) -> Position | Asset:
        """What the routine belongs to."""
        target: Position | Asset = self.cleaned_data["position"] or self.cleaned_data["asset"]
        return target

    @property
    def work(self) -> Work:
        """What the routine asks for."""
        typed = self.cleaned_data
        return Work(kind=typed["kind"], title=typed["title"], minutes=typed["minutes"] or 30, follows=typed["follows"])


class RetireForm(KeyedForm):
    """Why a routine ends."""

    because = forms.CharField(label="Because", max_length=200, help_text="What is still open of it is withdrawn.")


class PerformanceForm(KeyedForm):
    """Work on a due item, recorded in words: done, or not and why."""

    performed_at = TypedMoment(label="Done when")
    what = forms.CharField(
        label="What was done",
        max_length=160,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What was seen and done, in a few words.",
    )
    could_not = forms.CharField(
        label="Or: could not be done, because",
        max_length=160,
        required=False,
        help_text="Then it stays due, and the reason stands with it.",
    )

    def clean(self) -> dict[str, Any]:
        """One of the two, not both."""
        typed = super().clean() or {}
        if bool(typed.get("what")) == bool(typed.get("could_not")) and not self.errors:
            self.add_error("what", "Write what was done, or why it could not be done, and not both.")
        return typed


class CorrectionForm(KeyedForm):
    """A record put right: when it was really done, or that it was entered by mistake."""

    performed_at = TypedMoment(label="Done when, as it really was")
    what = forms.CharField(label="What was done", max_length=160, widget=forms.Textarea(attrs={"rows": 3}))
    mistake = forms.BooleanField(label="It was not done at all: entered by mistake", required=False)
