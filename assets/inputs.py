"""What people type into forms: numbers, days and times as written, and how forms are sent once and refused."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import secrets
import unicodedata
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.db import models
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from assets.compute.numbers import NotANumber, read_number
from assets.compute.rounding import as_typed
from assets.errors import Reason, Refusal
from assets.history import door, submit
from assets.models import Person, Site
from assets.permissions import Desk
from assets.widgets import NumberText, SignedText

# Days before or after these are slips of the finger; beyond them no calendar can count on from a day either.
FIRST_YEAR, LAST_YEAR = 1900, 2199


WHOLE = re.compile(r"[+-]?[0-9]{1,18}")
UNSEEN = frozenset({"Cc", "Cf", "Zl", "Zp"})
"""Unicode categories of what no label shows: control characters, direction and joining marks, line ends."""


def no_unseen_signs(text: str, *, lines: bool = False) -> None:
    """Raise ValidationError where a text holds a character nobody sees, which makes two of a kind out of one name.

    lines: the text may run over several lines.
    """
    for place, sign in enumerate(text):
        if unicodedata.category(sign) in UNSEEN and not (lines and sign in "\r\n\t"):
            before = "".join(one for one in text[:place] if one.isprintable())[-20:]
            where = f"after “{before}”" if before else "at the beginning"
            raise forms.ValidationError(
                f"A character that cannot be seen (U+{ord(sign):04X}) stands {where}. Type it anew, without pasting."
            )


def _look_at_the_year(year: int) -> None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise forms.ValidationError(
            f"The year {year:04} cannot be meant; look at it, and write one from {FIRST_YEAR} to {LAST_YEAR}."
        )


NO_VERSION = (
    "This page is incomplete: it does not say which version of the record it showed, so somebody else’s change could "
    "be overwritten. Nothing was changed; open it again and carry over what you typed."
)


class KeyedForm(forms.Form):
    """A form that counts once however often it is sent, and says at each field what stopped it.

    `key` is made on the server; `version` is that of the record the page showed, for acts that must not overwrite.
    """

    key = forms.CharField(widget=forms.HiddenInput, max_length=40, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial.setdefault("key", secrets.token_urlsafe(16))

    def full_clean(self) -> None:
        """Clean, then bind the key to what was typed.

        A page that the browser brings back keeps its key: what is typed into it then is another act, not a repeat.
        """
        super().full_clean()
        if self.is_bound:
            self._clean_unseen()
            self._clean_version()
        if self.is_bound and self.cleaned_data.get("key"):
            said = json.dumps([type(self).__qualname__, self.cleaned_data["key"], self._said()])
            self.cleaned_data["key"] = hashlib.sha256(said.encode()).hexdigest()[:40]

    def _clean_unseen(self) -> None:
        for name, one in self.fields.items():
            text = self.cleaned_data.get(name)
            if not isinstance(one, forms.CharField) or not isinstance(text, str) or _is_secret(one):
                continue
            try:
                no_unseen_signs(text, lines=isinstance(one.widget, forms.Textarea))
            except forms.ValidationError as wrong:
                self.add_error(name, wrong)

    def _clean_version(self) -> None:
        # A page that shows a record carries the version it showed; sent without, it could overwrite a newer one.
        shown, sent = self.initial.get("version"), self.cleaned_data.get("version")
        if shown is not None and sent is None and "version" not in self.errors:
            self.add_error(None, NO_VERSION)

    def _said(self) -> list[tuple[str, list[str]]]:
        secret = {self.add_prefix(name) for name, one in self.fields.items() if _is_secret(one)}
        left_out = {"csrfmiddlewaretoken", self.add_prefix("key"), *secret}
        sent: dict[str, Any] = dict(self.data.lists()) if isinstance(self.data, MultiValueDict) else dict(self.data)
        return [
            (name, [str(text) for text in (value if isinstance(value, list) else [value])])
            for name, value in sorted(sent.items())
            if name not in left_out
        ]

    def refuse(self, refusal: Refusal) -> None:
        """Put each reason beside its field; what belongs to no field goes to the top."""
        for reason in refusal.reasons:
            self.add_error(reason.field if reason.field in self.fields else None, reason.sentence)

    @property
    def faults(self) -> list[Reason]:
        """What stopped the form, in sentences that name their fields; never what was typed as a secret."""
        said = [Reason(str(sentence)) for sentence in self.non_field_errors()]
        for bound in self:
            for sentence in map(str, bound.errors):
                names_it = sentence.startswith(str(bound.label).removesuffix("?"))
                said.append(Reason(sentence if names_it else f"{bound.label}: {sentence}", bound.name))
        return said

    def refused_unread(self, *, site: Site, by: Person, verb: str, subject: models.Model) -> bool:
        """Tell whether the form itself is at fault, and write that into the history as a refusal of its act.

        For acts whose every refusal is kept, as those on locks: a form at fault never reaches the door of the act.
        """
        if self.is_valid():
            return False
        try:
            with door(site=site, by=by, verb=verb, subject=subject):
                raise Refusal(self.faults)
        except Refusal:
            return True

    def sent(self, desk: Desk, *, verb: str, subject: models.Model, do: Callable[[], str]) -> str | None:
        """Do the act once and return the page it leads to; None when it was refused, with the reasons on the form."""
        key = self.cleaned_data["key"]
        try:
            with door(site=desk.site, by=desk.person, verb=verb, subject=subject):
                return submit(site=desk.site, by=desk.person, verb=verb, subject=subject, key=key, do=do)
        except Refusal as refusal:
            self.refuse(refusal)
            return None


class TypedNumber(forms.CharField):
    """A number as typed, comma or point. Cleans to the text as typed; `low` and `high` bound what can be meant."""

    widget = NumberText

    def __init__(
        self,
        *,
        unit: str = "",
        low: str = "",
        high: str = "",
        hint: str = "",
        before: str = "",
        decimal_mark: str = ".",
        signed: bool = False,
        **kwargs: Any,
    ) -> None:
        if signed:
            kwargs.setdefault("widget", SignedText)
        super().__init__(max_length=kwargs.pop("max_length", 24), **kwargs)
        self.unit, self.low, self.high, self.before, self.signed = unit, low, high, before, signed
        self.hint = hint or (f"{low} to {high}" if low and high else "")
        self.decimal_mark = decimal_mark

    def clean(self, value: Any) -> str:
        """Return the typed text, after making sure that it is one number inside its bounds."""
        text: str = super().clean(value)
        if text == "":
            return text
        if self.signed and text[0] not in "+-\u2212":
            raise forms.ValidationError(f"Choose + or \u2212 for {text}: the sign decides what the number means.")
        try:
            number = read_number(text, decimal_mark=self.decimal_mark)
        except NotANumber as wrong:
            raise forms.ValidationError(str(wrong)) from wrong
        low, high = (read_number(bound) if bound else None for bound in (self.low, self.high))
        if (low is not None and number < low) or (high is not None and number > high):
            raise forms.ValidationError(
                f"{self.label or 'This'}: {as_typed(text)} {self.unit} is outside {as_typed(self.low)} to "
                f"{as_typed(self.high)}; look at the decimal mark and the unit."
            )
        return text


class WholeNumber(forms.IntegerField):
    """A whole number in the digits 0 to 9."""

    widget = forms.TextInput(attrs={"inputmode": "numeric"})

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("error_messages", {}).setdefault("invalid", "Write a whole number, like 10 or 20.")
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> int | None:
        """Return the number; other scripts' digits are refused, since a page would show back another text."""
        text = str(value).strip() if value is not None else ""
        if text and not WHOLE.fullmatch(text):
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        number: int | None = super().to_python(value)
        return number


class TypedDay(forms.DateField):
    """A day, written 2026-11-25 or picked from the browser's calendar."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def __init__(self, *, hint: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("error_messages", {"invalid": "Write the day like 2026-11-25."})
        super().__init__(input_formats=["%Y-%m-%d"], **kwargs)
        self.hint = hint

    def clean(self, value: Any) -> Any:
        """Return the day, or None when nothing was typed and nothing is required."""
        day: dt.date | None = super().clean(value)
        if day is not None:
            _look_at_the_year(day.year)
        return day


class TypedMoment(forms.CharField):
    """A day and time at the site, written 2026-11-25 14:05. In the hour that comes twice it asks which."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})

    def __init__(self, *, zone: ZoneInfo | None = None, hint: str = "", **kwargs: Any) -> None:
        super().__init__(max_length=40, **kwargs)
        self.zone = zone
        self.hint = hint or "like 2026-11-25 14:05"

    def clean(self, value: Any) -> Any:
        """Return an aware time, or None when nothing was typed and nothing is required."""
        text: str = super().clean(value)
        if text == "":
            return None
        words = text.replace("T", " ").split()
        which = words.pop().casefold() if words and words[-1].casefold() in {"first", "second"} else ""
        try:
            naive = dt.datetime.strptime(" ".join(words), "%Y-%m-%d %H:%M")  # noqa: DTZ007 - made aware below
        except ValueError as wrong:
            raise forms.ValidationError(f"“{text}” is no day and time; write it like 2026-11-25 14:05.") from wrong
        _look_at_the_year(naive.year)
        return self._aware(naive, which)

    def _aware(self, naive: dt.datetime, which: str) -> dt.datetime:
        moment = self.settled(naive, which)
        if moment > timezone.now() + dt.timedelta(minutes=1):
            raise forms.ValidationError(f"{naive:%Y-%m-%d %H:%M} has not come yet; write a time that has passed.")
        return moment

    def settled(self, naive: dt.datetime, which: str) -> dt.datetime:
        """Return the moment of a site's clock, passed or to come; raises ValidationError where it is none or two."""
        zone = self.zone or timezone.get_current_timezone()
        first, second = (naive.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
        written = f"{naive:%Y-%m-%d %H:%M}"
        if first.utcoffset() != second.utcoffset():
            there = first.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None)
            if there != naive:
                raise forms.ValidationError(
                    f"The clock went forward over {written}; that time did not exist. Write the time after it."
                )
            if not which:
                raise forms.ValidationError(
                    f"{written} came twice, as the clock went back. Write “{written} first” or “{written} second”."
                )
        # In UTC, since Python calls no two times of different zones equal while one of them comes twice.
        return (second if which == "second" else first).astimezone(dt.UTC)


class YesNo(forms.ChoiceField):
    """Two large boxes, neither chosen beforehand."""

    widget = forms.RadioSelect

    def __init__(self, *, hint: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("error_messages", {"required": "Answer this."})
        super().__init__(choices=[("yes", "Yes"), ("no", "No")], **kwargs)
        self.hint = hint


class ProofField(forms.CharField):
    """The PIN or password that signs."""

    widget = forms.PasswordInput(attrs={"autocomplete": "current-password"})

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", "Your PIN or password")
        kwargs.setdefault("error_messages", {"required": "Type your PIN or your password to sign."})
        super().__init__(max_length=128, strip=False, **kwargs)


def _is_secret(field: forms.Field) -> bool:
    return isinstance(field, ProofField) or isinstance(field.widget, forms.PasswordInput)
