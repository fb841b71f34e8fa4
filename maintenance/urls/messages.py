"""Pages of messages by e-mail."""

from __future__ import annotations

from django.urls import URLPattern, path

from maintenance.views import messages

urlpatterns: list[URLPattern] = [
    path("me/messages/", messages.own_messages, name="own-messages"),
]
