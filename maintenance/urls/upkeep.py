"""Pages of upkeep."""

from __future__ import annotations

from django.urls import URLPattern, path

from maintenance.views import (
    due,
    handover,
    overrides,
    performances,
    reliability,
    routines,
    stretches,
)

_FORCED = "upkeep/forced/<int:number>/"

urlpatterns: list[URLPattern] = [
    path("upkeep/", due.due, name="due"),
    path("upkeep/routines/", routines.routines, name="routines"),
    path("upkeep/routines/new/", routines.routine_new, name="routine-new"),
    path("upkeep/routines/offered/", routines.routines_offered, name="routines-offered"),
    path("upkeep/routines/<int:pk>/", routines.routine, name="routine"),
    path("upkeep/routines/<int:pk>/interval/", routines.term_new, name="term-new"),
    path("upkeep/routines/<int:pk>/retire/", routines.routine_retire, name="routine-retire"),
    path("upkeep/routines/<int:pk>/pause/", stretches.pause_new, name="pause-new"),
    path("upkeep/pauses/<int:pk>/end/", stretches.pause_end, name="pause-end"),
    path("upkeep/routines/<int:pk>/fulfils/", stretches.fulfils_new, name="fulfils-new"),
    path("upkeep/fulfils/<int:pk>/end/", stretches.fulfils_end, name="fulfils-end"),
    path("upkeep/routines/<int:pk>/first/", stretches.need_new, name="need-new"),
    path("upkeep/first/<int:pk>/end/", stretches.need_end, name="need-end"),
    path("upkeep/due/<int:pk>/later/", stretches.deferral_new, name="deferral-new"),
    path("upkeep/later/<int:pk>/approve/", stretches.deferral_approve, name="deferral-approve"),
    path("upkeep/later/<int:pk>/refuse/", stretches.deferral_refuse, name="deferral-refuse"),
    path("upkeep/due/<int:pk>/record/", performances.performance_new, name="performance-new"),
    path("upkeep/records/<int:pk>/correct/", performances.performance_correct, name="performance-correct"),
    path("upkeep/failures/<str:code>/", reliability.reliability, name="reliability"),
    path("handover/", handover.hand_over, name="hand-over"),
    path("handover/all/", handover.handovers, name="handovers"),
    path("handover/<int:number>/", handover.handover, name="handover"),
    path("upkeep/forced/", overrides.overrides_list, name="overrides"),
    path("upkeep/forced/at/<str:code>/", overrides.override_new, name="override-new"),
    path(_FORCED, overrides.override, name="override"),
    path(f"{_FORCED}approve/", overrides.override_approve, name="override-approve"),
    path(f"{_FORCED}refuse/", overrides.override_refuse, name="override-refuse"),
    path(f"{_FORCED}on/", overrides.override_on, name="override-on"),
    path(f"{_FORCED}extend/", overrides.override_extend, name="override-extend"),
    path("upkeep/forced/extensions/<int:pk>/grant/", overrides.extension_grant, name="extension-grant"),
    path("upkeep/forced/extensions/<int:pk>/refuse/", overrides.extension_refuse, name="extension-refuse"),
    path(f"{_FORCED}look/", overrides.override_look, name="override-look"),
    path(f"{_FORCED}take-over/", overrides.override_take_over, name="override-take-over"),
    path(f"{_FORCED}off/", overrides.override_off, name="override-off"),
    path(f"{_FORCED}works/", overrides.override_restored, name="override-restored"),
    path(f"{_FORCED}not-yet/", overrides.override_not_restored, name="override-not-restored"),
]
