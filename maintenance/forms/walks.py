"""What people type on the walk: one check point, with every question about a number put and answered on the page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django import forms

from assets.actions.readings import CounterBroken
from assets.compute.numbers import NotANumber, read_number
from assets.compute.readings.asked import Answer, Asked
from assets.compute.readings.counting import ANSWERS_WHEN_FALLEN
from assets.compute.readings.facts import Taken, taken
from assets.compute.readings.series import Broken, broken
from assets.inputs import KeyedForm, TypedNumber
from assets.models import Site
from maintenance.actions.walks import LineTyped, StopTyped
from maintenance.compute.walk import (
    EXCHANGED,
    FELL,
    READING,
    ROUND,
    Answered,
    answered,
    as_entered,
    drawn,
    fell_because,
    questions,
)
from maintenance.forms.walks_boxes import AnswerBox, LineBox, QuestionBox
from maintenance.forms.walks_twins import Pair, pairs_of
from maintenance.models import LineKind, OrderType, Outcome
from maintenance.reads.walks_lines import LineView

SKIP = "skip"
RETYPED = frozenset({"slip", "other"})
"""Answers after which the number is typed anew."""
EMPTY = "Write what it shows, or say why it could not be read."
MISREAD = "You said that it was misread: write what it really shows."
SAY_WHAT_WAS_DONE = "Say what you did about it; “told the supervisor” is enough."
NEEDS = {
    "modulus": ("m", "Number at which it begins anew"),
    "old_last": ("o", "Last number of the old one"),
    "new_first": ("n", "First number of the new one"),
}


class PointForm(KeyedForm):
    """One check point. Its fields follow its lines; `v12` is what line 12 shows."""

    waited = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0)
    person = forms.IntegerField(widget=forms.HiddenInput)
    shown = forms.IntegerField(widget=forms.HiddenInput, required=False)
    outcome = forms.CharField(required=False, widget=forms.HiddenInput)
    how = forms.ChoiceField(
        label="Skip, because it is", required=False, widget=forms.RadioSelect, choices=Outcome.choices[1:]
    )
    because = forms.CharField(label="Because", required=False, max_length=200)
    note = forms.CharField(label="Note", required=False, max_length=400, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, site: Site, views: tuple[LineView, ...], now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.views, self.now = site, views, now
        self.asked: dict[int, tuple[Asked, ...]] = {}
        self.breaks: dict[int, CounterBroken] = {}
        self.why: dict[int, Broken] = {}
        self.taken: dict[int, Taken] = {}
        self.pairs: dict[int, Pair] = {}
        self.swapped: dict[int, str] = {}
        for view in views:
            self._add_fields(view)

    def _add_fields(self, view: LineView) -> None:
        pk, line = view.line.pk, view.line
        if not line.is_number:
            good, bad = view.offers
            self.fields[f"v{pk}"] = forms.ChoiceField(
                label=line.what, required=False, widget=forms.RadioSelect, choices=[("good", good), ("bad", bad)]
            )
        else:
            volume = line.kind == LineKind.DRAWDOWN
            self.fields[f"v{pk}"] = self._number(line.what, "mL" if volume else line.unit, signed=view.signed)
            if volume:
                self.fields[f"s{pk}"] = self._number("In how many seconds", "s")
            for letter, label in NEEDS.values():
                self.fields[f"{letter}{pk}"] = self._number(label, line.unit)
            self.fields[f"x{pk}"] = forms.CharField(label="Could not be read, because", required=False, max_length=160)
        did = "What you did about it" if line.is_number else "Because"
        self.fields[f"d{pk}"] = forms.CharField(label=did, required=False, max_length=200)
        if line.position is not None or line.point.position_id is not None:
            self.fields[f"w{pk}"] = forms.BooleanField(label="Raise a work order for it", required=False)
            self.fields[f"t{pk}"] = forms.ChoiceField(
                label="Kind of work", required=False, choices=OrderType.choices, initial=view.usual_type
            )

    def _number(self, label: str, unit: str, *, signed: bool = False) -> TypedNumber:
        return TypedNumber(
            label=label, unit=unit, required=False, decimal_mark=self.site.decimal_mark, signed=signed, max_length=24
        )

    def _said(self) -> list[tuple[str, list[str]]]:
        # How long it lay on the phone differs from one try to the next; it is still the same answer.
        return [(name, said) for name, said in super()._said() if name != "waited"]

    @property
    def late(self) -> bool:
        """Whether it lay on a phone, where nobody could ask."""
        return bool(self.cleaned_data.get("waited"))

    @property
    def skips(self) -> bool:
        """Whether the check point is skipped with a reason."""
        return self.is_bound and self.data.get("outcome") == SKIP

    def clean(self) -> dict[str, Any]:
        """Put every question that what was typed gives rise to."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if self.skips:
            self._clean_skip(cleaned)
        for view in self.views:
            if view.line.is_number:
                self._clean_number(view, cleaned)
            else:
                self._clean_look(view, cleaned)
        self.pairs = pairs_of(self.views, self.taken, left_out=self.breaks)
        for pk, pair in self.pairs.items():
            if self.answer_of(pk, EXCHANGED) == ROUND:
                self._put_right(pk, pair, cleaned)
        for view in self.views:
            if view.line.pk in self.taken:
                self._ask(view, cleaned)
        return cleaned

    def _put_right(self, pk: int, pair: Pair, cleaned: dict[str, Any]) -> None:
        """Let each of two exchanged machines have the other one's number; what was typed is kept as typed first."""
        mine = cleaned[f"v{pk}"]
        if pair.twin is not None:
            cleaned[f"v{pk}"], cleaned[f"v{pair.twin}"] = cleaned[f"v{pair.twin}"], mine
            self.taken[pk], self.taken[pair.twin] = self.taken[pair.twin], self.taken[pk]
            self.swapped |= {pk: mine, pair.twin: cleaned[f"v{pk}"]}
        elif pair.read is not None:
            cleaned[f"v{pk}"] = pair.read.entered
            self.taken[pk] = taken(pair.read.entered, pair.read.unit, self.now)
            self.swapped[pk] = mine

    def _ask(self, view: LineView, cleaned: Mapping[str, Any]) -> None:
        """Put the questions about one number; whether it is its twin's comes first, alone until it is answered."""
        pk = view.line.pk
        pair = self.pairs.get(pk)
        asked = questions(self.taken[pk], view.history, view.asks, broken=self.why.get(pk))
        if not all(self._settled(one) for one in (pk, *self._pairs_with(pk)) if one in self.pairs):
            asked = ()
        self.asked[pk] = (pair.asked, *asked) if pair is not None else asked
        self._clean_answers(view, cleaned[f"v{pk}"], cleaned)

    def _settled(self, pk: int) -> bool:
        return self.late or self.answer_of(pk, EXCHANGED) in {ROUND, "stands"}

    def _pairs_with(self, pk: int) -> list[int]:
        return [one for one, pair in self.pairs.items() if pair.twin == pk]

    def _clean_skip(self, cleaned: Mapping[str, Any]) -> None:
        if not cleaned.get("how"):
            self.add_error("how", "Choose whether it is not running, or could not be done.")
        elif cleaned["how"] == Outcome.COULD_NOT and not cleaned.get("because"):
            self.add_error("because", "Say why it could not be done, in a few words.")

    def _clean_look(self, view: LineView, cleaned: Mapping[str, Any]) -> None:
        pk = view.line.pk
        chosen = cleaned.get(f"v{pk}")
        if not chosen and not self.skips and f"v{pk}" not in self.errors:
            self.add_error(f"v{pk}", "Choose one; nothing is chosen for you.")
        if chosen == "bad" and not cleaned.get(f"d{pk}"):
            self.add_error(f"d{pk}", "Say in a few words what you saw.")

    def _clean_number(self, view: LineView, cleaned: Mapping[str, Any]) -> None:
        pk = view.line.pk
        if f"v{pk}" in self.errors or f"s{pk}" in self.errors:
            return
        text = cleaned.get(f"v{pk}", "")
        if not text:
            if not cleaned.get(f"x{pk}") and not self.skips:
                self.add_error(f"v{pk}", EMPTY)
            return
        now = self._taken(view, text, cleaned)
        if now is None:
            return
        why = self._break_of(view)
        if why is not None:
            self.why[pk] = why
        self.taken[pk] = now

    def _taken(self, view: LineView, text: str, cleaned: Mapping[str, Any]) -> Taken | None:
        line = view.line
        if line.kind != LineKind.DRAWDOWN:
            return taken(text, line.unit, self.now, decimal_mark=self.site.decimal_mark)
        if not cleaned.get(f"s{line.pk}"):
            self.add_error(f"s{line.pk}", "Write how many seconds it took.")
            return None
        mark = self.site.decimal_mark
        volume, seconds = (read_number(one, decimal_mark=mark) for one in (text, cleaned[f"s{line.pk}"]))
        try:
            value = drawn(volume, seconds)
        except ValueError as wrong:
            self.add_error(f"s{line.pk}", str(wrong))
            return None
        return Taken(value=value, at=self.now, text=as_entered(value), unit=line.unit)

    def answer_of(self, pk: int, key: str) -> str:
        """What was chosen as the answer to one question about line `pk`."""
        return str(self.data.get(f"a{pk}-{key}", ""))

    def _break_of(self, view: LineView) -> Broken | None:
        """Return why a counter fell, where that was answered with its numbers."""
        pk, unit = view.line.pk, view.line.unit
        said = self.answer_of(pk, "fell")
        if said not in {"rolled over", "replaced"}:
            return None
        names = ("modulus",) if said == "rolled over" else ("old_last", "new_first")
        typed = {name: self.cleaned_data.get(f"{NEEDS[name][0]}{pk}", "") for name in names}
        for name in names:
            if not typed[name]:
                self.add_error(f"{NEEDS[name][0]}{pk}", "Write this number too.")
        if not all(typed.values()):
            return None
        try:
            for text in typed.values():
                read_number(text, decimal_mark=self.site.decimal_mark)
        except NotANumber:
            return None
        self.breaks[pk] = CounterBroken(**typed)
        numbers = (typed.get("modulus", ""), typed.get("old_last", ""), typed.get("new_first", ""))
        return broken(
            "rolled over" if said == "rolled over" else "replaced", numbers=numbers, unit=unit, into=view.asks.unit
        )

    def _clean_answers(self, view: LineView, text: str, cleaned: Mapping[str, Any]) -> None:
        pk = view.line.pk
        first = str(self.data.get(f"f{pk}", ""))
        for one in self.asked[pk]:
            said = self.answer_of(pk, one.key)
            if one.weight == "refuse":
                self.add_error(f"v{pk}", one.sentence)
            elif said in RETYPED and first == text:
                self.add_error(f"v{pk}", MISREAD)
            elif not self.late and one.answers and said not in _keys(one, without=RETYPED):
                self.add_error(f"v{pk}", one.head)
            elif not self.late and one.key.startswith("limit-") and not cleaned.get(f"d{pk}"):
                self.add_error(f"d{pk}", SAY_WHAT_WAS_DONE)

    def typed(self) -> StopTyped:
        """Return what was typed, with every question and its answer."""
        cleaned = self.cleaned_data
        return StopTyped(
            outcome=cleaned["how"] if self.skips else Outcome.READ,
            because=cleaned["because"] if self.skips else "",
            note=cleaned["note"],
            lines=tuple(one for view in self.views if (one := self._line(view)) is not None),
            waited=dt.timedelta(seconds=cleaned.get("waited") or 0),
        )

    def _line(self, view: LineView) -> LineTyped | None:
        pk, cleaned = view.line.pk, self.cleaned_data
        value, could_not = cleaned.get(f"v{pk}", ""), cleaned.get(f"x{pk}", "")
        if not value and not could_not:
            return None
        order, words = bool(cleaned.get(f"w{pk}")), cleaned.get(f"d{pk}", "")
        kind = cleaned.get(f"t{pk}") or view.usual_type
        if not view.line.is_number:
            bad = value == "bad"
            return LineTyped(
                line=view.line, good=not bad, words=words if bad else "", order=kind if order and bad else ""
            )
        asked = self.asked.get(pk, ())
        return LineTyped(
            line=view.line,
            typed=value,
            seconds=cleaned.get(f"s{pk}", ""),
            first_typed=self.swapped.get(pk, str(self.data.get(f"f{pk}", ""))[:60]) if value else "",
            could_not="" if value else could_not,
            words=words,
            asked=self._told(pk, asked) if value else (),
            broken=self.breaks.get(pk) if value else None,
            order=kind if order else "",
        )

    def _told(self, pk: int, asked: tuple[Asked, ...]) -> tuple[Answered, ...]:
        """Return the questions with their answers; with why a counter fell, and with the reading that is put right."""
        told = answered(asked, {one.key: self.answer_of(pk, one.key) for one in asked})
        read = self.pairs[pk].read if pk in self.swapped and pk in self.pairs else None
        if read is not None:
            told = tuple(replace(one, numbers={READING: str(read.pk)}) if one.key == EXCHANGED else one for one in told)
        why = self.breaks.get(pk)
        if why is None:
            return told
        numbers = {name: text for name in NEEDS if (text := getattr(why, name))}
        label = next(one.label for one in ANSWERS_WHEN_FALLEN if one.key == self.answer_of(pk, FELL))
        return (fell_because(label, numbers), *told)

    @property
    def lines(self) -> tuple[LineBox, ...]:
        """The lines as the page draws them."""
        return tuple(self._box(view) for view in self.views)

    def _box(self, view: LineView) -> LineBox:
        pk = view.line.pk
        there = {name: self[f"{name}{pk}"] if f"{name}{pk}" in self.fields else None for name in "sxwt"}
        asked = tuple(self._question(view, one) for one in self.asked.get(pk, ()) if one.weight == "ask")
        sides = {one.side for one in asked}
        waiting = tuple(self._limit(view, side) for side in ("high", "low") if side not in sides and _has(view, side))
        typed = str(self[f"v{pk}"].value() or "")
        return LineBox(
            view=view,
            value=self[f"v{pk}"],
            seconds=there["s"],
            could_not=there["x"],
            did=self[f"d{pk}"],
            order=there["w"],
            kind=there["t"],
            questions=(*asked, *waiting),
            first=(str(self.data.get(f"f{pk}", "")) or typed) if self.is_bound else "",
            first_name=f"f{pk}",
        )

    def _question(self, view: LineView, asked: Asked) -> QuestionBox:
        pk = view.line.pk
        chosen = self.answer_of(pk, asked.key)
        return QuestionBox(
            name=f"a{pk}-{asked.key}",
            head=asked.head,
            sentence=asked.sentence,
            suggestion=asked.suggestion,
            side=asked.key.removeprefix("limit-") if asked.key.startswith("limit-") else "",
            answers=tuple(
                AnswerBox(
                    answer=one,
                    chosen=one.key == chosen and one.key not in RETYPED,
                    boxes=tuple(self[f"{NEEDS[name][0]}{pk}"] for name in one.needs),
                )
                for one in asked.answers
            ),
        )

    def _limit(self, view: LineView, side: str) -> QuestionBox:
        """A question that waits on the page, for the moment in which the number is beyond the limit."""
        answers = (Answer(key="stands", label="It stands"), Answer(key="slip", label="I misread it"))
        return QuestionBox(
            name=f"a{view.line.pk}-limit-{side}",
            head=view.high_head if side == "high" else view.low_head,
            sentence="Look again: is it steady?",
            answers=tuple(AnswerBox(answer=one, chosen=False, boxes=()) for one in answers),
            hidden=True,
            side=side,
        )


def _keys(asked: Asked, *, without: frozenset[str]) -> set[str]:
    return {one.key for one in asked.answers} - without


def _has(view: LineView, side: str) -> bool:
    return bool(view.high if side == "high" else view.low)


class EndWalkForm(KeyedForm):
    """The end of a walk; `waited` says how long it lay on a phone."""

    waited = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0)
    person = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def _said(self) -> list[tuple[str, list[str]]]:
        return [(name, said) for name, said in super()._said() if name != "waited"]
