"""What people type about locks; nothing is filled in that somebody has to read or answer."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from django import forms

from assets.inputs import KeyedForm, ProofField, TypedMoment, TypedNumber, WholeNumber, YesNo
from assets.models import Asset, Person, Site
from maintenance.compute.lockout import Story
from maintenance.compute.lockout_off import field_of, questions_of
from maintenance.forms.proven import ProvenForm
from maintenance.models import Application, Lock, LockBox, WorkOrder
from maintenance.reads.locks_acceptance import AcceptanceField


class LockForm(ProvenForm):
    """A form about locks."""


class CodeInput(forms.PasswordInput):
    """A code that can be read while it is typed and is never sent back with a page."""

    input_type = "text"


def earlier() -> TypedMoment:
    """When it happened, if not just now."""
    return TypedMoment(
        label="When, if it was more than 15 minutes ago",
        required=False,
        hint="Like 2026-11-25 14:05; it is shown as entered late",
    )


def stamp(lock: str = "") -> forms.CharField:
    """The last three characters stamped on a lock."""
    return forms.CharField(
        label=f"Last three characters stamped on {'lock ' + lock if lock else 'the lock'}",
        max_length=8,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "size": 4}),
        error_messages={"required": "Read them on the lock and write them here."},
    )


def plate(place: str) -> forms.CharField:
    """The code on the plate of a place."""
    return forms.CharField(
        label=f"Code on the plate of {place}",
        max_length=10,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "size": 6}),
        error_messages={"required": "Read it on the plate and write it here."},
    )


def code() -> forms.CharField:
    """The code told apart from a contractor's link."""
    return ProofField(
        label="Your code, 8 letters and digits",
        widget=CodeInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
        error_messages={"required": "Type the code that you were told."},
    )


class Question(YesNo):
    """A question whose missing answer is for the rules to refuse, together with all else that stops the act."""

    def validate(self, value: Any) -> None:
        """Let a missing answer pass to the act; refuse what is neither yes nor no."""
        if value not in self.empty_values:
            super().validate(value)


class Line(forms.CharField):
    """A line to be written, whose absence is for the rules to refuse by its name."""

    def validate(self, value: Any) -> None:
        """Let an empty line pass to the act."""


class BeginForm(KeyedForm):
    """A lockout begins."""

    why = forms.CharField(label="What for", max_length=200, help_text="The work, in a few words.")
    in_charge = forms.ModelChoiceField(label="Person in charge", queryset=Person.objects.none(), empty_label="Choose")
    box = forms.ModelChoiceField(
        label="Lock box", queryset=LockBox.objects.none(), required=False, empty_label="No box: each locks every point"
    )
    order = forms.ModelChoiceField(
        label="Work order", queryset=WorkOrder.objects.none(), required=False, empty_label="None"
    )

    def __init__(self, *args: Any, people: Any, boxes: Any, orders: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, rows in (("in_charge", people), ("box", boxes), ("order", orders)):
            self.fields[name].queryset = rows  # type: ignore[attr-defined]


class TellForm(KeyedForm):
    """Somebody was told."""

    name = forms.CharField(label="Who was told", max_length=80)
    how = forms.CharField(label="How", max_length=80, help_text="Spoken, radio, phone.")
    happened_at = earlier()


class DownForm(KeyedForm):
    """Shut down, and the selector as found."""

    selector = forms.CharField(
        label="Selector found at", max_length=40, help_text="Hand, off, auto as it stood; or that there is none."
    )
    text = forms.CharField(label="Anything to remember", max_length=200, required=False)
    happened_at = earlier()


class EarlierForm(KeyedForm):
    """One thing done, now or a while ago."""

    happened_at = earlier()


class RelieveForm(KeyedForm):
    """Stored energy let off."""

    found = forms.CharField(
        label="What you read or saw afterwards", max_length=200, help_text="Like: gauge PI-72 at 0 kPa."
    )
    happened_at = earlier()


class PressForm(KeyedForm):
    """A button and nothing else."""


class TestForm(LockForm):
    """The test of one source."""

    tester = forms.ModelChoiceField(
        label="Tested with", queryset=Asset.objects.none(), empty_label="Choose the tester you hold"
    )
    reading = forms.CharField(label="It read", max_length=120, help_text="With its unit, like: 0 V between all phases.")
    proof = ProofField()

    def __init__(self, *args: Any, testers: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tester"].queryset = testers  # type: ignore[attr-defined]


class OwnLockField(forms.ModelChoiceField[Lock]):
    """One's own locks; one that is on elsewhere says so, and choosing it is for the rules to refuse."""

    hanging: Mapping[int, str] = MappingProxyType({})

    def label_from_instance(self, obj: Lock) -> str:
        """The lock's number, and where it hangs."""
        place = self.hanging.get(obj.pk)
        return f"{obj}, on {place} now" if place else str(obj)


class OnForm(LockForm):
    """A lock goes on at one place."""

    def __init__(
        self, *args: Any, person: Person, site: Site, place: str, outside: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        own = Lock.objects.filter(site=site, issued_to=person, lost_at=None).order_by("number")
        field = OwnLockField(
            label="Your lock",
            queryset=own,
            empty_label="Choose the lock in your hand",
            error_messages={"invalid_choice": "This is no lock of yours; choose the lock in your hand."},
        )
        on = Application.objects.on().filter(lock__in=own).select_related("point", "box")
        field.hanging = {application.lock_id: str(application.point or application.box) for application in on}
        self.fields["lock"] = field
        self.fields["stamp"] = stamp()
        self.fields["plate"] = plate(place)
        if not outside:
            self.fields["happened_at"] = earlier()
        self.fields["proof"] = code() if outside else ProofField()


class OffForm(LockForm):
    """A lock comes off: each question that is not answered yet, the two things to be read, the proof."""

    def __init__(
        self, *args: Any, story: Story, lock: str, place: str, asked: list[int], outside: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.topics = {field_of(number): topic for number, topic in enumerate(questions_of(story), 1)}
        for name, topic in self.topics.items():
            if int(name[1:]) in asked:
                self.fields[name] = Question(label=topic)
        self.fields["stamp"] = stamp(lock)
        self.fields["plate"] = plate(place)
        self.fields["proof"] = code() if outside else ProofField()

    @property
    def questions(self) -> list[forms.BoundField]:
        """The questions that are asked on this page."""
        return [self[name] for name in self.topics if name in self.fields]

    @property
    def answers(self) -> dict[str, str]:
        """What was answered, by question."""
        given = ((topic, self.cleaned_data.get(name, "")) for name, topic in self.topics.items())
        return {topic: answer for topic, answer in given if answer}


class AnswersForm(LockForm):
    """Answers alone, kept before the lock comes off."""

    def __init__(self, *args: Any, story: Story, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.topics = {field_of(number): topic for number, topic in enumerate(questions_of(story), 1)}
        for name, topic in self.topics.items():
            self.fields[name] = Question(label=topic)

    def clean_key(self) -> str:
        """Keep apart from the act for which the same page asks: its key is not used up by answers."""
        return f"{self.cleaned_data['key']}-a" if self.cleaned_data["key"] else ""

    @property
    def answers(self) -> dict[str, str]:
        """What was answered, by question."""
        given = ((topic, self.cleaned_data.get(name, "")) for name, topic in self.topics.items())
        return {topic: answer for topic, answer in given if answer}


class FitsForm(KeyedForm):
    """Whether the procedure fits what is fitted."""

    answer = YesNo(label="Does it still fit?")
    why = forms.CharField(
        label="What you looked at",
        max_length=300,
        help_text="Nameplate, heater, drive capacitor, flywheel, second feed.",
    )


class WhyForm(LockForm):
    """A reason in words."""

    why = forms.CharField(label="Why", max_length=200)


class RunEndForm(KeyedForm):
    """The end of a test run."""

    found = forms.CharField(label="What it showed, or why it was given up", max_length=200)


class RunBeginForm(LockForm):
    """The test run begins."""

    minutes = WholeNumber(
        label="For how many minutes",
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        help_text="1 to 60. Longer raises an alarm and ends nothing.",
        error_messages={"invalid": "Write whole minutes, like 10."},
    )
    proof = ProofField()


class ProofForm(LockForm):
    """A proof and nothing else."""

    proof = ProofField()


class AcceptForm(LockForm):
    """The acceptance list, one field a line, none filled in."""

    def __init__(self, *args: Any, lines: list[AcceptanceField], decimal_mark: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = lines
        for line in lines:
            if line.name == "hours":
                self.fields["hours"] = TypedNumber(
                    label=line.topic, unit="h", hint=line.hint, required=False, decimal_mark=decimal_mark
                )
                self.fields["no_hours"] = forms.CharField(label="No hour meter? Why", max_length=120, required=False)
            else:
                self.fields[line.name] = Line(label=line.topic, help_text=line.hint, max_length=280)
        self.fields["proof"] = ProofField()

    @property
    def written(self) -> dict[str, str]:
        """What was written, by line."""
        return {line.topic: self.cleaned_data.get(line.name, "") for line in self.lines if line.name != "hours"}


class InviteForm(KeyedForm):
    """Which contractor is invited."""

    person = forms.ModelChoiceField(label="Contractor", queryset=Person.objects.none(), empty_label="Choose")

    def __init__(self, *args: Any, people: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people  # type: ignore[attr-defined]
