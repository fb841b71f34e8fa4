"""Forms whose act takes a proof of the person, or anything else that is checked before its transaction is opened."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from django.db import models

from assets.errors import Refusal
from assets.history import door, submit
from assets.inputs import KeyedForm
from assets.models import Person, Site, Submission

Shown = TypeVar("Shown")


class ProvenForm(KeyedForm):
    """A form whose act needs something proven or read first, outside its transaction."""

    def sent_after(
        self,
        before: Callable[[], Shown],
        do: Callable[[Shown], str],
        *,
        site: Site,
        by: Person,
        verb: str,
        subject: models.Model,
    ) -> str | None:
        """Check what has to be shown first, then do the act once; None when refused, which the history then says."""
        key = self.cleaned_data["key"]
        # A repeat gets its first answer even where the act itself has ended what it would have to show again.
        earlier_answer = Submission.objects.filter(key=key).values_list("answer", flat=True).first() if key else None
        if earlier_answer is not None:
            return earlier_answer
        try:
            with door(site=site, by=by, verb=verb, subject=subject):
                shown = before()
                return submit(site=site, by=by, verb=verb, subject=subject, key=key, do=lambda: do(shown))
        except Refusal as refusal:
            self.refuse(refusal)
            return None
