"""What people write on a work order: time, parts, what was paid."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedMoment, TypedNumber, WholeNumber
from assets.models import Person
from assets.permissions import SUPERVISORS, Desk
from maintenance.actions.labour import TimeTyped
from maintenance.compute.stock import amount_text
from maintenance.models import Labour, Part, WorkOrder
from maintenance.reads.order_costs import people_with_time


class LabourForm(KeyedForm):
    """Minutes, or from when to when; what was done."""

    minutes = WholeNumber(label="Time", required=False, min_value=0, max_value=10_080)
    minutes.unit = "min"  # type: ignore[attr-defined]
    from_at = TypedMoment(label="Or from", required=False)
    to_at = TypedMoment(label="to", required=False)
    what = forms.CharField(label="What was done", max_length=160, required=False)

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("from_at", "to_at"):
            self.fields[name].zone = desk.site.zone  # type: ignore[attr-defined]

    @property
    def time(self) -> TimeTyped:
        """The time as typed."""
        said = self.cleaned_data
        return TimeTyped(minutes=said["minutes"], from_at=said["from_at"], to_at=said["to_at"], what=said["what"])


class NewLabourForm(LabourForm):
    """The same, with whose time it is where the asking person may write that of others."""

    person = forms.ModelChoiceField(label="Who", queryset=Person.objects.none(), empty_label=None)
    field_order = ("person", "minutes", "from_at", "to_at", "what")

    def __init__(self, *args: Any, desk: Desk, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        if not desk.may(SUPERVISORS):
            del self.fields["person"]
            return
        people = [person.pk for person in people_with_time(desk, order)]
        self.fields["person"].queryset = Person.objects.filter(pk__in=people).order_by("name")  # type: ignore[attr-defined]
        self.initial.setdefault("person", desk.person.pk)


class CorrectLabourForm(LabourForm):
    """Time written anew; begins with what is written."""

    def __init__(self, *args: Any, desk: Desk, was: Labour, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        self.fields["minutes"].help_text = "0 takes it back"
        self.initial.setdefault("what", was.what)


class PartChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    """A part by its name and bin."""

    def label_from_instance(self, obj: Any) -> str:
        """Name, bin, unit."""
        where = f", bin {obj.bin}" if obj.bin else ""
        return f"{obj.name}{where} ({obj.unit})"


class OrderPartForm(KeyedForm):
    """A part and how much of it."""

    part = PartChoice(
        label="Part",
        queryset=Part.objects.none(),
        empty_label="Choose a part",
        error_messages={"required": "Choose the part."},
    )
    amount = TypedNumber(label="How much")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].queryset = Part.objects.at(desk.site).standing().order_by("name")  # type: ignore[attr-defined]


class OrderUseForm(OrderPartForm):
    """What is done with the part: used, put back, or needed later."""

    WAYS = (("use", "Used"), ("back", "Put back"), ("need", "Needed later"))
    way = forms.ChoiceField(label="It is", choices=WAYS, widget=forms.RadioSelect, initial="use")

    def __init__(self, *args: Any, desk: Desk, order: WorkOrder, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        first = self.initial.get("part")
        need = order.needed.filter(part=first).first() if first else None
        if need is not None:
            self.initial.setdefault("amount", amount_text(need.thousandths))


class CostForm(KeyedForm):
    """What was paid to somebody outside."""

    amount = TypedNumber(label="Paid", hint="in the money of the plant", low="0", high="100000000")
    what = forms.CharField(label="For what", max_length=160, help_text="Who was paid for what; the number of the bill")
