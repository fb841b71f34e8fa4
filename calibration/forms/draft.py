"""The form of one reading set, built from what its method asks: everything is kept as typed, nothing is required here.

What is missing, unreadable or doubtful is said by the method, so that a half-written set can be kept at any time.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from assets.inputs import KeyedForm, ProofField, TypedMoment
from assets.widgets import NumberText, SignedText
from calibration.compute.figures import sentence_case
from calibration.compute.method import Ask, Found
from calibration.compute.methods import METHODS
from calibration.compute.typed import UNIT, Field, fields_for
from calibration.models import Draft
from calibration.reads.choices import Choices
from calibration.reads.own_fields import own_fields

SHORT, LONG = 40, 200
NEEDED = {"hold", "hold_on_at", "hold_off_at", "next", "done"}
KEYS_SAID = "Choose + or \u2212, then the number, "
LATE = ("earlier_at", "earlier_because")


def fields_asked(draft: Draft) -> tuple[Field, ...]:
    """Return the fields of a draft's stage, without those carried over from as found."""
    method, stage = METHODS[draft.requirement.method], draft.stage
    carried = draft.typed.get("carried", {}) if stage != "as found" else {}
    every = (*fields_for(method, stage), *own_fields(method, stage))
    return tuple(one for one in every if not (one.name in method.carried and one.name in carried))


def label_of(one: Field) -> str:
    """Write a field's label on its own, as it stands inside its point."""
    return sentence_case(one.ask.label)


def _widget(ask: Ask, standards: Mapping[tuple[str, ...], Choices]) -> forms.Widget:
    if ask.kind == "standard":
        return forms.Select(choices=standards.get(ask.of, [("", [("", "None is registered")])]))
    if ask.kind == "yes or no":
        return forms.RadioSelect(choices=[("yes", "Yes"), ("no", "No")])
    if ask.kind == "choice":
        return forms.RadioSelect(choices=list(ask.choices))
    if ask.kind == "number":
        return SignedText() if ask.signed else NumberText()
    return forms.TextInput(attrs={"autocomplete": "off"})


def _field(one: Field, standards: Mapping[tuple[str, ...], Choices]) -> forms.CharField:
    ask = one.ask
    field = forms.CharField(
        label=label_of(one),
        required=False,
        strip=True,
        max_length=LONG if ask.kind == "text" else SHORT,
        widget=_widget(ask, standards),
        # The field's own keys say the first half by themselves.
        help_text=ask.advice.removeprefix(KEYS_SAID),
    )
    field.unit = ask.units[0] if len(ask.units) == 1 else ""  # type: ignore[attr-defined]
    return field


def _unit_field(one: Field, usual: str) -> forms.CharField:
    """Choose the unit of a number; that of the tag stands first."""
    choices = [(unit, unit) for unit in sorted(one.ask.units, key=lambda unit: unit != usual)]
    return forms.CharField(label="Its unit", required=False, max_length=12, widget=forms.Select(choices=choices))


class SetForm(KeyedForm):
    """One reading set as it stands on the page."""

    settles = forms.CharField(widget=forms.HiddenInput, required=False, max_length=3)
    earlier_at = TypedMoment(label="It was earlier, at", required=False)
    earlier_because = forms.CharField(label="Why it is entered late", required=False, max_length=200)
    proof = ProofField(required=False)

    def __init__(self, data: Mapping[str, Any], *, draft: Draft, standards: Mapping[tuple[str, ...], Choices]) -> None:
        super().__init__(data)
        self.asked = fields_asked(draft)
        for one in self.asked:
            self.fields[one.name] = _field(one, standards)
            if one.has_units:
                self.fields[one.name + UNIT] = _unit_field(one, draft.requirement.position.unit)
        self.is_valid()
        needed = {
            one.name
            for one in self.asked
            if one.ask.each or one.ask.must or one.name in NEEDED or "empty" in one.ask.advice
        }
        needed |= {one.name + UNIT for one in self.asked if one.has_units}
        for name in needed | {"proof"}:
            # Only for the words beside the field: "May be left empty" would be untrue there.
            self.fields[name].required = True

    @property
    def typed(self) -> dict[str, str]:
        """Every field of the set as typed, empty ones left out."""
        names = [one.name for one in self.asked] + list(LATE)
        found = {name: str(self[name].value() or "").strip()[:LONG] for name in names}
        typed = {name: text for name, text in found.items() if text}
        units = {one.name + UNIT for one in self.asked if one.has_units and one.name in typed}
        return typed | {name: str(self[name].value() or "") for name in units if self[name].value()}

    @property
    def answers(self) -> dict[str, dict[str, str]]:
        """What was answered to each question, by its key."""
        keys = [name.removeprefix("answer-") for name in self.data if name.startswith("answer-")]
        keys += [name.removeprefix("reason-") for name in self.data if name.startswith("reason-") and self.data[name]]
        return {
            key: {
                "choice": str(self.data.get(f"answer-{key}", ""))[:SHORT],
                "reason": str(self.data.get(f"reason-{key}", "")).strip()[:LONG],
                "asked": str(self.data.get(f"asked-{key}", ""))[:1000],
            }
            for key in dict.fromkeys(keys)
        }

    @property
    def version_shown(self) -> int:
        """The version of the draft that the page showed; 0 when it said none."""
        return int(self.cleaned_data.get("version") or 0)

    def tell(self, found: Iterable[Found]) -> None:
        """Put sentences beside their fields; what belongs to no field of this page goes to the top."""
        for one in found:
            self.add_error(one.field if one.field in self.fields else None, one.sentence)


def data_of(draft: Draft) -> dict[str, str]:
    """Return a kept draft as its form would post it."""
    data = dict(draft.typed.get("fields", {}))
    for key, answer in draft.typed.get("answers", {}).items():
        data |= {f"answer-{key}": answer["choice"], f"reason-{key}": answer["reason"], f"asked-{key}": answer["asked"]}
    return {**data, "key": secrets.token_urlsafe(16), "version": str(draft.version)}
