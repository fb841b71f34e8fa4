"""What people type about the interval of a routine, whatever it counts: days, periods, running, use, a condition."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.http import QueryDict

from assets.compute.units import UNITS, codes_for
from assets.inputs import KeyedForm, TypedDay, TypedNumber, WholeNumber
from assets.models import Position
from assets.permissions import Desk
from maintenance.actions.routines import Interval
from maintenance.compute.presets import BY_KEY, PRESETS, Preset
from maintenance.compute.season import LEAP_YEAR
from maintenance.compute.worked import Kind
from maintenance.forms.seasons import DayOfYear
from maintenance.forms.turned import left_out, typed_in
from maintenance.forms.worked_out import WorkedOutBoxes
from maintenance.models import PlanTerm
from maintenance.models.routines import BY_READING, Mode, Unit

# Ways to count that read no number of days.
WITHOUT_DAYS = frozenset({Mode.RUNNING, Mode.USAGE, Mode.CONDITION})
SOURCE_NEEDED = "Write where the limits come from; “from memory” is an answer."
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
    """How often, with the days allowed around it; one offered, or one written; or limits of a value worked out."""

    term: PlanTerm | None = None

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
    early_percent = whole("Early, in % of the period", high=25, hint="Instead of days.")
    late_percent = whole("Late, in % of the period", high=50, hint="Instead of days, rounded down to whole days.")
    spacing = whole("Days between two at least", high=366, hint="Only once in each period; like 30.")
    reads = forms.CharField(
        label="Which reading",
        max_length=60,
        required=False,
        help_text="Its name as it is written with the readings, like “Run hours” or “Pressure difference”.",
    )
    reads_at = forms.ModelChoiceField(
        label="Read at", queryset=Position.objects.none(), required=False, empty_label="The routine’s own tag"
    )
    reads_unit = forms.ChoiceField(label="Unit of the reading", required=False)
    use_every = TypedNumber(label="Due after so much use", required=False, hint="Like 500")
    use_early = TypedNumber(label="May be done earlier by", required=False, hint="In the same unit")
    use_late = TypedNumber(label="May be late by", required=False, hint="In the same unit")
    low = TypedNumber(label="Lowest good value", required=False, hint="On a condition")
    high = TypedNumber(label="Highest good value", required=False, hint="On a condition")
    answer_days = whole("Days to answer", high=366, hint="From the day it was seen outside.")
    season_first = DayOfYear(
        label="Owed only from", required=False, hint="First day of its season, each year; like 1 May."
    )
    season_last = DayOfYear(
        label="Up to", required=False, hint="Last day of its season, that day too; like 30 September."
    )
    while_running = forms.BooleanField(label="It is owed only while the unit runs", required=False)
    bench = forms.BooleanField(label="Work on it out of its place, on the bench, counts", required=False)
    by_rule = forms.BooleanField(
        label="A rule demands the interval itself: no day late, no lock stops it", required=False
    )
    source = forms.CharField(
        label="Where it comes from",
        max_length=160,
        required=False,
        help_text="The standard and clause, “common practice”, or “from memory”.",
    )

    # What is asked only of some ways to count; folded away unless one of them is chosen or something is written there.
    SOME = (
        *("early_percent", "late_percent", "spacing", "reads", "reads_at", "reads_unit", "use_every", "use_early"),
        *("use_late", "low", "high", "answer_days", "season_first", "season_last", "while_running", "bench"),
    )
    LIMITS = ("reads_unit", "low", "high", "answer_days")
    # What a value that is worked out is not asked: it is a condition, and its readings have boxes of their own.
    NOT_WORKED = (
        *("preset", "mode", "every", "unit", "anchor", "early", "late", "early_percent", "late_percent", "spacing"),
        *("reads", "reads_at", "use_every", "use_early", "use_late"),
    )

    def __init__(
        self,
        *args: Any,
        desk: Desk,
        kind: Kind | None = None,
        offered: Preset | None = None,
        turned: QueryDict | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        tags = Position.objects.at(desk.site).standing().in_walking_order()
        self.fields["reads_at"].queryset = tags  # type: ignore[attr-defined]
        self.fields["reads_unit"].choices = [("", "Choose"), *((u.code, u.code) for u in UNITS)]  # type: ignore[attr-defined]
        for name in ("use_every", "use_early", "use_late", "low", "high"):
            self.fields[name].decimal_mark = desk.site.decimal_mark  # type: ignore[attr-defined]
        choices = [(preset.key, f"{preset.words} ({preset.source})") for preset in PRESETS]
        self.fields["preset"].choices = [("", "None of these; written below"), *choices]  # type: ignore[attr-defined]
        if offered is not None:
            # Its numbers stand in the boxes; another one beside them would leave open which is meant.
            del self.fields["preset"]
            for name, value in boxes_of(offered).items():
                self.initial.setdefault(name, value)
        self.worked: WorkedOutBoxes | None = None
        if kind is not None:
            for name in self.NOT_WORKED:
                self.fields.pop(name, None)
            self._ask_limits()
            self.fields["reads_unit"].choices = [("", "Choose"), *((u, u) for u in codes_for(kind.unit))]  # type: ignore[attr-defined]
            self.worked = WorkedOutBoxes(self, kind, desk.site, self.term)
        # What has no box here was typed before other boxes were asked for: a refused form sends it along again.
        self.kept = left_out(self, self.data) if isinstance(self.data, QueryDict) else []
        if turned is not None:
            self._keep(turned)

    def _keep(self, turned: QueryDict) -> None:
        """Show what was typed before other boxes were asked for; what has no box now is sent along unseen."""
        # The boxes of a value that is worked out are those with minutes between readings.
        was_worked = "together" in turned
        self.kept = left_out(self, turned, ("same_walk",) if was_worked else ())
        self.initial.update({name: bool(turned.get(name)) for name in ("while_running", "bench", "by_rule")})
        self.initial.update(typed_in(self, turned))

    def clean(self) -> dict[str, Any]:
        """Fill what was left empty from the offered interval; without one, ask for it."""
        typed = super().clean() or {}
        if self.worked is not None:
            for box, sentence in self.worked.faults(typed):
                self.add_error(box, sentence)
            return typed
        offered = BY_KEY.get(typed.get("preset") or "")
        asked = {"mode": "how it counts", "every": "the number", "unit": "the unit"}
        for name, word in asked.items() if typed.get("mode") not in WITHOUT_DAYS else ():
            if not typed.get(name) and not offered and name not in self.errors:
                self.add_error(name, NEEDED.format(word))
        if not typed.get("source") and not offered and "source" not in self.errors:
            self.add_error("source", "Write where the interval comes from; “from memory” is an answer.")
        if typed.get("mode") == Mode.FIXED and not typed.get("anchor") and "anchor" not in self.errors:
            self.add_error("anchor", "First fixed day: fixed dates need one of them to count from.")
        return typed

    def _ask_limits(self) -> None:
        """The limits of what is worked out, in words of their own; their unit and their source are needed."""
        self.fields["reads_unit"].label = "Unit of the limits"
        self.fields["reads_unit"].required = self.fields["source"].required = True
        self.fields["reads_unit"].error_messages["required"] = "Unit of the limits: choose it."
        self.fields["source"].error_messages["required"] = SOURCE_NEEDED
        self.fields["source"].label = "Where the limits come from"
        for name in ("low", "high"):
            self.fields[name].hint = "One of the two limits is enough."  # type: ignore[attr-defined]

    @property
    def some(self) -> list[BoundField]:
        """The boxes that only some ways to count ask for."""
        shown = self.LIMITS if self.worked is not None else ()
        return [self[name] for name in self.SOME if name in self.fields and name not in shown]

    @property
    def some_open(self) -> bool:
        """Whether they are shown at once: something is written there, or wrong."""
        return any(bound.errors or bound.value() not in (None, "", False) for bound in self.some)

    @property
    def interval(self) -> Interval:
        """The interval as chosen or written; what is written wins."""
        typed = self.cleaned_data
        if self.worked is not None:
            return self._worked_out(self.worked)
        offered = BY_KEY.get(typed.get("preset") or "")
        by_rule = typed["by_rule"] or bool(offered and offered.by_rule)
        mode = typed["mode"] or (offered.mode if offered else "")
        return Interval(
            mode=mode,
            every=typed["every"] or (offered.every if offered else int(mode in WITHOUT_DAYS)),
            unit=typed["unit"] or (offered.unit if offered else "day" if mode in WITHOUT_DAYS else ""),
            source=typed["source"] or (offered.source if offered else ""),
            anchor=typed["anchor"] if mode == Mode.FIXED else None,
            early=_first(typed["early"], offered.early if offered else 7),
            late=_first(typed["late"], offered.late if offered and not by_rule else 0),
            by_rule=by_rule,
            early_percent=typed["early_percent"],
            late_percent=None if by_rule else typed["late_percent"],
            spacing=typed["spacing"] if mode == Mode.PERIOD else None,
            **self._shared(offered),
            **_read(_with_offered(typed, offered), mode),
        )

    def _shared(self, offered: Preset | None) -> dict[str, Any]:
        """What any way to count asks: the season, whether it is owed only while the unit runs, work on the bench."""
        typed = self.cleaned_data
        own = boxes_of(offered) if offered is not None else {}
        seasons = {name: typed[name] for name in ("season_first", "season_last")}
        if not any(seasons.values()):
            seasons = {name: own.get(name) for name in seasons}
        return {**seasons, "while_running": typed["while_running"] or None, "bench": typed["bench"] or None}

    def _worked_out(self, worked: WorkedOutBoxes) -> Interval:
        typed = self.cleaned_data
        return Interval(
            mode=Mode.CONDITION,
            source=typed["source"],
            early=0,
            by_rule=typed["by_rule"],
            reads_unit=typed["reads_unit"],
            low=typed["low"],
            high=typed["high"],
            answer_days=typed["answer_days"],
            worked_out=worked.typed(typed),
            **self._shared(None),
        )


def _with_offered(typed: dict[str, Any], offered: Preset | None) -> dict[str, Any]:
    """What is typed, and where nothing is, what the offered interval says."""
    own = boxes_of(offered) if offered is not None else {}
    return {name: own.get(name, value) if value in (None, "") else value for name, value in typed.items()}


def boxes_of(preset: Preset) -> dict[str, Any]:
    """What the boxes of an interval say for an offered one."""
    names = (
        *("mode", "early", "late", "by_rule", "source", "reads", "reads_unit", "use_every", "use_early", "use_late"),
        *("low", "high", "answer_days"),
    )
    found = {name: getattr(preset, name) for name in names}
    if preset.mode not in WITHOUT_DAYS:
        found |= {"every": preset.every, "unit": preset.unit}
    if preset.season is not None:
        first, last = (dt.date(LEAP_YEAR, *day) for day in (preset.season.first, preset.season.last))
        found |= {"season_first": first, "season_last": last}
    return found


def _read(typed: dict[str, Any], mode: str) -> dict[str, Any]:
    """What is counted by use or watched on a condition; nothing where the mode looks at no reading."""
    if mode not in BY_READING:
        return {}
    shared = {name: typed[name] for name in ("reads", "reads_at", "reads_unit")}
    if mode == Mode.CONDITION:
        return {**shared, "low": typed["low"], "high": typed["high"], "answer_days": typed["answer_days"]}
    return {**shared, **{name: typed[name] for name in ("use_every", "use_early", "use_late")}}


def _first(typed: int | None, otherwise: int) -> int:
    return otherwise if typed is None else typed


class TermForm(IntervalForm):
    """Another interval for a routine, from a day on, with the reason."""

    OF_VALUE = ("reads", "reads_at", "reads_unit", "low", "high")

    from_day = TypedDay(label="From", hint="Today or later; it never works backwards.")
    why = forms.CharField(label="Reason of the change", max_length=200)

    def __init__(
        self,
        *args: Any,
        term: PlanTerm,
        desk: Desk,
        kind: Kind | None = None,
        offered: Preset | None = None,
        **kwargs: Any,
    ) -> None:
        self.term = term
        self.same = term.computes == (kind.code if kind is not None else "")
        super().__init__(*args, desk=desk, kind=kind, offered=offered, **kwargs)
        # The interval in force stands in the boxes; an offered one beside it would leave open which is meant.
        self.fields.pop("preset", None)
        self.fields["source"].required = True
        if kind is None:
            self.fields["mode"].choices = Mode.choices  # type: ignore[attr-defined]
            self.fields["mode"].required = True
        self.today = desk.today
        # Of another value, or of none that is worked out any more, neither name nor limits hold.
        for name in ("mode", "every", "unit", "anchor", "early", "late", "by_rule", "source", *self.SOME):
            if self.same or name not in self.OF_VALUE:
                self.initial.setdefault(name, getattr(term, name))
        self.initial.setdefault("from_day", desk.today)

    def _keep(self, turned: QueryDict) -> None:
        """What the term says itself of its own value was not typed: it goes with that value, and comes with it."""
        assert self.term is not None
        super()._keep(turned)
        own = {"reads_at": self.term.reads_at_id or ""}
        for name in self.OF_VALUE:
            unchanged = str(self.initial.get(name, "")) in ("", str(own.get(name, getattr(self.term, name))))
            if unchanged:
                self.initial.pop(name, None)

    def clean_from_day(self) -> Any:
        """A change is decided today; a day that has passed would rewrite what was true then."""
        day = self.cleaned_data["from_day"]
        if day < self.today:
            raise forms.ValidationError(f"From: {day.isoformat()} has passed; write today or a later day.")
        return day
