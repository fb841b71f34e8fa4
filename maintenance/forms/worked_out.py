"""The boxes of a value that is worked out: which readings go in, the numbers of its baseline, and how far apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from assets.compute.readings.together import MINUTES
from assets.compute.units import BY_CODE as UNITS
from assets.compute.units import codes_for
from assets.inputs import TypedNumber, WholeNumber
from assets.models import Position, Site
from maintenance.actions.worked_out import MOST_MINUTES, WorkedOut, number_box, reading_box
from maintenance.compute.worked import Asked, Kind
from maintenance.models import PlanTerm
from maintenance.reads.readings_offered import ReadingOffered, measuring, readings_offered

DAYS = "d"
MANY = {
    "flow": "flows",
    "pressure": "pressures",
    "length": "heads",
    "temperature": "temperatures",
    "speed": "speeds",
}
CHOOSE_UNIT = "Choose the unit in which these numbers are written."


def unit_box(unit: str) -> str:
    """The box in which the unit of numbers of one quantity is chosen."""
    return f"u_{UNITS[unit].quantity.replace(' ', '_')}"


class WorkedOutBoxes:
    """Adds its boxes to a form and reads them; the form shows them by `readings`, `units`, `numbers` and `rest`."""

    def __init__(self, form: forms.Form, kind: Kind, site: Site, term: PlanTerm | None = None) -> None:
        self.form, self.kind = form, kind
        self.offered = readings_offered(site)
        self.numbers_in = [one for one in kind.givens if one.unit != DAYS]
        for ask in kind.asks:
            form.fields[reading_box(ask.name)] = self._reading(ask)
        for one in kind.givens:
            said = {"required": f"{one.label}: write the number."}
            box = TypedNumber(
                label=one.label,
                required=one.needed,
                hint=one.hint,
                signed=one.signed,
                decimal_mark=site.decimal_mark,
                error_messages=said,
            )
            box.unit = "days" if one.unit == DAYS else ""
            form.fields[number_box(one.name)] = box
        for unit in dict.fromkeys(one.unit for one in self.numbers_in):
            choices = [("", "Choose"), *((code, code) for code in codes_for(unit))]
            label = f"Unit of these {MANY.get(UNITS[unit].quantity, 'numbers')}"
            needed = any(one.needed for one in self.numbers_in if one.unit == unit)
            said = {"required": CHOOSE_UNIT}
            form.fields[unit_box(unit)] = forms.ChoiceField(
                label=label, choices=choices, required=needed, error_messages=said
            )
        self._add_rest(form)
        if term is not None and term.computes == kind.code:
            self._show(term)

    def _reading(self, ask: Asked) -> forms.ChoiceField:
        words = f"{ask.label[:1].upper()}{ask.label[1:]}"
        return forms.ChoiceField(
            label=words,
            choices=self._choices(ask),
            required=ask.needed,
            help_text=ask.hint,
            error_messages={"required": f"{words}: choose where it is read."},
        )

    def _choices(self, ask: Asked) -> list[tuple[str, str]]:
        own = measuring(self.offered, ask.unit)
        none = "No reading measures this yet" if not own else "Choose" if ask.needed else "None"
        return [("", none), *((one.value, one.label) for one in own)]

    def _add_rest(self, form: forms.Form) -> None:
        form.fields["together"] = WholeNumber(
            label="Minutes between readings, at most",
            required=False,
            min_value=0,
            max_value=MOST_MINUTES,
            help_text=f"{MINUTES} where nothing is written. Readings farther apart are not of one moment: no value.",
            error_messages={
                "invalid": "Write a whole number of minutes, like 15.",
                "min_value": "Write 0 minutes or more.",
                "max_value": f"Write {MOST_MINUTES} minutes or less; readings farther apart are not of one moment.",
            },
        )
        form.fields["same_walk"] = forms.BooleanField(
            label="Readings of one walk belong together, also where they are farther apart", required=False
        )
        if not self.kind.over_days:
            form.fields["baseline_from"] = forms.CharField(
                label="Where the baseline comes from",
                max_length=160,
                help_text="Measured when and by whom, or the maker’s paper.",
                error_messages={"required": "Where the baseline comes from: write when and by whom it was measured."},
            )

    def _show(self, term: PlanTerm) -> None:
        """Put what a term says now into the boxes."""
        initial = self.form.initial
        for row in term.inputs.select_related("reads_at"):
            if row.reads_at is not None:
                value = self._chosen(row.name, row.reads_at, row.reads)
                initial.setdefault(reading_box(row.name), value)
            else:
                initial.setdefault(number_box(row.name), row.number)
                for one in self.numbers_in:
                    if one.name == row.name:
                        initial.setdefault(unit_box(one.unit), row.unit)
        for name in ("together", "same_walk", "baseline_from"):
            initial.setdefault(name, getattr(term, name))

    def _chosen(self, name: str, at: Position, what: str) -> str:
        """The value of a choice, which is offered also where nothing is read there any more."""
        for one in self.offered:
            if (one.position.pk, one.what.casefold()) == (at.pk, what.casefold()):
                return one.value
        ask = next((ask for ask in self.kind.asks if ask.name == name), None)
        gone = ReadingOffered(position=at, what=what, unit=ask.unit if ask is not None else "", last=None)
        self.offered.append(gone)
        box = self.form.fields.get(reading_box(name))
        if ask is not None and isinstance(box, forms.ChoiceField):
            box.choices = self._choices(ask)
        return gone.value

    @property
    def readings(self) -> list[BoundField]:
        """The boxes of readings."""
        return [self.form[reading_box(ask.name)] for ask in self.kind.asks]

    @property
    def numbers(self) -> list[BoundField]:
        """The boxes of numbers."""
        return [self.form[number_box(one.name)] for one in self.kind.givens]

    @property
    def units(self) -> list[BoundField]:
        """The boxes of their units."""
        return [self.form[unit_box(unit)] for unit in dict.fromkeys(one.unit for one in self.numbers_in)]

    @property
    def rest(self) -> Sequence[BoundField]:
        """How far apart readings may be, and where the baseline comes from."""
        return [self.form[name] for name in ("baseline_from", "together", "same_walk") if name in self.form.fields]

    @property
    def missing(self) -> list[str]:
        """What nothing measures yet at any tag."""
        return [ask.label for ask in self.kind.asks if ask.needed and not measuring(self.offered, ask.unit)]

    def faults(self, cleaned: dict[str, Any]) -> list[tuple[str, str]]:
        """Boxes of units in which nothing is chosen although a number of theirs is written, each with a sentence."""
        written = [one.unit for one in self.numbers_in if cleaned.get(number_box(one.name))]
        return [
            (unit_box(unit), CHOOSE_UNIT)
            for unit in dict.fromkeys(written)
            if not cleaned.get(unit_box(unit)) and unit_box(unit) not in self.form.errors
        ]

    def typed(self, cleaned: dict[str, Any]) -> WorkedOut:
        """What was chosen and written."""
        by_value = {one.value: one for one in self.offered}
        chosen = {ask.name: by_value.get(cleaned.get(reading_box(ask.name)) or "") for ask in self.kind.asks}
        numbers = {
            one.name: (cleaned.get(number_box(one.name)) or "", self._unit(one.unit, cleaned))
            for one in self.kind.givens
        }
        together = cleaned.get("together")
        return WorkedOut(
            kind=self.kind.code,
            readings={name: (one.position, one.what) for name, one in chosen.items() if one is not None},
            numbers={name: pair for name, pair in numbers.items() if pair[0]},
            together=MINUTES if together is None else together,
            same_walk=bool(cleaned.get("same_walk")),
            baseline_from=cleaned.get("baseline_from") or "",
        )

    def _unit(self, unit: str, cleaned: dict[str, Any]) -> str:
        return unit if unit == DAYS else cleaned.get(unit_box(unit)) or unit
