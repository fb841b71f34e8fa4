"""Where every page of the tool is mounted."""

from __future__ import annotations

from django.contrib import admin
from django.urls import include, path

from spanwell.pages import do, figures, review, tag, today, words

urlpatterns = [
    path("", today.today, name="today"),
    path("tag/<str:code>/", tag.tag, name="tag"),
    path("do/<int:pk>/", do.do, name="do"),
    path("review/", review.review, name="review"),
    path("review/figures/", figures.figures, name="figures"),
    path("review/figures.csv", figures.figures_csv, name="figures-csv"),
    path("review/figures.xlsx", figures.figures_xlsx, name="figures-xlsx"),
    path("review/ahead/", figures.ahead, name="ahead"),
    path("review/ahead.csv", figures.ahead_csv, name="ahead-csv"),
    path("review/ahead.xlsx", figures.ahead_xlsx, name="ahead-xlsx"),
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
