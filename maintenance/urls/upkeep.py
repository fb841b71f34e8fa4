"""Pages of upkeep."""

from __future__ import annotations

from django.urls import URLPattern, path

from maintenance.views import due, handover, orders, overrides, performances, reliability, routines

_ORDER = "upkeep/orders/<int:number>/"
_FORCED = "upkeep/forced/<int:number>/"

urlpatterns: list[URLPattern] = [
    path("upkeep/", due.due, name="due"),
    path("upkeep/due.csv", due.due_csv, name="due-csv"),
    path("upkeep/routines/", routines.routines, name="routines"),
    path("upkeep/routines/new/", routines.routine_new, name="routine-new"),
    path("upkeep/routines/<int:pk>/", routines.routine, name="routine"),
    path("upkeep/routines/<int:pk>/interval/", routines.term_new, name="term-new"),
    path("upkeep/routines/<int:pk>/retire/", routines.routine_retire, name="routine-retire"),
    path("upkeep/due/<int:pk>/record/", performances.performance_new, name="performance-new"),
    path("upkeep/records/<int:pk>/correct/", performances.performance_correct, name="performance-correct"),
    path("upkeep/failures/<str:code>/", reliability.reliability, name="reliability"),
    path("upkeep/orders/", orders.orders_list, name="orders"),
    path("upkeep/orders/new/", orders.order_new, name="order-new"),
    path(_ORDER, orders.order, name="order"),
    path(f"{_ORDER}plan/", orders.order_plan, name="order-plan"),
    path(f"{_ORDER}start/", orders.order_start, name="order-start"),
    path(f"{_ORDER}wait/", orders.order_wait, name="order-wait"),
    path(f"{_ORDER}resume/", orders.order_resume, name="order-resume"),
    path(f"{_ORDER}finish/", orders.order_finish, name="order-finish"),
    path(f"{_ORDER}accept/", orders.order_accept, name="order-accept"),
    path(f"{_ORDER}send-back/", orders.order_send_back, name="order-send-back"),
    path(f"{_ORDER}withdraw/", orders.order_withdraw, name="order-withdraw"),
    path(f"{_ORDER}steps/new/", orders.step_new, name="order-step-new"),
    path(f"{_ORDER}steps/<int:step>/done/", orders.step_done, name="order-step-done"),
    path("handover/", handover.hand_over, name="hand-over"),
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
