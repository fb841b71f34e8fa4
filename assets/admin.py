"""Django's admin pages, for the keeper of the installation: every table of ours to read, none to change.

It registers the models of every app, so that no app can forget to close this door. People sign in at the tool's own
page, where each refusal is written into the history.
"""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import HttpRequest, HttpResponse

from assets.models import Person
from assets.triggers import kept_models

SECRET = ("password", "_hash", "plate_code")


class ReadOnlyAdmin(admin.ModelAdmin[models.Model]):
    """A table that is read: nothing is added, changed, deleted or acted upon; secrets are left out."""

    actions = None
    list_per_page = 50
    show_full_result_count = False

    def get_fields(self, request: HttpRequest, obj: models.Model | None = None) -> list[Any]:
        return [field.name for field in self.model._meta.fields if not field.name.endswith(SECRET)]

    def get_readonly_fields(self, request: HttpRequest, obj: models.Model | None = None) -> list[Any]:
        return self.get_fields(request, obj)

    def lookup_allowed(self, lookup: str, value: str, request: HttpRequest | None = None) -> bool:
        """Let no address ask for rows by a column: row by row, that would spell out what is left out."""
        return False

    def has_add_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False

    def has_view_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return isinstance(request.user, Person) and request.user.is_active and request.user.is_staff


def our_sign_in(request: HttpRequest, extra_context: dict[str, Any] | None = None) -> HttpResponse:
    """Lead to the tool's own sign-in; who is signed in and no keeper is told so."""
    if request.user.is_authenticated:
        raise PermissionDenied("These pages are for the keeper of the installation.")
    return redirect_to_login(request.get_full_path() if "/login/" not in request.path else "/admin/")


def not_here(request: HttpRequest, extra_context: dict[str, Any] | None = None) -> HttpResponse:
    """Refuse a change that would bypass the history."""
    raise PermissionDenied("A password is changed on your own page, where it is written into the history.")


for model in kept_models():
    admin.site.register(model, ReadOnlyAdmin)
admin.site.login = our_sign_in  # type: ignore[method-assign]
admin.site.password_change = not_here  # type: ignore[method-assign, assignment]
admin.site.site_header = "Spanwell, every table to read"
