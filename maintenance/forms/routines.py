"""What people type about routines and the work on them."""

from __future__ import annotations

from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedDay, TypedMoment, WholeNumber
from assets.models import Asset, Position
from assets.permissions import Desk
from maintenance.actions.routines import Interval, Work
from maintenance.compute.presets import BY_KEY, PRESETS
from maintenance.models import PlanTerm
from maintenance.models.routines import Follows, Mode, PlanKind, Unit

NEEDED = "Choose an interval that is offered, or write {} here."


def whole(label: str, *, high: int, unit: str = "", hint: str = "", low: int = 0) -> WholeNumber:
    """A whole number that is not typed into a spinner; may stay empty."""
    field = WholeNumber(
        label=label,
        required=False,
        min_value=low,
        max_value=high,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text=hint,
        error_messages={
            "invalid": f"{label}: write a whole number, like 30.",
            "min_value": f"{label}: write {low} or more.",
            "max_value": f"{label}: write {high} or less; look at the unit.",
        },
    )
    field.unit = unit  # type: ignore[attr-defined]
    return field


class IntervalForm(KeyedForm):
    """How often, with the days allowed around it; one offered, or one written."""

    preset = forms.ChoiceField(label="Interval, offered", required=False, help_text="Each names where it comes from.")
    mode = forms.ChoiceField(
        label="Next due day", required=False, choices=[("", "As the offered interval says"), *Mode.choices]
    )
    every = whole("Every", high=36_525, low=1, hint="How many of the unit beside it.")
    unit = forms.ChoiceField(label="Unit", required=False, choices=[("", "Choose"), *Unit.choices])
    anchor = TypedDay(
        label="First fixed day", required=False, hint="Only for fixed dates: one of its due days, like 2026-01-31."
    )
    early = whole("Days it may be done early", high=366, hint="At most a quarter of the interval counts.")
    late = whole("Days it may be late", high=366, hint="None where a rule demands the interval itself.")
    by_rule = forms.BooleanField(
        label="A rule demands the interval itself: no day late, no lock stops it", required=False
    )
    source = forms.CharField(
        label="Where it comes from",
        max_length=160,
        required=False,
        help_text="The standard and clause, “common practice”, or “from memory”.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offered = [(preset.key, f"{preset.words} ({preset.source})") for preset in PRESETS]
        self.fields["preset"].choices = [("", "None of these; written below"), *offered]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Fill what was left empty from the offered interval; without one, ask for it."""
        typed = super().clean() or {}
        offered = BY_KEY.get(typed.get("preset") or "")
        for name, word in {"mode": "how it counts", "every": "the number", "unit": "the unit"}.items():
            if not typed.get(name) and not offered and name not in self.errors:
                self.add_error(name, NEEDED.format(word))
        if not typed.get("source") and not offered and "source" not in self.errors:
            self.add_error("source", "Write where the interval comes from; “from memory” is an answer.")
        if typed.get("mode") == Mode.FIXED and not typed.get("anchor") and "anchor" not in self.errors:
            self.add_error("anchor", "First fixed day: fixed dates need one of them to count from.")
        return typed

    @property
    def interval(self) -> Interval:
        """The interval as chosen or written; what is written wins."""
        typed = self.cleaned_data
        offered = BY_KEY.get(typed.get("preset") or "")
        by_rule = typed["by_rule"] or bool(offered and offered.by_rule)
        mode = typed["mode"] or (offered.mode if offered else "")
        return Interval(
            mode=mode,
            every=typed["every"] or (offered.every if offered else 0),
            unit=typed["unit"] or (offered.unit if offered else ""),
            source=typed["source"] or (offered.source if offered else ""),
            anchor=typed["anchor"] if mode == Mode.FIXED else None,
            early=_first(typed["early"], offered.early if offered else 7),
            late=_first(typed["late"], offered.late if offered and not by_rule else 0),
            by_rule=by_rule,
        )


def _first(typed: int | None, otherwise: int) -> int:
    return otherwise if typed is None else typed


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

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
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


class TermForm(IntervalForm):
    """Another interval for a routine, from a day on, with the reason."""

    from_day = TypedDay(label="From", hint="Today or later; it never works backwards.")
    why = forms.CharField(label="Reason of the change", max_length=200)

    def __init__(self, *args: Any, term: PlanTerm, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # The interval in force stands in the boxes; an offered one beside it would leave open which is meant.
        del self.fields["preset"]
        self.fields["mode"].choices = Mode.choices  # type: ignore[attr-defined]
        for name in ("mode", "every", "unit", "source"):
            self.fields[name].required = True
        self.today = desk.today
        for name in ("mode", "every", "unit", "anchor", "early", "late", "by_rule", "source"):
            self.initial.setdefault(name, getattr(term, name))
        self.initial.setdefault("from_day", desk.today)

    def clean_from_day(self) -> Any:
        """A change is decided today; a day that has passed would rewrite what was true then."""
        day = self.cleaned_data["from_day"]
        if day < self.today:
            raise forms.ValidationError(f"From: {day.isoformat()} has passed; write today or a later day.")
        return day


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
