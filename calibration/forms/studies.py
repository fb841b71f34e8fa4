"""Fixing a baseline; taking or leaving advice on an interval."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from assets.inputs import KeyedForm, TypedDay


class BaselineForm(KeyedForm):
    """From which check to which, and why these are good ones."""

    first = forms.TypedChoiceField(label="From", coerce=int)
    last = forms.TypedChoiceField(label="To", coerce=int)
    why = forms.CharField(label="Because", max_length=200, help_text="Why these checks stand for a good instrument")

    def __init__(self, *args: Any, choices: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("first", "last"):
            self.fields[name].choices = [(str(pk), words) for pk, words in choices]  # type: ignore[attr-defined]


class IntervalForm(KeyedForm):
    """What a person makes of one advice."""

    method = forms.CharField(widget=forms.HiddenInput, max_length=40)
    days = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    taken = forms.ChoiceField(
        label="The advice is", choices=[("yes", "Taken: the routine gets it"), ("no", "Left")], widget=forms.RadioSelect
    )
    from_day = TypedDay(label="From")
    why = forms.CharField(label="Because", max_length=200)
