"""What people type when a shift is handed over and taken over."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import ProofField, TypedMoment
from maintenance.forms.proven import ProvenForm
from maintenance.models import Handover, HandoverItem


class HandOverForm(ProvenForm):
    """When the shift began, what one has to say, and the signature."""

    shift_from = TypedMoment(label="On shift from", hint="Like 2026-11-25 18:30")
    words = forms.CharField(
        label="In your own words",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What the next shift should know and no list says",
    )
    proof = ProofField()


class TakeOverForm(ProvenForm):
    """What one takes over, what one saw differently, and the signature."""

    items = forms.ModelMultipleChoiceField(
        HandoverItem.objects.none(), required=False, widget=forms.CheckboxSelectMultiple
    )
    words = forms.CharField(
        label="Anything you saw differently",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Only if there is something to say",
    )
    proof = ProofField()

    def __init__(self, *args: Any, handover: Handover, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        carried = handover.items.filter(taken_at__isnull=True).exclude(carried_key="")
        self.fields["items"].queryset = carried  # type: ignore[attr-defined]
        self.fields["items"].error_messages["invalid_choice"] = "Somebody took one of these over meanwhile; look again."

    @property
    def chosen(self) -> frozenset[str]:
        """Keys of what was chosen, to be shown again."""
        return frozenset(self.data.getlist("items")) if self.is_bound else frozenset()  # type: ignore[attr-defined]
