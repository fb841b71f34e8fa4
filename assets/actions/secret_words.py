"""Which passwords and PINs are taken."""

from __future__ import annotations

import re

from django.contrib.auth.password_validation import UserAttributeSimilarityValidator as OwnWords
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from assets.errors import Reason, Refusal
from assets.models import Person

PIN = re.compile(r"\d{4,8}", re.ASCII)


def fit_password(typed: str, *, person: Person) -> str:
    """Return the password if it is hard enough to guess; the reasons name the field `password`."""
    try:
        validate_password(typed, person)
        OwnWords(user_attributes=("name", "sign_in", "email")).validate(typed, person)
    except ValidationError as wrong:
        raise Refusal(Reason(sentence, "password") for sentence in wrong.messages) from wrong
    return typed


def fit_pin(typed: str) -> str:
    """Return the PIN if it is 4 to 8 digits and no plain row such as 1111 or 3456."""
    if not PIN.fullmatch(typed):
        raise Refusal("A PIN is 4 to 8 digits, nothing else.", field="pin")
    steps = {(int(b) - int(a)) % 10 for a, b in zip(typed, typed[1:], strict=False)}
    if len(steps) == 1 and steps <= {0, 1, 9}:
        raise Refusal("Anybody would try this PIN first; take digits that do not follow each other.", field="pin")
    return typed
