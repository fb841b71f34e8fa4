"""A form that is drawn anew with other boxes before it is sent: what was typed stays, also in boxes not drawn now."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

TURN = "turn"
"""The name of the buttons that ask for other boxes and do nothing else."""
NOT_TYPED = frozenset({TURN, "csrfmiddlewaretoken", "key", "version"})


def typed_in(form: forms.Form, sent: QueryDict) -> dict[str, Any]:
    """What was typed into boxes that the form has, by box, as each shows it; without those that were not sent.

    A tick that is taken away is not sent at all, so `left_out` says it of boxes that are drawn no more.
    """
    return {
        name: one.widget.value_from_datadict(sent, MultiValueDict(), name)
        for name, one in form.fields.items()
        if name not in NOT_TYPED and any(part in sent for part in _parts(name))
    }


def left_out(form: forms.Form, sent: QueryDict, ticks: tuple[str, ...] = ()) -> list[tuple[str, str]]:
    """What was typed into boxes that the form has not, to be sent along unseen; `ticks` were drawn if not sent."""
    own = {part for name in form.fields for part in _parts(name)} | NOT_TYPED
    found = [(name, text) for name, texts in sent.lists() if name not in own for text in texts]
    return found + [(name, "false") for name in ticks if name not in sent and name not in own]


def _parts(name: str) -> tuple[str, str]:
    return name, f"{name}_sign"
