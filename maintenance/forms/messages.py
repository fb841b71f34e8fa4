"""Which messages a person wants, and where they go."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from assets.inputs import KeyedForm, ProofField
from maintenance.forms.proven import ProvenForm
from maintenance.models import MessageKind

YES_NO = (("yes", "Send it to me"), ("no", "Do not send it"))


class MessagesForm(KeyedForm):
    """One choice for each kind of message that the person's role gets."""

    def __init__(self, *args: Any, choices: Sequence[tuple[MessageKind, bool]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.standing = dict(choices)
        for kind, wanted in choices:
            self.fields[kind.value] = forms.ChoiceField(
                label=kind.label,
                widget=forms.RadioSelect,
                choices=YES_NO,
                initial="yes" if wanted else "no",
                error_messages={"required": "Choose whether it is sent to you."},
            )

    def changed(self) -> list[tuple[MessageKind, bool]]:
        """Return the kinds chosen otherwise than they stood."""
        chosen = [(kind, self.cleaned_data[kind.value] == "yes") for kind in self.standing]
        return [(kind, wanted) for kind, wanted in chosen if wanted != self.standing[kind]]


class AddressForm(ProvenForm):
    """Where one's own messages go; changed after the present password, as a PIN or a password is."""

    email = forms.EmailField(
        label="Your e-mail address",
        required=False,
        max_length=254,
        help_text="Like name@example.org; without one you get no messages",
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={"invalid": "This is no e-mail address. Write it like name@example.org, without spaces."},
    )
    proof = ProofField(label="Your present password", error_messages={"required": "Type your present password first."})
