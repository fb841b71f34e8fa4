"""Where every page of the tool is mounted."""

from __future__ import annotations

from django.contrib import admin
from django.urls import include, path

from spanwell.pages import do, review, tag, today, words

urlpatterns = [
    path("", today.today, name="today"),
    path("tag/<str:code>/", tag.tag, name="tag"),
    path("do/<int:pk>/", do.do, name="do"),
    path("review/", review.review, name="review"),
    path("words/", words.words, name="words"),
    path("", include("assets.urls")),
    path("", include("maintenance.urls")),
    path("", include("calibration.urls")),
    path("admin/", admin.site.urls),
]

handler400 = "spanwell.pages.failures.bad_request"
handler403 = "spanwell.pages.failures.forbidden"
handler404 = "spanwell.pages.failures.not_found"
handler500 = "spanwell.pages.failures.broken"
