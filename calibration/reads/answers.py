"""Whether a form has been sent before, and where its first arrival led."""

from __future__ import annotations

from assets.models import Person, Submission


def answer_given(person: Person, key: str) -> str:
    """Return the page that the first arrival of a form's key led to; empty when it has not arrived."""
    if not key:
        return ""
    row = Submission.objects.filter(key=key, person=person).values_list("answer", flat=True).first()
    return row or ""
