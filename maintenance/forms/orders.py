"""What people type about work orders."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone

from assets.compute.words import day_named
from assets.inputs import KeyedForm, TypedDay, TypedNumber, WholeNumber
from assets.models import Person, Position
from assets.permissions import Desk
from maintenance.actions.order_failures import FailureTyped
from maintenance.actions.order_steps import NewStep
from maintenance.compute.failures import CAUSES, DETECTIONS, MECHANISMS, NOT_KNOWN, modes_for
from maintenance.forms.order_files import FilesWhenRaised
from maintenance.models import Failure, OrderType, Plan, Step, WorkOrder
from maintenance.reads.order_checks import to_ask
from maintenance.reads.order_page import asked
from maintenance.reads.orders import workers


class PressForm(KeyedForm):
    """A button and nothing else."""


class WantedBy(TypedDay):
    """By when new work is wanted: no day that has passed at the site."""

    def clean(self, value: Any) -> dt.date | None:
        """Return the day, None where none was written."""
        day: dt.date | None = super().clean(value)
        if day is not None and day < timezone.localdate():
            raise forms.ValidationError(
                f"{day_named(day)} has passed; write today or a later day, or leave this empty."
            )
        return day


def type_field(*, required: bool = False) -> forms.ChoiceField:
    """What kind of work it is, in the terms of EN 13306."""
    return forms.ChoiceField(
        label="Kind of work",
        required=required,
        choices=[("", "Choose one" if required else "Not chosen yet"), *OrderType.choices],
        help_text="Corrective mends what has failed: immediate before anything else, deferred when it can wait",
    )


class AskForm(FilesWhenRaised):
    """Work that anybody asks for."""

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

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        tags = Position.objects.at(desk.site).standing().in_walking_order()
        self.fields["position"].queryset = tags  # type: ignore[attr-defined]


class OrderForm(AskForm):
    """A work order raised by hand."""

    type = type_field()
    wanted_by = WantedBy(label="Wanted by", required=False)


class TemplateOrderForm(AskForm):
    """A work order raised from a template, which says its kind."""

    wanted_by = WantedBy(label="Wanted by", required=False)


class DueOrderForm(FilesWhenRaised):
    """A work order for due items chosen in the list."""

    title = OrderForm.base_fields["title"]
    reason = OrderForm.base_fields["reason"]
    wanted_by = OrderForm.base_fields["wanted_by"]


def checks_field(*, required: bool = False) -> forms.ModelMultipleChoiceField[Plan]:
    """Signed checks whose record the work needs before it is accepted."""
    return forms.ModelMultipleChoiceField(
        label="Recorded before the work is accepted",
        queryset=Plan.objects.none(),
        required=required,
        widget=forms.CheckboxSelectMultiple,
        help_text="Beside what a newly fitted instrument owes before use anyway",
        error_messages={
            "required": "Choose at least one check.",
            "invalid_choice": "This check is asked for already, or is not registered at this tag; choose another.",
        },
    )


def _offer_checks(form: forms.Form, order: WorkOrder) -> None:
    form.fields["checks"].queryset = to_ask(order)  # type: ignore[attr-defined]
    form.fields["checks"].label_from_instance = lambda plan: plan.title  # type: ignore[attr-defined]


class ChecksForm(KeyedForm):
    """Checks that the work needs before it is accepted."""

    checks = checks_field(required=True)

    def __init__(self, *args: Any, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer_checks(self, order)


class PlanOrderForm(KeyedForm):
    """Who does the work, by when, in which steps."""

    in_charge = forms.ModelChoiceField(
        label="In charge",
        queryset=Person.objects.none(),
        empty_label="Choose who does it",
        error_messages={"required": "Choose who is in charge of the work."},
    )
    type = type_field()
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
    checks = checks_field()

    def __init__(self, *args: Any, desk: Desk, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [person.pk for person in workers(desk.site)]
        self.fields["in_charge"].queryset = Person.objects.filter(pk__in=people).order_by("name")  # type: ignore[attr-defined]
        self.initial.setdefault("in_charge", order.in_charge_id)
        self.initial.setdefault("wanted_by", order.wanted_by)
        self.initial.setdefault("minutes", order.planned_minutes)
        self.initial.setdefault("version", order.plan_version)
        self.initial.setdefault("type", order.type)
        _offer_checks(self, order)
        if not self.fields["checks"].queryset:  # type: ignore[attr-defined]
            del self.fields["checks"]

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


class FailureForm(KeyedForm):
    """How it failed: four taps, *not known* among the answers of each."""

    shows = forms.ChoiceField(label="How it showed", widget=forms.RadioSelect)
    mechanism = forms.ChoiceField(label="Mechanism", widget=forms.RadioSelect, choices=list(MECHANISMS.items()))
    cause = forms.ChoiceField(label="Cause", widget=forms.RadioSelect, choices=list(CAUSES.items()))
    detected = forms.ChoiceField(label="Detected by", widget=forms.RadioSelect, choices=list(DETECTIONS.items()))

    TAPS = ("shows", "mechanism", "cause", "detected")

    def __init__(self, *args: Any, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.TAPS:
            self.fields[name].error_messages["required"] = "Tap one; “not known” is an answer too."
        measures = bool(order.position and order.position.measures)
        self.fields["shows"].choices = list(modes_for(measures=measures).items())  # type: ignore[attr-defined]

    @property
    def failure(self) -> FailureTyped:
        """What was tapped; *not known* where nothing was asked."""
        return FailureTyped(**{name: self.cleaned_data.get(name) or NOT_KNOWN for name in self.TAPS})

    @property
    def taps(self) -> list[forms.BoundField]:
        """The four questions, where they are asked."""
        return [self[name] for name in self.TAPS if name in self.fields]


class CorrectFailureForm(FailureForm):
    """How it failed, known better; begins with what is written."""

    def __init__(self, *args: Any, order: WorkOrder, was: Failure | None, **kwargs: Any) -> None:
        super().__init__(*args, order=order, **kwargs)
        for name in self.TAPS if was is not None else ():
            self.initial.setdefault(name, getattr(was, name))


class FinishForm(FailureForm):
    """What was found and done; for corrective work how it had failed."""

    found = forms.CharField(
        label="What was found and done",
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="In your own words; the next person reads it at the machine.",
    )

    def __init__(self, *args: Any, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, order=order, **kwargs)
        if not order.is_corrective:
            for name in self.TAPS:
                del self.fields[name]


class BecauseForm(KeyedForm):
    """A reason."""

    because = forms.CharField(label="Because", max_length=200)


class StepForm(KeyedForm):
    """One more step; with a quantity and its unit it asks for a value."""

    text = forms.CharField(label="Step", max_length=200, help_text="What is to be done.")
    quantity = forms.CharField(
        label="Value to read",
        max_length=40,
        required=False,
        help_text="Like “discharge pressure”; for a plain step none",
    )
    unit = forms.CharField(label="Unit", max_length=12, required=False, help_text="Like bar, L/s, °C, mm")
    low = TypedNumber(label="Lowest allowed", required=False)
    high = TypedNumber(label="Highest allowed", required=False)

    @property
    def step(self) -> NewStep:
        """The step as typed."""
        said = self.cleaned_data
        return NewStep(said["text"], None, said["quantity"], said["unit"], said["low"], said["high"])


class StepDoneForm(KeyedForm):
    """A step that is done: the value it asks for, a note, and what is done about a value outside its limits."""

    entered = TypedNumber()
    answer = forms.CharField(label="What is done about it", max_length=200, required=False)
    note = forms.CharField(label="Note", max_length=200, required=False, help_text="What was seen, a serial, a value")

    def __init__(self, *args: Any, step: Step, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not step.reads:
            del self.fields["entered"], self.fields["answer"]
            return
        label = step.quantity[:1].upper() + step.quantity[1:]
        field = TypedNumber(
            label=label,
            unit=step.unit,
            hint=asked(step).removeprefix(f"{step.quantity}, ") if step.low or step.high else "",
            signed=step.low.startswith(("-", "\u2212")),
            decimal_mark=step.order.site.decimal_mark,
            error_messages={"required": f"Write the {step.quantity} that is read."},
        )
        self.fields["entered"] = field

    @property
    def asks_what_is_done(self) -> bool:
        """Whether the value was outside its limits, so that the page asks what is done about it."""
        return "answer" in self.fields and bool(self.errors.get("answer") or self["answer"].value())
