"""What every list of upkeep says of a row: its plate, and when it was last done."""

from __future__ import annotations

from typing import Protocol

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from assets.templatetags.look import day, plate
from maintenance.reads.due_rows import LastDone

register = template.Library()


class Tagged(Protocol):
    """A row about a tag; `code` is empty for an asset that is carried."""

    @property
    def tag(self) -> str: ...
    @property
    def code(self) -> str: ...
    @property
    def machine(self) -> bool: ...


@register.simple_tag
def row_plate(row: Tagged) -> SafeString:
    """Draw the plate of a row's tag, leading to its page; what is carried has a name and no page."""
    if not row.code:
        return format_html("<b>{}</b>", row.tag)
    return plate(row.tag, machine=row.machine, url=reverse("tag", args=[row.code]))


@register.simple_tag
def last_done(last: LastDone) -> SafeString:
    """Say when a routine was last done, and what became of newer work that did not count."""
    done = f"Last done {day(last.done_on)}." if last.done_on else "Never done."
    if last.failed_on is None:
        return format_html("{}", done)
    return format_html("{} <b>{}: {}.</b>", done, day(last.failed_on), last.because)
