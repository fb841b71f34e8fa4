"""What people type about work orders."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedDay, WholeNumber
from assets.models import Person, Position
from assets.permissions import Desk
from maintenance.models import WorkOrder
from maintenance.reads.orders import workers


class PressForm(KeyedForm):
    """A button and nothing else."""


class OrderForm(KeyedForm):
    """A work order raised by hand."""

    position = forms.ModelChoiceField(
        label="Tag",
        queryset=Position.objects.none(),
        empty_label="Choose a tag",
        error_messages={
            "required": "Choose the tag the work is for.",
            "invalid_choice": "This tag is not in use at this site; choose one of the list.",
        },
    )
    title = forms.CharField(label="What has to be done", max_length=140, help_text="In a few words.")
    reason = forms.CharField(
        label="Because", widget=forms.Textarea(attrs={"rows": 3}), help_text="What was found, or why it is needed."
    )
    wanted_by = TypedDay(label="Wanted by", required=False)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        tags = Position.objects.at(desk.site).standing().in_walking_order()
        self.fields["position"].queryset = tags  # type: ignore[attr-defined]


class DueOrderForm(KeyedForm):
    """A work order for due items chosen in the list."""

    title = OrderForm.base_fields["title"]
    reason = OrderForm.base_fields["reason"]
    wanted_by = OrderForm.base_fields["wanted_by"]


class PlanOrderForm(KeyedForm):
    """Who does the work, by when, in which steps."""

    in_charge = forms.ModelChoiceField(
        label="In charge",
        queryset=Person.objects.none(),
        empty_label="Choose who does it",
        error_messages={"required": "Choose who is in charge of the work."},
    )
    wanted_by = TypedDay(label="Wanted by", required=False)
    minutes = WholeNumber(
        label="Planned time",
        required=False,
        min_value=1,
        max_value=60_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={"invalid": "Write the time in whole minutes, like 45."},
    )
    minutes.unit = "min"  # type: ignore[attr-defined]
    steps = forms.CharField(
        label="Further steps",
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text="One a line, in the order of the work.",
    )

    def __init__(self, *args: Any, desk: Desk, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [person.pk for person in workers(desk.site)]
        self.fields["in_charge"].queryset = Person.objects.filter(pk__in=people).order_by("name")  # type: ignore[attr-defined]
        self.initial.setdefault("in_charge", order.in_charge_id)
        self.initial.setdefault("wanted_by", order.wanted_by)
        self.initial.setdefault("minutes", order.planned_minutes)
        self.initial.setdefault("version", order.plan_version)

    def clean_steps(self) -> list[str]:
        """Lines that say something; each fits into a step."""
        lines = [line.strip() for line in self.cleaned_data["steps"].splitlines() if line.strip()]
        long = next((n for n, line in enumerate(lines, start=1) if len(line) > 200), None)
        if long:
            raise forms.ValidationError(f"Line {long} is longer than 200 letters; make two steps of it.")
        return lines


class WaitForm(KeyedForm):
    """For what the work waits."""

    waiting_for = forms.CharField(
        label="Waiting for", max_length=160, help_text="A part, a person, the weather: what has to come first."
    )


class FinishForm(KeyedForm):
    """What was found and done."""

    found = forms.CharField(
        label="What was found and done",
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="In your own words; the next person reads it at the machine.",
    )


class BecauseForm(KeyedForm):
    """A reason."""

    because = forms.CharField(label="Because", max_length=200)


class StepForm(KeyedForm):
    """One more step."""

    text = forms.CharField(label="Step", max_length=200, help_text="What is to be done.")


class StepDoneForm(KeyedForm):
    """A note on a step that is done."""

    note = forms.CharField(label="Note", max_length=200, required=False, help_text="What was seen, a serial, a value.")
