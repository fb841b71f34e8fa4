"""Pages of the walk."""

from __future__ import annotations

from django.urls import URLPattern, path

from maintenance.views import walks, walks_day, walks_files, walks_rounds, walks_strapping

_WALK = "walk/<int:number>/"

urlpatterns: list[URLPattern] = [
    path("walk/", walks.walks, name="walks"),
    path("walk/walks.csv", walks_files.walks_csv, name="walks-csv"),
    path("walk/walks.xlsx", walks_files.walks_xlsx, name="walks-xlsx"),
    path("walk/worker.js", walks_files.worker, name="walk-worker"),
    path("walk/rounds/<int:pk>/begin/", walks.walk_begin, name="walk-begin"),
    path(_WALK, walks.walk, name="walk"),
    path(f"{_WALK}end/", walks.walk_end, name="walk-end"),
    path(f"{_WALK}<int:point>/", walks.walk_point, name="walk-point"),
    path("walk/second/<int:pk>/take/", walks.second_take, name="walk-second"),
    # rounds
    path("walk/rounds/", walks_rounds.rounds, name="rounds"),
    path("walk/rounds/new/", walks_rounds.round_new, name="round-new"),
    path("walk/rounds/<int:pk>/", walks_rounds.round_page, name="round"),
    path("walk/rounds/<int:pk>/change/", walks_rounds.round_edit, name="round-edit"),
    path("walk/rounds/<int:pk>/retire/", walks_rounds.round_retire, name="round-retire"),
    path("walk/rounds/<int:pk>/points/new/", walks_rounds.point_new, name="check-point-new"),
    path("walk/points/<int:pk>/", walks_rounds.point_edit, name="check-point-edit"),
    path("walk/points/<int:pk>/place/", walks_rounds.point_place, name="check-point-place"),
    path("walk/points/<int:pk>/retire/", walks_rounds.point_retire, name="check-point-retire"),
    path("walk/points/<int:pk>/lines/new/", walks_rounds.line_new, name="line-new"),
    path("walk/lines/<int:pk>/", walks_rounds.line_edit, name="line-edit"),
    path("walk/lines/<int:pk>/end/", walks_rounds.line_end, name="line-end"),
    # the day
    path("walk/day/", walks_day.day, name="walk-day"),
    path("walk/balance/new/", walks_day.part_new, name="balance-new"),
    path("walk/balance/<int:pk>/end/", walks_day.part_end, name="balance-end"),
    path("walk/tables/", walks_strapping.strappings, name="strappings"),
    path("walk/tables/new/", walks_strapping.strapping_new, name="strapping-new"),
    path("walk/tables/<int:pk>/", walks_strapping.strapping, name="strapping"),
    path("walk/tables/<int:pk>/end/", walks_strapping.strapping_end, name="strapping-end"),
]
