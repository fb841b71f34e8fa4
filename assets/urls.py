"""Addresses of the plant, its people and signing in."""

from __future__ import annotations

from django.urls import path

from assets.views import assets, files, fittings, people, plant, register, signing_in, site, site_rules

app_name = "assets"
urlpatterns = [
    path("sign-in/", signing_in.sign_in, name="sign-in"),
    path("sign-out/", signing_in.sign_out, name="sign-out"),
    path("me/", signing_in.me, name="me"),
    # /plant/
    path("plant/", plant.plant, name="plant"),
    path("plant/labels/", site.labels, name="labels"),
    path("plant/import/", register.take_in, name="import"),
    path("plant/export.csv", register.export, name="export"),
    path("plant/export.xlsx", register.export_xlsx, name="export-xlsx"),
    path("plant/areas/new/", plant.area_new, name="area-new"),
    path("plant/areas/<int:pk>/edit/", plant.area_edit, name="area-edit"),
    path("plant/areas/<int:pk>/retire/", plant.area_retire, name="area-retire"),
    path("plant/tags/new/", plant.position_new, name="position-new"),
    path("plant/tags/<int:pk>/edit/", plant.position_edit, name="position-edit"),
    path("plant/tags/<int:pk>/retire/", plant.position_retire, name="position-retire"),
    path("plant/tags/<int:pk>/fit/", fittings.fit, name="fit"),
    path("plant/tags/<int:pk>/uses/new/", fittings.use_new, name="use-new"),
    path("plant/tags/<int:pk>/limits/new/", fittings.limit_new, name="limit-new"),
    path("plant/tags/<int:pk>/readings/new/", fittings.reading_new, name="reading-new"),
    path("plant/uses/<int:pk>/end/", fittings.use_end, name="use-end"),
    path("plant/limits/<int:pk>/end/", fittings.limit_end, name="limit-end"),
    path("plant/readings/<int:pk>/correct/", fittings.reading_correct, name="reading-correct"),
    # What a printed code holds: capitals only.
    path("T/<str:code>", site.label, name="label"),
    # /assets/
    path("assets/", assets.assets, name="assets"),
    path("assets/new/", assets.asset_new, name="asset-new"),
    path("assets/<int:pk>/", assets.asset, name="asset"),
    path("assets/<int:pk>/edit/", assets.asset_edit, name="asset-edit"),
    path("assets/<int:pk>/retire/", assets.asset_retire, name="asset-retire"),
    # /people/
    path("people/", people.people, name="people"),
    path("people/new/", people.person_new, name="person-new"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/edit/", people.person_edit, name="person-edit"),
    path("people/<int:pk>/role/", people.role_change, name="role-change"),
    path("people/<int:pk>/password/", people.person_password, name="person-password"),
    path("people/<int:pk>/pin/clear/", people.person_pin_clear, name="person-pin-clear"),
    path("people/<int:pk>/retire/", people.person_retire, name="person-retire"),
    path("people/<int:pk>/qualifications/new/", people.qualification_new, name="qualification-new"),
    path("people/qualifications/<int:pk>/end/", people.qualification_end, name="qualification-end"),
    path("people/companies/new/", people.company_new, name="company-new"),
    path("people/companies/<int:pk>/edit/", people.company_edit, name="company-edit"),
    path("site/", site.site_edit, name="site-edit"),
    path("site/rules/", site_rules.rules, name="rules"),
    path("site/rules/<slug:name>/", site_rules.rule_set, name="rule-set"),
    path("site/holidays/new/", site_rules.holiday_new, name="holiday-new"),
    path("site/holidays/<int:pk>/withdraw/", site_rules.holiday_withdraw, name="holiday-withdraw"),
    path("plant/running/", site_rules.running, name="running"),
    path("plant/running/start/", site_rules.running_start, name="running-start"),
    path("plant/running/<int:pk>/stop/", site_rules.running_stop, name="running-stop"),
    path("plant/running/<int:pk>/withdraw/", site_rules.running_withdraw, name="running-withdraw"),
    path("files/<int:pk>/", files.file, name="file"),
    path("files/<int:pk>/shown/", files.shown, name="file-shown"),
    path("history/<str:kind>/<str:pk>/", site.history, name="history"),
]
