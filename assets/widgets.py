"""Widgets whose posted parts the field templates name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.datastructures import MultiValueDict

SIGNS = {"plus": "+", "minus": "-"}


class NumberText(forms.TextInput):
    """A text field for a number: decimal keypad, no spinner, nothing remembered by the browser."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", **(attrs or {})})


class SignedText(NumberText):
    """A number whose sign is a key of its own: ``name_sign`` (plus or minus) and ``name`` (the number without it).

    Gives one text. A sign that was typed although a key was chosen stays in front of the number, so that "minus" and
    "+8.6" together are unreadable and are asked about, never resolved for the person.
    """

    sign_key = True

    def value_from_datadict(self, data: Mapping[str, Any], files: MultiValueDict[str, Any], name: str) -> str | None:
        typed: str | None = data.get(name)
        if typed is None or not typed.strip():
            return typed
        return SIGNS.get(data.get(f"{name}_sign", ""), "") + typed.strip()


def parted(value: str) -> tuple[str, str]:
    """Part a signed text into its key ("plus", "minus" or "") and the rest as typed."""
    text = value.strip()
    if text[:1] == "+":
        return "plus", text[1:]
    if text[:1] in ("-", "\u2212"):
        return "minus", text[1:]
    return "", value
