"""Pages of work orders, spare parts and templates."""

from __future__ import annotations

from django.urls import URLPattern, path

from maintenance.views import order_records as records
from maintenance.views import order_templates as templates
from maintenance.views import orders, orders_list, orders_raise, parts

_ORDER = "upkeep/orders/<int:number>/"
_PART = "upkeep/parts/<int:pk>/"
_TEMPLATE = "upkeep/templates/<int:pk>/"

urlpatterns: list[URLPattern] = [
    path("upkeep/orders/", orders_list.orders_list, name="orders"),
    path("upkeep/orders.csv", orders_list.orders_csv, name="orders-csv"),
    path("upkeep/orders.xlsx", orders_list.orders_xlsx, name="orders-xlsx"),
    path("upkeep/orders/new/", orders_raise.order_new, name="order-new"),
    path("upkeep/orders/ask/", orders_raise.order_ask, name="order-ask"),
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
    path(f"{_ORDER}time/", records.order_labour, name="order-labour"),
    path(f"{_ORDER}time/<int:pk>/", records.order_labour_correct, name="order-labour-correct"),
    path(f"{_ORDER}parts/", records.order_part, name="order-part"),
    path(f"{_ORDER}costs/", records.order_cost, name="order-cost"),
    path(f"{_ORDER}costs/<int:pk>/", records.order_cost_correct, name="order-cost-correct"),
    path(f"{_ORDER}failure/", records.order_failure, name="order-failure"),
    path(f"{_ORDER}checks/", records.order_checks_ask, name="order-checks"),
    path(f"{_ORDER}checks/<int:pk>/", records.order_check_end, name="order-check-end"),
    path(f"{_ORDER}files/", records.order_files_new, name="order-files"),
    path("upkeep/parts/", parts.parts, name="parts"),
    path("upkeep/parts.csv", parts.parts_csv, name="parts-csv"),
    path("upkeep/parts.xlsx", parts.parts_xlsx, name="parts-xlsx"),
    path("upkeep/parts/new/", parts.part_new, name="part-new"),
    path(_PART, parts.part, name="part"),
    path(f"{_PART}change/", parts.part_change, name="part-change"),
    path(f"{_PART}received/", parts.part_receive, name="part-receive"),
    path(f"{_PART}counted/", parts.part_count, name="part-count"),
    path(f"{_PART}scrapped/", parts.part_scrap, name="part-scrap"),
    path(f"{_PART}retire/", parts.part_retire, name="part-retire"),
    path("upkeep/templates/", templates.order_templates, name="order-templates"),
    path("upkeep/templates/new/", templates.order_template_new, name="order-template-new"),
    path(_TEMPLATE, templates.order_template, name="order-template"),
    path(f"{_TEMPLATE}change/", templates.order_template_change, name="order-template-change"),
    path(f"{_TEMPLATE}retire/", templates.order_template_retire, name="order-template-retire"),
    path(f"{_TEMPLATE}steps/", templates.order_template_step, name="order-template-step"),
    path(f"{_TEMPLATE}steps/<int:line>/", templates.order_template_step_end, name="order-template-step-end"),
    path(f"{_TEMPLATE}parts/", templates.order_template_part, name="order-template-part"),
    path(f"{_TEMPLATE}parts/<int:line>/", templates.order_template_part_end, name="order-template-part-end"),
]
