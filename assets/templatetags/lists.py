"""How the words of a filter above a list are drawn."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


class WayIn(Protocol):
    """One word of a filter, as a link; ``count`` is what it would show, '' where nobody counts."""

    @property
    def label(self) -> str: ...
    @property
    def url(self) -> str: ...
    @property
    def current(self) -> bool: ...


@register.simple_tag
def sieve(label: str, links: Iterable[WayIn]) -> SafeString:
    """Draw the words of a filter as links, the one in force marked, each with how much it would show."""
    drawn = format_html_join("", '<a href="{}"{}>{}{}</a>', map(_way_in, links))
    return format_html('<nav class="sieve" aria-label="{}">{}</nav>', label, drawn)


def _way_in(link: WayIn) -> tuple[str, str, str, str]:
    count = getattr(link, "count", "")
    said = "" if count is None or count == "" else f" {count}"
    return link.url, mark_safe(' aria-current="true"') if link.current else "", link.label, said
